"""Places where a plate could lie, and the screws that could stand in its holes there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.checks import Verdict, screw_rulings
from trajplan.planner._plate_starts import laid_plates, plate_middle, shaft_ends
from trajplan.plate import (
    bed_of,
    drill_offsets,
    fracture_under,
    plate_screws,
    tilted,
)
from trajplan.trajectory import Joint

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.checks import Ruling
    from trajplan.implants import Screw
    from trajplan.planner._plate_wish import PlateWish, Work
    from trajplan.planner._setup import Setup
    from trajplan.plate import Bed, Laid, PlateScrews, Use

__all__ = [
    "PLATE_RULES",
    "Places",
    "bed_for",
    "places_of",
    "plate_rulings",
    "run_screws",
]

#: Rules that judge a screw of a plate; the others ask what it does for the fracture.
PLATE_RULES = (
    "meets_bone",
    "tip_past",
    "tip_short",
    "wall_breach",
    "leaves_bone",
    "exit_angle",
    "inside_known",
    "drills_named",
    "cortex_known",
    "approach",
    "drill_access",
    "joint_clearance",
    "avoid_clearance",
    "guide_way",
    "plunge",
)
#: Tilts in a hole along the plate that are tried, degrees; the least that will do is taken.
TILTS = (0.0, 8.0, -8.0, 16.0, -16.0, 24.0, -24.0)


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Plates of one number of holes as they could lie, and what could stand in their holes.

    Choices of a hole come in the order in which they are preferred.
    """

    laid: Laid  # m plates
    along: Floats  # (m, h) mm along the plate to the nearest part of the fracture, signed
    side: Ints  # (m, h) -1: before the fracture, 1: past it, 0: over it
    shaft: Ints  # (m,) side, -1 or 1, that the shaft lies on
    screws: PlateScrews  # (m * h * c,)
    offset: Floats  # (m * h * c,) mm along the plate off the middle of the hole
    good: Bools  # (m, h, c) fails no rule, in its cone, and crosses no fracture
    told: Bools  # (m, h, c) the surface tells where it runs
    pushes: Bools  # (c,) whether the choice is drilled to push the plate
    why: tuple[str, ...]  # (m * h) rule that turns the first choice away; empty: none does

    @property
    def shape(self) -> tuple[int, int, int]:
        """Places, holes and choices for each."""
        m, h, c = self.good.shape
        return m, h, c


def bed_for(setup: Setup, wish: PlateWish) -> Bed:
    """The bone's surface where a plate may lie.

    Parameters
    ----------
    setup : Setup
        The case.
    wish : PlateWish
        The plate.

    Returns
    -------
    Bed
    """
    middle = wish.given.mean(axis=0) if wish.placed else plate_middle(setup, wish)
    longest = wish.plate.length(wish.holes[-1])
    widest = float(np.min(setup.bone.audit.high - setup.bone.audit.low))
    return bed_of(setup.bone, middle, 0.75 * longest + widest + 2.0 * wish.plate.spacing)


def places_of(setup: Setup, wish: PlateWish, work: Work, bed: Bed) -> tuple[Places, ...]:
    """Lay a plate in many places, each number of holes by itself, and run screws through it.

    Parameters
    ----------
    setup : Setup
        The case.
    wish : PlateWish
        The plate.
    work : str
        What it is to do.
    bed : Bed
        The bone's surface there.

    Returns
    -------
    tuple of Places
        One for each number of holes.

    Raises
    ------
    CaseError
        If no bone lies where the plate is to lie.
    """
    return tuple(
        _places(setup, wish, work, laid_plates(setup, wish, work, bed, n)) for n in wish.holes
    )


