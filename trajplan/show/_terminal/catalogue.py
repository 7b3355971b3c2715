"""The catalogue of implants, as text for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.implants import Plate
from trajplan.show._terminal.table import table

if TYPE_CHECKING:
    from trajplan.implants import Catalogue, Screw

__all__ = ["catalogue_text", "implant_sources_text"]


def catalogue_text(catalogue: Catalogue) -> str:
    """The catalogue for a person at a terminal.

    Parameters
    ----------
    catalogue : Catalogue
        Screws, washers, wires and plates.

    Returns
    -------
    str
    """
    washers = ", ".join(f"{w.id} ({w.outer_diameter:g})" for w in catalogue.washers.values())
    wires = ", ".join(f"{w.kind}" for w in catalogue.wires.values())
    return (
        f"{_screws(catalogue)}\n\nWashers (outer diameter): {washers}\nWires: {wires}\n\n"
        f"{_plates(catalogue)}\n\n"
        "All in mm, angles in degrees. '?': no source names it. `trajplan screws KIND` tells where "
        "each value of a screw or a plate comes from."
    )


def _cell(value: float | None, absent: str = "?") -> str:
    return absent if value is None else f"{value:g}"


def _screws(catalogue: Catalogue) -> str:
    head = (
        "screw",
        "thread",
        "bone",
        "d",
        "core",
        "pitch",
        "head",
        "thread hole",
        "gliding hole",
        "shank hole",
        "partial thread",
        "lengths",
    )
    rows = [
        (
            s.kind,
            s.thread,
            s.bone,
            _cell(s.thread_diameter),
            _cell(s.core_diameter),
            _cell(s.pitch),
            _cell(s.head_diameter),
            _cell(s.thread_hole),
            _cell(s.gliding_hole),
            _cell(s.shank_hole),
            " ".join(f"{v:g}" for v in s.thread_lengths) or "-",
            f"{s.lengths[0]:g} to {s.lengths[-1]:g}",
        )
        for s in catalogue.screws.values()
    ]
    return table(head, rows)


def _plates(catalogue: Catalogue) -> str:
    head = (
        "plate",
        "thickness",
        "width",
        "spacing",
        "middle",
        "underside",
        "holes",
        "form",
        "thread",
        "tilt along",
        "across",
        "shift",
        "slope",
    )
    rows = [
        (
            p.kind,
            _cell(p.thickness),
            _cell(p.width),
            _cell(p.spacing),
            _cell(p.middle, "-"),
            "flat" if p.back is None else f"hollow, radius {p.back:g}",
            f"{p.holes[0]} to {p.holes[-1]}",
            p.hole.form,
            " ".join(f"{v:g}" for v in p.hole.thread),
            _cell(p.hole.tilt_along),
            _cell(p.hole.tilt_across),
            _cell(p.hole.shift),
            _cell(p.hole.slope),
        )
        for p in catalogue.plates.values()
    ]
    return table(head, rows)


def implant_sources_text(implant: Screw | Plate) -> str:
    """One screw or plate with the source of every value.

    Parameters
    ----------
    implant : Screw or Plate
        A row of the catalogue.

    Returns
    -------
    str
    """
    rows = []
    for field, where in implant.sources.items():
        value = implant.value(field) if isinstance(implant, Plate) else getattr(implant, field)
        if isinstance(value, tuple):
            shown = " ".join(f"{v:g}" for v in value) or "-"
        else:
            shown = "?" if value is None else str(value)
        source = where.source + (f" ({where.note})" if where.note else "")
        rows.append((field, shown, where.status, source))
    return f"{implant.kind}, mm\n" + table(("field", "value", "status", "source"), rows)
