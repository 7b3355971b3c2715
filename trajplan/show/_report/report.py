"""The report: one page that opens in any browser, offline, and prints.

Everything that comes from a case (titles, names, file names) is text to the page: Jinja
escapes it, and the page's own policy allows no script but the one that ships with trajplan,
and no request to anywhere.
"""

from __future__ import annotations

import base64
import hashlib
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trajplan.cautions import CAUTIONS
from trajplan.errors import OutputError, install
from trajplan.files import worst_word, write_bytes_atomic, write_text_atomic
from trajplan.show._drill.sheet import drill_sheet
from trajplan.show._items.palette import COLOURS, KEY
from trajplan.show._items.plate import every_finding, solid_of
from trajplan.show._items.pressure import with_pressure
from trajplan.show._picture.plan_scene import plan_scene
from trajplan.show._report.card import amount, gauge_of, screw_groups, wire_rows
from trajplan.show._report.front import front_of
from trajplan.show._report.gaps import GapKey, gap_picture
from trajplan.show._report.lying import lying_paths, lying_pictures
from trajplan.show._report.pictures import report_pictures
from trajplan.show._report.plate import plate_cards
from trajplan.show._report.plate_pressure import press_picture_of
from trajplan.show._report.pressure import judged_lags, pressing_of, pressure_key
from trajplan.show._report.sections import plate_drawing, section_drawings
from trajplan.show._report.tables import (
    force_rows,
    implants,
    instruments,
    judged,
)
from trajplan.show._report.turntable import turntable_model
from trajplan.show._terminal.reduction import DISPLACED, KEY_OF_DISPLACED, displaced_rows
from trajplan.show._words.places import place_text, side_text
from trajplan.show._words.trust import trust_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Literal

    from trajplan.files import PlanFile
    from trajplan.planner import Setup
    from trajplan.show._items.item import Item

__all__ = ["report_html", "write_report", "write_report_pdf"]

TEMPLATES = Path(__file__).parent / "templates"


def report_html(setup: Setup, plan: PlanFile) -> str:
    """Write the report of a plan as one HTML page that needs no other file.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.

    Returns
    -------
    str
        The same for the same plan.

    Raises
    ------
    CatalogueError
        If the catalogue lacks a kind that the plan names.
    """
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"amount": amount, "gauge": gauge_of}
    script, style = (_text(name) for name in ("turntable.js", "report.css"))
    style = style.replace("CAUTIONS", " ".join(CAUTIONS))  # at the foot of each page of paper
    page = environment.get_template("report.html.j2")
    return page.render(
        script=script,
        style=style,
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        **_content(setup, plan),
    )


