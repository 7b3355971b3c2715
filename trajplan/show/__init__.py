"""Drawing: a list of items first, then a window or a picture of it; and text tables.

pyvista is imported only when something is drawn.
"""

from trajplan.show._item import Item
from trajplan.show._json import fracture_json, plain
from trajplan.show._palette import Role
from trajplan.show._panel import findings_text
from trajplan.show._plan_scene import plan_scene
from trajplan.show._scene import scene
from trajplan.show._text import (
    audit_text,
    caution_text,
    fracture_text,
    plan_text,
    screw_sources_text,
    screws_text,
)
from trajplan.show._viewer import need_display, save_shot, show_window

__all__ = [
    "Item",
    "Role",
    "audit_text",
    "caution_text",
    "findings_text",
    "fracture_json",
    "fracture_text",
    "need_display",
    "plain",
    "plan_scene",
    "plan_text",
    "save_shot",
    "scene",
    "screw_sources_text",
    "screws_text",
    "show_window",
]