def _places(setup: Setup, wish: PlateWish, work: Work, laid: Laid) -> Places:
    m, h = len(laid), laid.holes
    zones = setup.around.zones
    under = np.stack([fracture_under(laid, row, zones) for row in range(m)])  # (m, h, z)
    rim = wish.plate.hole.thread[-1] / 2.0
    low, high = (under >= rim).all(axis=2), (under <= -rim).all(axis=2)
    side = np.where(low & ~high, -1, np.where(high & ~low, 1, 0))
    nearest = np.abs(under).argmin(axis=2)
    along = np.take_along_axis(under, nearest[:, :, None], axis=2)[:, :, 0]
    choices = _choices(wish, work)
    shape = (m, h, len(choices))
    row, hole = (a.ravel() for a in np.indices(shape)[:2])
    screws = [one.screw for one in choices] * (m * h)
    tilt = np.tile([one.tilt for one in choices], m * h)
    uses = [one.use for one in choices] * (m * h)
    pressed = work == "compress"
    offset = (
        drill_offsets(uses, np.repeat(along.ravel(), len(choices))[:, None], wish.plate.hole)
        if pressed
        else np.zeros(len(row))
    )
    direction = tilted(laid, row, hole, tilt, np.zeros(len(row)))
    found = run_screws(setup, laid, row, screws, hole, direction, offset)
    rulings = plate_rulings(setup, wish, found, measure=False)
    failed = np.zeros(len(row), dtype=np.bool_)
    told = np.ones(len(row), dtype=np.bool_)
    why = np.full(len(row), "", dtype=object)
    for ruling in rulings:
        fails = ruling.verdict == Verdict.FAIL
        why[fails & ~failed] = ruling.rule
        failed |= fails
        if ruling.rule == "inside_known":
            told = ruling.verdict != Verdict.UNKNOWN
    why[found.crosses & ~failed] = "crosses_fracture"
    good = ~failed & ~found.crosses & ~(found.cone > 1.0 + 1e-9) & np.isfinite(found.tip)
    return Places(
        laid=laid,
        along=along,
        side=side,
        shaft=shaft_ends(setup, wish, laid),
        screws=found,
        offset=offset,
        good=good.reshape(shape),
        told=told.reshape(shape),
        pushes=np.array([one.use == "eccentric" for one in choices]),
        why=tuple(why.reshape(shape)[:, :, 0].ravel()),
    )


class _Choice(NamedTuple):
    """What could stand in a hole."""

    screw: Screw
    tilt: float  # degrees along the plate
    use: Use


def _choices(wish: PlateWish, work: Work) -> list[_Choice]:
    """What is tried in every hole, the preferred first; what pushes the plate stands straight."""
    limit = wish.plate.hole.tilt_along
    tilts = [t for t in TILTS if t == 0.0 or (limit is not None and abs(t) <= limit)]
    found = [_Choice(screw, tilt, "neutral") for screw in wish.screws for tilt in tilts]
    if work == "compress":
        found += [_Choice(screw, 0.0, "eccentric") for screw in wish.screws]
    return found


def run_screws(
    setup: Setup,
    laid: Laid,
    row: int | Ints,
    screws: Sequence[Screw],
    hole: Ints,
    direction: Vec3s,
    offset: Floats | None = None,
) -> PlateScrews:
    """Run screws of a plate through its holes, as the case wants screws to hold.

    Parameters
    ----------
    setup : Setup
        The case.
    laid, row, screws, hole, direction, offset
        As for `trajplan.plate.plate_screws`.

    Returns
    -------
    PlateScrews
    """
    hold = setup.case.screws.hold
    deep = np.array([screw.thread == "deep" for screw in screws], dtype=np.bool_)
    both = ~deep if hold == "by thread" else np.full(len(hole), hold == "bicortical")
    return plate_screws(
        setup.bone,
        laid,
        row,
        screws,
        hole,
        direction,
        setup.settings,
        setup.around.zones,
        offset,
        joints=[
            Joint(o.distance, o.clearance) for o in setup.around.obstacles if o.role == "joint"
        ],
        bicortical=both,
    )


def plate_rulings(
    setup: Setup, wish: PlateWish, screws: PlateScrews, *, measure: bool
) -> list[Ruling]:
    """Judge screws of a plate by the rules that any screw is judged by.

    Parameters
    ----------
    setup : Setup
        The case.
    wish : PlateWish
        The plate: where the case names its side, the bone is open there.
    screws : PlateScrews
        ``n`` screws.
    measure : bool
        Whether clearances are measured, or only decided.

    Returns
    -------
    list of Ruling
        Each with ``n`` rows.
    """
    sided = setup.around.approach is not None and not wish.own_side
    rules = [rule for rule in PLATE_RULES if rule != "approach" or sided]
    return screw_rulings(screws.screws, setup.limits, setup.around, measure=measure, only=rules)
