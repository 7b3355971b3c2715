"""Drawing: a list of items first, then a window or a picture of it; sections, text, exports.

pyvista and matplotlib are imported only when something is drawn.
"""

from trajplan.show._adjust.events import show_adjusting
from trajplan.show._adjust.session import Adjusting
from trajplan.show._bending.sheet import BendingSheet, BendStep, Bridge, PlateBends, bending_sheet
from trajplan.show._bending.template import template_bytes, write_templates
from trajplan.show._bending.text import bending_sheet_text
from trajplan.show._drill.draft import Figure, not_reduced
from trajplan.show._drill.sheet import DrillSheet, ScrewSteps, Step, drill_sheet
from trajplan.show._drill.text import drill_sheet_text
from trajplan.show._exports.documents import export_sections, need_place, write_exports
from trajplan.show._exports.export import (
    MESH_FORMS,
    axes_table,
    export_drills,
    export_plates,
    export_scene,
    export_screws,
)
from trajplan.show._items.item import Item
from trajplan.show._items.palette import Role
from trajplan.show._items.scene import scene
from trajplan.show._picture.model import save_model_shot
from trajplan.show._picture.panel import findings_text
from trajplan.show._picture.plan_scene import plan_scene, save_plan_shot
from trajplan.show._picture.shot import save_shot
from trajplan.show._reduction.picture import save_reduction_shot
from trajplan.show._reduction.probe import GapProbe, gap_map
from trajplan.show._report.report import need_pdf, report_html, write_report, write_report_pdf
from trajplan.show._sections.dims import Dimension
from trajplan.show._sections.draw import draw_section
from trajplan.show._sections.section import Section, sections
from trajplan.show._terminal.catalogue import catalogue_text, implant_sources_text
from trajplan.show._terminal.inputs import audit_text, bodies_text, fracture_text
from trajplan.show._terminal.json import fracture_json, plain
from trajplan.show._terminal.model import model_text
from trajplan.show._terminal.pages import help_text, help_topics
from trajplan.show._terminal.reduction import reduction_text
from trajplan.show._terminal.study import plot_study, study_text, write_study
from trajplan.show._terminal.table import table
from trajplan.show._terminal.text import caution_text, check_text, fits_text, plan_text
from trajplan.show._terminal.volumes import volume_json, volume_text
from trajplan.show._terminal.why import why_lines
from trajplan.show._window.session import Session
from trajplan.show._window.viewer import need_display, save_edited, show_window, viewer

__all__ = [
    "MESH_FORMS",
    "Adjusting",
    "BendStep",
    "BendingSheet",
    "Bridge",
    "Dimension",
    "DrillSheet",
    "Figure",
    "GapProbe",
    "Item",
    "PlateBends",
    "Role",
    "ScrewSteps",
    "Section",
    "Session",
    "Step",
    "audit_text",
    "axes_table",
    "bending_sheet",
    "bending_sheet_text",
    "bodies_text",
    "catalogue_text",
    "caution_text",
    "check_text",
    "draw_section",
    "drill_sheet",
    "drill_sheet_text",
    "export_drills",
    "export_plates",
    "export_scene",
    "export_screws",
    "export_sections",
    "findings_text",
    "fits_text",
    "fracture_json",
    "fracture_text",
    "gap_map",
    "help_text",
    "help_topics",
    "implant_sources_text",
    "model_text",
    "need_display",
    "need_pdf",
    "need_place",
    "not_reduced",
    "plain",
    "plan_scene",
    "plan_text",
    "plot_study",
    "reduction_text",
    "report_html",
    "save_edited",
    "save_model_shot",
    "save_plan_shot",
    "save_reduction_shot",
    "save_shot",
    "scene",
    "sections",
    "show_adjusting",
    "show_window",
    "study_text",
    "table",
    "template_bytes",
    "viewer",
    "volume_json",
    "volume_text",
    "why_lines",
    "write_exports",
    "write_report",
    "write_report_pdf",
    "write_study",
    "write_templates",
]
