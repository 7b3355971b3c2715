"""Places where a plate could lie, and the screws that could stand in its holes there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Verdict, screw_rulings
from trajplan.errors import CaseError
from trajplan.plate import (
    Pose,
    bed_of,
    fracture_under,
    lay,
    plate_screws,
    signed_gap,
    starts_round,
    tilted,
)
from trajplan.trajectory import Joint

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.checks import Ruling
    from trajplan.implants import Screw
    from trajplan.planner._plate_wish import PlateWish, Work
    from trajplan.planner._setup import Setup
    from trajplan.plate import Bed, Laid, PlateScrews

__all__ = [
    "PLATE_RULES",
    "Places",
    "bed_for",
    "fracture_middle",
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
#: Places that are laid finely, for each number of holes.
BEST = 12
#: Degrees between neighbouring sides of the bone, within half a turn and all round.
STEPS = (15.0, 30.0)
#: Degrees inside the cone of the open side that the outermost plates are begun at: their screws
#: are to lie in it too.
INSIDE = 5.0
#: Places along the bone, in spacings of holes from the one that fits the fracture.
SLIDES = (-1.0, -0.5, 0.0, 0.5, 1.0)
#: The same for a plate that holds a split end up: it lies mostly on the shaft.
FAR_SLIDES = tuple(0.5 * step for step in range(-8, 9))
#: Tilts in a hole along the plate that are tried, degrees; the least that will do is taken.
TILTS = (0.0, 8.0, -8.0, 16.0, -16.0, 24.0, -24.0)
#: mm by which a plate is laid anew on the bone from a place that the case gives, and degrees.
GIVEN_SLIDE, GIVEN_TURN = 1.0, 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Plates of one number of holes as they could lie, and what could stand in their holes.

    Choices of a hole come in the order in which they are preferred.
    """

    laid: Laid  # m plates
    along: Floats  # (m, h) mm along the plate to the nearest part of the fracture, signed
    side: Ints  # (m, h) -1: before the fracture, 1: past it, 0: over it
    screws: PlateScrews  # (m * h * c,)
    good: Bools  # (m, h, c) fails no rule, in its cone, and crosses no fracture
    tilt: Floats  # (c,) degrees along the plate of each choice
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
    middle = wish.given.mean(axis=0) if wish.placed else _middle(setup, wish)
    longest = wish.plate.length(wish.holes[-1])
    widest = float(np.min(setup.bone.audit.high - setup.bone.audit.low))
    return bed_of(setup.bone, middle, 0.75 * longest + widest + 2.0 * wish.plate.spacing)


def fracture_middle(setup: Setup) -> Vec3:
    """Middle of the fracture, zones weighted by their area.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    (3,) float array, mm
    """
    zones = setup.around.zones
    area = np.array([zone.area for zone in zones])
    middle: Vec3 = area @ np.array([zone.plane.point for zone in zones]) / area.sum()
    return middle


def _middle(setup: Setup, wish: PlateWish) -> Vec3:
    return fracture_middle(setup) if wish.near is None else wish.near


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
    return tuple(_places(setup, wish, _laid(setup, wish, work, bed, n)) for n in wish.holes)


def _laid(setup: Setup, wish: PlateWish, work: Work, bed: Bed, holes: int) -> Laid:
    if wish.placed:
        start = _given(wish, bed)
        return lay(bed, wish.plate, holes, start, slide=GIVEN_SLIDE, turn=GIVEN_TURN)
    middle = _middle(setup, wish)
    steps = FAR_SLIDES if work == "buttress" else SLIDES
    at = middle + wish.plate.spacing * np.array(steps)[:, None] * wish.along
    step = STEPS[0] if wish.cone <= 90.0 else STEPS[1]
    cone = wish.cone if wish.cone >= 180.0 else max(wish.cone - INSIDE, 0.0)
    side = _any_side(wish.along) if wish.side is None else wish.side
    start = starts_round(bed, at, wish.along, side, cone=cone, step=step)
    _, group = np.unique(np.round(start.frame[:, 2], 3), axis=0, return_inverse=True)
    return lay(
        bed,
        wish.plate,
        holes,
        start,
        slide=wish.plate.spacing / 4.0,
        best=BEST,
        group=group.ravel(),
    )


def _any_side(along: Vec3) -> Vec3:
    out = np.zeros(3)
    out[np.abs(along).argmin()] = 1.0
    return out


def _given(wish: PlateWish, bed: Bed) -> Pose:
    """The place that the case gives: its middle, its direction, and out of the bone there."""
    points = wish.given
    lengths = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
    middle = np.array([np.interp(lengths[-1] / 2.0, lengths, points[:, i]) for i in range(3)])
    gap, gradient = signed_gap(bed, middle[None])
    if abs(gap[0]) > FARTHEST:
        raise CaseError(
            f"the middle of the plate's line lies {abs(gap[0]):.0f} mm off the bone",
            remedy="check that its frame and unit are those of the bone",
            where="plate",
        )
    out = gradient[0] if wish.side is None else wish.side
    out = out - (out @ wish.along) * wish.along
    out = out / np.linalg.norm(out)
    frame = np.stack([wish.along, np.cross(out, wish.along), out])
    return Pose(middle[None], frame[None])


#: mm off the bone past which a plate's line cannot be meant (assumption: on soft tissue).
FARTHEST = 20.0


def _places(setup: Setup, wish: PlateWish, laid: Laid) -> Places:
    m, h = len(laid), laid.holes
    zones = setup.around.zones
    under = np.stack([fracture_under(laid, row, zones) for row in range(m)])  # (m, h, z)
    rim = wish.plate.hole.thread[-1] / 2.0
    low, high = (under >= rim).all(axis=2), (under <= -rim).all(axis=2)
    side = np.where(low & ~high, -1, np.where(high & ~low, 1, 0))
    nearest = np.abs(under).argmin(axis=2)
    along = np.take_along_axis(under, nearest[:, :, None], axis=2)[:, :, 0]
    limit = wish.plate.hole.tilt_along
    tilt = [t for t in TILTS if t == 0.0 or (limit is not None and abs(t) <= limit)]
    count = len(wish.screws) * len(tilt)
    shape = (m, h, count)
    row, hole = (a.ravel() for a in np.indices(shape)[:2])
    screws = [screw for screw in wish.screws for _ in tilt] * (m * h)
    direction = tilted(laid, row, hole, np.tile(tilt, m * h * len(wish.screws)), np.zeros(len(row)))
    found = run_screws(setup, laid, row, screws, hole, direction)
    rulings = plate_rulings(setup, wish, found, measure=False)
    failed = np.zeros(len(row), dtype=np.bool_)
    why = np.full(len(row), "", dtype=object)
    for ruling in rulings:
        fails = ruling.verdict == Verdict.FAIL
        why[fails & ~failed] = ruling.rule
        failed |= fails
    why[found.crosses & ~failed] = "crosses_fracture"
    good = ~failed & ~found.crosses & ~(found.cone > 1.0 + 1e-9) & np.isfinite(found.tip)
    return Places(
        laid=laid,
        along=along,
        side=side,
        screws=found,
        good=good.reshape(shape),
        tilt=np.tile(tilt, len(wish.screws)),
        why=tuple(why.reshape(shape)[:, :, 0].ravel()),
    )


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