def write_report(html: str, path: Path) -> None:
    """Write a report, whole or not at all.

    Parameters
    ----------
    html : str
        As from `report_html`.
    path : Path
        The file; its folder must exist.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    write_text_atomic(path, html)


def need_pdf(path: Path | None) -> None:
    """Refuse to print a PDF where what prints it is missing.

    Parameters
    ----------
    path : Path or None
        The file; None: none is wanted.

    Raises
    ------
    OutputError
        If WeasyPrint cannot be loaded.
    """
    if path is None:
        return
    try:
        import_module("weasyprint")
    except (ImportError, OSError) as error:  # OSError: a library that it needs is not installed
        raise OutputError(
            f"PDF needs WeasyPrint, which cannot be loaded ({str(error).splitlines()[0]})",
            remedy=f"{install('pdf')}, and Pango with it; or print the HTML page from a browser",
            file=path,
        ) from None


def write_report_pdf(html: str, path: Path, paper: Literal["A4", "letter"] = "A4") -> None:
    """Print a report into a PDF file; a still picture stands for the one that turns.

    Parameters
    ----------
    html : str
        As from `report_html`.
    path : Path
        The file; its folder must exist.
    paper : {"A4", "letter"}
        Size of the pages.

    Raises
    ------
    OutputError
        If WeasyPrint cannot be loaded, or the file cannot be written.
    """
    need_pdf(path)
    import weasyprint
    from weasyprint.urls import URLFetcher

    size = weasyprint.CSS(string=f"@page {{ size: {paper} }}")
    only_itself = URLFetcher(allowed_protocols=("data",))
    document = weasyprint.HTML(string=html, url_fetcher=only_itself)
    content = document.write_pdf(stylesheets=[size])
    write_bytes_atomic(path, content)


def _text(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")


def _content(setup: Setup, plan: PlanFile) -> dict[str, Any]:
    """Everything that the page shows, in words and pictures."""
    items = plan_scene(setup, plan)
    pictures = report_pictures(setup, items, plan)
    judged_plan = judged_lags(setup, plan)
    pressed = with_pressure(items, setup, pressing_of(judged_plan))
    paths = lying_paths(setup)
    places = {place.id: place_text(place, plan.bearings) for place in plan.places}
    every, solids = every_finding(plan), [solid_of(plate) for plate in plan.plates]
    return {
        "plan": plan,
        "title": plan.title or plan.case.name,
        "side": side_text(plan),
        "front": front_of(plan, places),
        "anchors": {s.id: f"screw-{n}" for n, s in enumerate(plan.screws, start=1)},
        "cautions": tuple(dict.fromkeys((*CAUTIONS, *plan.cautions))),
        "told": judged(f for f in every if f.verdict != "pass"),
        "passed": sum(f.verdict == "pass" for f in every),
        "total": len(every),
        "of_plan": judged(plan.findings),
        "screws": [
            {
                "record": record,
                "size": record.size,
                "place": places.get(record.id, ""),
                "worst": worst_word(record.findings),
                "groups": screw_groups(record),
                "drawings": section_drawings(setup, record, number, solids),
                "pictures": pictures.own.get(record.id, ()),
                "findings": judged(record.findings),
            }
            for number, record in enumerate(plan.screws, start=1)
        ],
        "wires": [
            {
                "record": wire,
                "place": places.get(wire.id, ""),
                "rows": wire_rows(wire),
                "findings": judged(wire.findings),
            }
            for wire in plan.wires
        ],
        "plates": [
            {
                "card": card,
                "drawing": plate_drawing(setup, plan, card.record, number),
                "pictures": pictures.own.get(card.record.id, ()),
                "press": press_picture_of(setup, card.record, judged_plan),
                "findings": judged(
                    (*card.record.findings, *(f for s in card.record.screws for f in s.findings))
                ),
            }
            for number, card in enumerate(plate_cards(plan), start=1)
        ],
        "pictures": pictures,
        "model": turntable_model(pressed, plan, paths),
        "lying": lying_pictures(items, paths, plan),
        "gap": gap_picture(items) if paths else None,
        "gap_key": GapKey.made() if paths else None,
        "displaced": list(displaced_rows(plan.reduction.fragments)) if plan.reduction else [],
        "trust": trust_words(plan.findings, trusted=plan.reduction.trusted)
        if plan.reduction
        else "",
        "displaced_words": list(DISPLACED),
        "displaced_key": KEY_OF_DISPLACED,
        "pressure": pressure_key(pressed),
        "key": _key(items),
        "forces": force_rows(plan),
        "sheet": drill_sheet(plan, setup.catalogue),
        "implants": implants(plan, setup.catalogue),
        "instruments": instruments(plan),
        "changed": [limit for limit in plan.limits if limit.changed],
    }


def _key(items: Sequence[Item]) -> list[tuple[str, str]]:
    """Colours that are drawn, and what they mean; fragments of a bone under their own names."""
    present = {item.role for item in items}
    key = [(COLOURS[role], KEY[role]) for role in KEY if role in present]
    bones = [(item.colour, item.name) for item in items if item.role == "bone"]
    return bones + [line for line in key if line[1] != KEY["bone"]] if len(bones) > 1 else key
