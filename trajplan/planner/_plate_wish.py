"""What a case asks of a plate, made ready for planning, and what it may not ask."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Literal, NoReturn, TypeAlias

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.checks import SCREWS_EACH_SIDE, screws_wanted
from trajplan.errors import CaseError
from trajplan.fracture import fracture_length
from trajplan.geometry import segment_segment_distance
from trajplan.implants import find_plate, find_screw, nearest
from trajplan.plate import check_screw
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.files import Case, PlateCase
    from trajplan.implants import Plate, Screw
    from trajplan.planner._setup import Setup

__all__ = ["PlateWish", "Work", "plate_wishes"]

Work: TypeAlias = Literal["compress", "protect", "buttress"]
#: Sine of the angle between a plate and its side below which no side can be meant.
ALONG = 0.2
#: Numbers of holes that are tried where the case names none: the fewest that may do, and two more.
TRIED = 3


@dataclass(frozen=True, slots=True, eq=False)
class PlateWish:
    """A plate that a case asks for; lengths in mm."""

    id: str  # "plate 1"
    plate: Plate
    screws: tuple[Screw, ...]  # that its holes take, the wanted ones first
    holes: tuple[int, ...]  # numbers to choose from, rising
    work: Work | None  # None: to be proposed
    along: Vec3  # (3,) unit, along the plate
    side: Vec3 | None  # (3,) unit, out of the bone; None: any side
    cone: float  # degrees about `along`
    own_side: bool  # the case names the side for this plate, not only screws.approach
    near: Vec3 | None  # (3,) under its middle; None: the fracture
    line: Vec3s | None  # (k, 3) points of its middle line that the case gives
    at: Vec3s | None  # (h, 3) middles of its holes that the case gives
    eccentric: int
    region: str | None
    least: int  # screws on each side
    growth_plate: str | None

    @property
    def placed(self) -> bool:
        """Whether the case says where it lies."""
        return self.line is not None or self.at is not None

    @property
    def given(self) -> Vec3s:
        """Points that the case gives, (k, 3) mm; none where it says no place."""
        if self.line is not None:
            return self.line
        return np.empty((0, 3)) if self.at is None else self.at


def plate_wishes(setup: Setup) -> tuple[PlateWish, ...]:
    """Make the plates of a case ready.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    tuple of PlateWish

    Raises
    ------
    InputError
        If a kind, a number of holes, a screw, a name or a direction cannot be meant.
    """
    wishes = tuple(
        _wish(setup, wanted, number) for number, wanted in enumerate(setup.case.plates, start=1)
    )
    for one, other in combinations([wish for wish in wishes if wish.placed], 2):
        wide = (one.plate.width + other.plate.width) / 2.0
        if _near(one.given, other.given) < wide:
            raise CaseError(
                f"{one.id} and {other.id} lie in one place",
                remedy=f"keep their middle lines {wide:g} mm apart, or leave one out",
                file=setup.case.file,
                where="plate",
            )
    return wishes


def _near(one: Vec3s, other: Vec3s) -> float:
    """Least distance of two lines of points, mm."""
    first, second = np.meshgrid(range(len(one) - 1), range(len(other) - 1))
    i, j = first.ravel(), second.ravel()
    return float(segment_segment_distance(one[i], one[i + 1], other[j], other[j + 1]).min())


def _refuse(case: Case, number: int, key: str, found: str, remedy: str) -> NoReturn:
    raise CaseError(found, remedy=remedy, file=case.file, where=f"plate {number}.{key}")


def _wish(setup: Setup, wanted: PlateCase, number: int) -> PlateWish:
    case, scale = setup.case, MM_PER_UNIT[setup.case.unit]
    plate = find_plate(setup.catalogue, wanted.kind)
    if wanted.region is not None and wanted.region not in SCREWS_EACH_SIDE:
        _refuse(
            case, number, "region", f'no number of screws is known for "{wanted.region}"',
            nearest(wanted.region, SCREWS_EACH_SIDE),
        )  # fmt: skip
    avoids = [it.name for it in case.avoids]
    if wanted.growth_plate is not None and wanted.growth_plate not in avoids:
        _refuse(
            case, number, "growth_plate", f'there is no avoid "{wanted.growth_plate}"',
            f"name one of the avoids of the case ({', '.join(avoids) or 'none'})",
        )  # fmt: skip
    if wanted.work == "compress" and plate.hole.form != "sloped":
        _refuse(
            case, number, "work",
            f"{plate.kind} has {plate.hole.form} holes, and they press no fracture",
            'name a plate with sloped holes, or "protect"',
        )  # fmt: skip
    if wanted.work == "compress" and plate.hole.shift is None:
        _refuse(
            case, number, "work",
            f"no source tells how far an eccentric screw moves {plate.kind}",
            'give hole.shift in a row of your own for it, or write "protect"',
        )  # fmt: skip
    if wanted.along is None and not wanted.placed and not setup.shaft.found:
        _refuse(
            case, number, "along", "the bone has no shaft that a plate could be laid along",
            "give the direction of the plate in along, or its place in line",
        )  # fmt: skip
    points = {
        key: None if given is None else scale * as_points(given)
        for key, given in (("line", wanted.line), ("at", wanted.at))
    }
    along = _along(setup, wanted, next((p for p in points.values() if p is not None), None))
    side, cone = _side(case, wanted)
    if side is not None and np.linalg.norm(np.cross(side, along)) < ALONG:
        key = "side" if wanted.side is not None else "along"
        _refuse(
            case, number, key, "the side of the plate runs along the plate itself",
            "give a direction out of the bone, across the plate",
        )  # fmt: skip
    least = screws_wanted(wanted.region, setup.limits).screws
    return PlateWish(
        id=f"plate {number}",
        plate=plate,
        screws=_screws(setup, wanted, plate),
        holes=_holes(setup, wanted, plate, number, along, least),
        work=wanted.work,
        along=along,
        side=side,
        cone=cone,
        own_side=wanted.side is not None,
        near=None if wanted.near is None else scale * np.array(wanted.near),
        line=points["line"],
        at=points["at"],
        eccentric=wanted.eccentric,
        region=wanted.region,
        least=least,
        growth_plate=wanted.growth_plate,
    )


def _along(setup: Setup, wanted: PlateCase, given: Vec3s | None) -> Vec3:
    if given is not None:
        return unit(given[-1] - given[0])
    return setup.shaft.direction if wanted.along is None else unit(wanted.along)


def _side(case: Case, wanted: PlateCase) -> tuple[Vec3 | None, float]:
    """Side that the plate is to lie on: its own, else that from which the bone is reached."""
    side = wanted.side or case.screws.approach
    if side is None:
        return None, 180.0
    return unit(side.direction), side.cone


def _screws(setup: Setup, wanted: PlateCase, plate: Plate) -> tuple[Screw, ...]:
    """Screws for its holes: those that the case names, else those of its that fit, else any."""
    named = wanted.screws
    if named is not None:
        chosen = tuple(find_screw(setup.catalogue, kind) for kind in named)
        for screw in chosen:
            check_screw(plate, screw)
        return chosen
    fits = [screw for screw in setup.catalogue.screws.values() if _fits(plate, screw)]
    mine = [screw for screw in setup.kinds if screw in fits and not screw.partial]
    full = [screw for screw in fits if not screw.partial and screw.thread == "shallow"]
    found = tuple(mine or full or fits)[:1]
    if not found:
        raise CaseError(
            f"no screw of the catalogue fits the holes of {plate.kind}",
            remedy="add a row for its screws to a catalogue of your own, or name another plate",
            file=setup.case.file,
            where="plate, screws",
        )
    return found


def _fits(plate: Plate, screw: Screw) -> bool:
    try:
        check_screw(plate, screw)
    except CaseError:
        return False
    return True


def _holes(
    setup: Setup, wanted: PlateCase, plate: Plate, number: int, along: Vec3, least: int
) -> tuple[int, ...]:
    case = setup.case
    asked = wanted.holes
    if wanted.at is not None:
        asked = (len(wanted.at),)
    elif asked is None and wanted.line is not None:
        length = _length(MM_PER_UNIT[case.unit] * as_points(wanted.line))
        asked = (min(plate.holes, key=lambda n: abs(plate.length(n) - length)),)
    for holes in asked or ():
        if holes not in plate.holes:
            _refuse(
                case, number, "holes",
                f"{plate.kind} comes with {', '.join(map(str, plate.holes))} holes, not {holes}",
                "name a number that the tray holds",
            )  # fmt: skip
    room = float(np.ptp(setup.bone.surface.vertices[setup.bone.surface.used()] @ along))
    fitting = [holes for holes in (asked or plate.holes) if plate.length(holes) <= room]
    if not fitting:
        shortest = min(asked or plate.holes)
        _refuse(
            case, number, "holes",
            f"{plate.kind} with {shortest} holes is {plate.length(shortest):.0f} mm long, and "
            f"the bone {room:.0f} mm along it",
            "name fewer holes, or a smaller plate",
        )  # fmt: skip
    if asked is not None:
        return tuple(fitting)
    length = fracture_length(setup.around.zones, setup.shaft).length
    over = 0 if np.isnan(length) else int(length // plate.spacing)  # holes over the fracture
    spans = [holes for holes in fitting if holes >= 2 * least + over] or fitting[-1:]
    return tuple(spans[:TRIED])


def unit(vector: ArrayLike) -> Vec3:
    """A vector of length 1 in the direction of another.

    Parameters
    ----------
    vector : (3,) array_like
        Any but zero.

    Returns
    -------
    (3,) float array
    """
    direction: Vec3 = as_directions(vector)[0]
    return direction


def _length(points: Vec3s) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
