"""A ``[[plate]]`` of a catalogue file: typed, and refused where it cannot be one plate."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

from trajplan.implants._plate import HoleForm, Plate, PlateHole, PlateMaterial
from trajplan.implants._rows import Row

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.implants._types import Provenance

__all__ = ["read_plate"]

#: Keys of the row itself, of its material and of its hole.
PLATE_KEYS = (
    "kind", "thickness", "width", "spacing", "middle", "end", "back", "holes", "bend_most",
    "material", "hole", "sources",
)  # fmt: skip
MATERIAL_KEYS = ("modulus", "yield")
HOLE_KEYS = (
    "form", "thread", "tilt_along", "tilt_across", "shift", "travel", "neutral", "slope", "seat",
)  # fmt: skip
#: MPa; stiffer than any metal.
STIFFEST = 1e6
#: Degrees; past it a screw runs along the plate, and a wall no longer slopes.
STEEPEST = 89.0


def read_plate(row: Row, named: Mapping[str, Provenance]) -> Plate:
    """Read a plate.

    Parameters
    ----------
    row : Row
        A ``[[plate]]`` table.
    named : mapping of str to Provenance
        Sources that the file gives a name.

    Returns
    -------
    Plate

    Raises
    ------
    CatalogueError
        If a key is missing, unknown or wrong, or the parts cannot be one plate.
    """
    row.check_keys(PLATE_KEYS)
    material, hole = row.part("material"), row.part("hole")
    material.check_keys(MATERIAL_KEYS)
    hole.check_keys(HOLE_KEYS)
    flat = {key: row.table[key] for key in row.table if key not in ("material", "hole")}
    plate = Plate(
        kind="".join(row.text("kind").split()),
        thickness=row.length("thickness"),
        width=row.length("width"),
        spacing=row.length("spacing"),
        middle=row.length_if_given("middle"),
        end=row.length("end"),
        back=row.length_if_given("back"),
        holes=row.counts("holes", 2),
        bend_most=row.number_if_given("bend_most", STEEPEST, "degrees"),
        material=PlateMaterial(
            modulus=material.number("modulus", STIFFEST, "MPa"),
            yield_strength=material.number_if_given("yield", STIFFEST, "MPa"),
        ),
        hole=_hole(hole),
        sources=Row(row.file, row.label, {**flat, **material.table, **hole.table}).sources(named),
    )
    _check_sizes(plate, row)
    return plate


def _hole(row: Row) -> PlateHole:
    return PlateHole(
        form=row.word("form", get_args(HoleForm)),
        thread=row.lengths("thread"),
        tilt_along=row.number_if_given("tilt_along", STEEPEST, "degrees"),
        tilt_across=row.number_if_given("tilt_across", STEEPEST, "degrees"),
        shift=row.length_if_given("shift"),
        travel=row.length_if_given("travel"),
        neutral=row.length_if_given("neutral"),
        slope=row.number_if_given("slope", STEEPEST, "degrees"),
        seat=row.length_if_given("seat"),
    )


def _check_sizes(plate: Plate, row: Row) -> None:
    """Refuse parts that cannot be one plate."""
    widest = plate.hole.thread[-1]
    for key, value, what in (
        ("width", plate.width, "the plate is no wider than"),
        ("spacing", plate.spacing, "holes no further apart run into one another with"),
    ):
        if value <= widest:
            row.refuse(key, f"{value:g}: {what} the thread {widest:g} in its holes", "check both")
    if plate.middle is not None and plate.middle < plate.spacing:
        row.refuse(
            "middle",
            f"{plate.middle:g} is below the spacing {plate.spacing:g}",
            "leave it out if the holes lie evenly",
        )
    if plate.end <= widest / 2.0:
        row.refuse("end", f"{plate.end:g} is no more than half the thread {widest:g}", "check both")
    if plate.back is not None and 2.0 * plate.back < plate.width:
        row.refuse(
            "back",
            f"a radius of {plate.back:g} is less than half the width {plate.width:g}",
            "check both",
        )
    idle = {"sloped": (), "long": ("shift", "slope"), "round": ("shift", "slope", "travel")}
    for key in idle[plate.hole.form]:
        if plate.value(key) is not None:
            row.refuse(
                key, f"a {plate.hole.form} hole moves no plate", 'leave it out, or write "sloped"'
            )
