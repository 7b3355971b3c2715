"""Section drawings as parts of an HTML page."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from trajplan.show._sections.draw import section_bytes
from trajplan.show._sections.plate import plate_section, plate_section_bytes
from trajplan.show._sections.section import sections

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.files import PlanFile, PlateRecord, ScrewRecord
    from trajplan.planner import Setup
    from trajplan.show._items.solids import Solid

__all__ = ["Drawing", "for_a_page", "plate_drawing", "section_drawings"]

#: What an SVG file has and a page must not: declarations, comments, metadata, and style rules
#: that would reach beyond the drawing.
NOT_IN_A_PAGE = re.compile(
    r"<\?xml.*?\?>|<!DOCTYPE.*?>|<!--.*?-->|<metadata>.*?</metadata>|<style.*?</style>", re.DOTALL
)
#: Where an SVG file names a part of itself.
NAMES = re.compile(r'(\bid="|href="#|url\(#)')
#: Digits of coordinates that no printer shows: 0.01 of a point is 0.004 mm. Scales of letters,
#: all below 10, keep theirs.
DUST = re.compile(r"(?<=\d\d\.\d\d)\d+")


@dataclass(frozen=True, slots=True)
class Drawing:
    """A section drawing."""

    name: str
    svg: Markup


def section_drawings(
    setup: Setup, record: ScrewRecord, number: int, plates: Sequence[Solid] = ()
) -> tuple[Drawing, ...]:
    """Draw the sections through a screw for a page that holds many drawings.

    Parameters
    ----------
    setup : Setup
        The case.
    record : ScrewRecord
        A screw of its plan.
    number : int
        Number of the screw; keeps the names inside its drawings apart from those of others.
    plates : sequence of Solid
        Plates of the plan.

    Returns
    -------
    tuple of Drawing
        Two; none where the axis misses the bone.
    """
    drawings = []
    for turn, section in enumerate(sections(setup, record, plates)):
        text = section_bytes(section, "svg", cautions=False).decode()
        svg = for_a_page(text, f"section-{number}-{turn}-")
        drawings.append(Drawing(f"{section.title}. {section.view}", svg))
    return tuple(drawings)


def plate_drawing(setup: Setup, plan: PlanFile, record: PlateRecord, number: int) -> Drawing:
    """Draw the section along a plate for a page that holds many drawings.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    record : PlateRecord
        A plate of it.
    number : int
        Number of the plate; keeps the names inside the drawing apart from those of others.

    Returns
    -------
    Drawing
    """
    section = plate_section(setup, plan, record)
    text = plate_section_bytes(section, "svg", cautions=False).decode()
    return Drawing(section.title, for_a_page(text, f"plate-section-{number}-"))


def for_a_page(text: str, prefix: str) -> Markup:
    """Trim a drawing that matplotlib wrote: all its words are outlines of letters by now.

    Parameters
    ----------
    text : str
        The SVG file.
    prefix : str
        Keeps the names inside it apart from those of other drawings.

    Returns
    -------
    Markup
    """
    inner = DUST.sub("", NOT_IN_A_PAGE.sub("", text))
    return Markup(NAMES.sub(rf"\g<1>{prefix}", inner).strip())  # noqa: S704 - no outside text in it
