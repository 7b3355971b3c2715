"""Where plates are begun to be laid: round the bone and along it, or where the case says."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions
from trajplan.errors import CaseError
from trajplan.planner._plate_wish import unit
from trajplan.plate import Pose, Shape, fracture_under, lay, signed_gap, starts_round

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3
    from trajplan.planner._plate_wish import PlateWish, Work
    from trajplan.planner._setup import Setup
    from trajplan.plate import Bed, Laid

__all__ = ["fracture_middle", "laid_plates", "off_place", "one_of", "plate_middle", "shaft_ends"]

#: Places that are laid finely, for each number of holes.
BEST = 12
#: Degrees between neighbouring sides of the bone, within half a turn and all round.
STEPS = (15.0, 30.0)
#: Degrees inside the cone of the open side that the outermost plates are begun at: their screws
#: are to lie in it too.
INSIDE = 5.0
#: Places along the bone, in spacings of holes from the one that fits the fracture.
SLIDES = (-1.0, -0.5, 0.0, 0.5, 1.0)
#: mm that a plate which holds a split end up may slide from the place that fits the fracture line.
NEAR_LINE = 1.0
#: mm between the places where a fracture line is looked for on the bone, and how many to a side.
LOOK, LOOKS = 3.0, 40
#: mm by which a plate may slide from a place that the case gives, and degrees by which it is tried
#: turned: points of a line tell its direction no better.
GIVEN_SLIDE, GIVEN_TURNS = 0.3, np.arange(-4.0, 5.0)
#: mm off the given place by which plates count as near to it as one another.
ALIKE = 0.5
#: Degrees that a plate moved to the fracture line may turn.
LINE_TURN = 2.0


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


def plate_middle(setup: Setup, wish: PlateWish) -> Vec3:
    """Point under the middle of a plate: the case's, else the middle of the fracture.

    Parameters
    ----------
    setup : Setup
        The case.
    wish : PlateWish
        The plate.

    Returns
    -------
    (3,) float array, mm
    """
    return fracture_middle(setup) if wish.near is None else wish.near


def laid_plates(setup: Setup, wish: PlateWish, work: Work, bed: Bed, holes: int) -> Laid:
    """Lay a plate of one number of holes in many places.

    Parameters
    ----------
    setup, wish, work, bed
        As for `places_of`.
    holes : int
        Its holes.

    Returns
    -------
    Laid

    Raises
    ------
    CaseError
        If no bone lies where the plate is to lie.
    """
    if wish.placed:
        return _given(wish, bed, holes)
    step = STEPS[0] if wish.cone <= 90.0 else STEPS[1]
    cone = wish.cone if wish.cone >= 180.0 else max(wish.cone - INSIDE, 0.0)
    side = _any_side(wish.along) if wish.side is None else wish.side
    middle, slide = plate_middle(setup, wish), wish.plate.spacing / 4.0
    start = starts_round(
        bed, middle + wish.plate.spacing * np.array(SLIDES)[:, None] * wish.along,
        wish.along, side, cone=cone, step=step,
    )  # fmt: skip
    if work == "buttress" and wish.near is None:
        start = _by_the_line(setup, wish, bed, start, holes)
        first = _laid_by_sides(wish, bed, holes, start, NEAR_LINE)
        again = _moved_to_the_line(setup, wish, first)
        return lay(bed, wish.plate, holes, again, slide=NEAR_LINE, turn=LINE_TURN, best=BEST)
    return _laid_by_sides(wish, bed, holes, start, slide)


def _laid_by_sides(wish: PlateWish, bed: Bed, holes: int, start: Pose, slide: float) -> Laid:
    """Lay plates so that the best of every side of the bone comes before the second of any."""
    _, group = np.unique(np.round(start.frame[:, 2], 3), axis=0, return_inverse=True)
    return lay(bed, wish.plate, holes, start, slide=slide, best=BEST, group=group.ravel())


def _moved_to_the_line(setup: Setup, wish: PlateWish, laid: Laid) -> Pose:
    """Plates as they lie, each moved along itself until its hole is where it should be.

    Bending to the bone, and turning on it, take a hole off the place that it was begun at.
    """
    points, frames = (
        a[:, laid.strip.middle].copy() for a in (laid.shape.points, laid.shape.frames)
    )
    shaft = _shaft_end(setup, wish.along)
    for row in range(len(laid)):
        under = fracture_under(laid, row, setup.around.zones)
        under = np.take_along_axis(under, np.abs(under).argmin(axis=1)[:, None], axis=1)[:, 0]
        mine = under[np.sign(under) == -shaft]
        if len(mine) and np.isfinite(mine).any():
            points[row] += (mine[np.abs(mine).argmin()] + shaft * _wanted(setup, wish)) * frames[
                row, 0
            ]
    return Pose(points, frames)


def _wanted(setup: Setup, wish: PlateWish) -> float:
    """From the middle of the nearest hole to the fracture line, as it should be, mm."""
    limits = setup.limits
    return (limits.plate_hole_least + limits.plate_hole_most + wish.plate.hole.thread[-1]) / 2.0


def _by_the_line(setup: Setup, wish: PlateWish, bed: Bed, start: Pose, holes: int) -> Pose:
    """Places where a hole on the shaft's side lies next to the fracture line, as it should.

    At least half of the holes lie on the shaft, and one at the least over the fragment.
    """
    plate, along, wide = wish.plate, wish.along, _wanted(setup, wish)
    shaft = _shaft_end(setup, along)
    places = plate.places(holes) - plate.length(holes) / 2.0
    half = (holes + 1) // 2
    number = np.arange(half, max(holes - 1, half + 1))
    hole = places[number - 1] if shaft < 0 else places[holes - number]
    middle = fracture_middle(setup)
    found = []
    for out in np.unique(start.frame[:, 2], axis=0):
        line = _line_under(setup, bed, along, out, shaft)
        if np.isfinite(line):
            at = middle + (line + shaft * wide - hole)[:, None] * along
            found.append(starts_round(bed, at, along, out, cone=0.0))
    if not found:
        return start
    return Pose(*(np.concatenate([getattr(one, name) for one in found])
                  for name in ("point", "frame")))  # fmt: skip


def _line_under(setup: Setup, bed: Bed, along: Vec3, out: Vec3, shaft: int) -> float:
    """Where the fracture line runs along a side of the bone, mm from the fracture's middle.

    NaN where the surface there lies on one side of the fracture; of several the one nearest to
    the shaft, for there the fragment ends.
    """
    zone = max(setup.around.zones, key=lambda z: z.area)
    middle = fracture_middle(setup)
    at = middle + LOOK * np.arange(-LOOKS, LOOKS + 1)[:, None] * along
    surface = starts_round(bed, at, along, out, cone=0.0).point
    place = (surface - middle) @ along
    height = (surface - np.asarray(zone.plane.point)) @ np.asarray(zone.plane.normal)
    turns = np.flatnonzero(height[:-1] * height[1:] < 0.0)
    if not len(turns):
        return np.nan
    share = height[turns] / (height[turns] - height[turns + 1])
    lines = place[turns] + share * (place[turns + 1] - place[turns])
    return float(lines.max() if shaft > 0 else lines.min())


def shaft_ends(setup: Setup, wish: PlateWish, laid: Laid) -> Ints:
    """On which side of the fracture the shaft lies under plates, whichever way they are drawn.

    Parameters
    ----------
    setup : Setup
        The case.
    wish : PlateWish
        The plate.
    laid : Laid
        ``m`` plates.

    Returns
    -------
    (m,) int array
        -1: towards their first ends; 1: towards their last. It is the bone that tells, and not
        the holes: most of them may lie over the fragment.
    """
    ways = laid.shape.frames[:, laid.strip.middle, 0] @ wish.along
    ends: Ints = np.where(ways < 0.0, -1, 1) * _shaft_end(setup, wish.along)
    return ends


def _shaft_end(setup: Setup, along: Vec3) -> int:
    """On which side of the fracture more of the bone lies, along a plate: -1 or 1.

    Of two sides alike it is the same one for a plate drawn the other way.
    """
    surface = setup.bone.surface
    reach: Floats = (surface.vertices[surface.used()] - fracture_middle(setup)) @ along
    more = float(reach.max() + reach.min()) or float(along[np.abs(along).argmax()])
    return 1 if more > 0.0 else -1


def _any_side(along: Vec3) -> Vec3:
    out = np.zeros(3)
    out[np.abs(along).argmin()] = 1.0
    return out


def _given(wish: PlateWish, bed: Bed, holes: int) -> Laid:
    """The plate nearest to the place that the case gives, of some begun there and turned a little.

    It is the place that decides, not the fit: a plate free to turn would leave it for a better
    one. Of plates as near to it the one is taken whose holes stand off the bone least.
    """
    before, middle, after = _on_line(wish, wish.plate.spacing * np.array([-1.0, 0.0, 1.0]))
    along = unit(after - before)  # there: a plate that is bent and twisted leaves its chord
    gap, gradient = signed_gap(bed, middle[None])
    if abs(gap[0]) > FARTHEST:
        raise CaseError(
            f"the middle of the plate's line lies {abs(gap[0]):.0f} mm off the bone",
            remedy="check that its frame and unit are those of the bone",
            where="plate",
        )
    out = gradient[0] if wish.side is None else wish.side
    out = unit(out - (out @ along) * along)
    turn = np.radians(GIVEN_TURNS)[:, None]
    ways = np.cos(turn) * along + np.sin(turn) * np.cross(out, along)
    frames = np.stack([ways, np.cross(out, ways), np.broadcast_to(out, ways.shape)], axis=1)
    drawn = _line_bends(wish, bed, holes)
    bends = np.stack([0.0 * drawn, drawn * [[1.0], [0.0]], drawn])  # as the line turns, or straight
    count = len(bends) * len(ways)
    start = Pose(np.repeat(middle[None], count, axis=0), np.tile(frames, (len(bends), 1, 1)))
    bends = np.repeat(bends, len(ways), axis=0)
    laid = lay(bed, wish.plate, holes, start, slide=GIVEN_SLIDE, turn=0.5, best=count, bends=bends)
    off = off_place(wish, laid)
    near = off <= off.min() + ALIKE
    gap = np.nan_to_num(laid.hole_gap, nan=FARTHEST).max(axis=1)
    return one_of(laid, int(np.where(near, gap, np.inf).argmin()))


def _on_line(wish: PlateWish, at: Floats) -> Floats:
    """Points of the line that the case gives, mm along it from its middle, (n,) to (n, 3).

    Past its ends it goes on as far as the plate, and turns there as it did before.
    """
    points = wish.given
    way = as_directions(np.diff(points, axis=0))
    way = way[[0, min(1, len(way) - 1), max(len(way) - 2, 0), -1]]
    turned = 2.0 * np.einsum("ki,ki->k", way[[0, 3]], way[[1, 2]])[:, None] * way[[0, 3]]
    reach = wish.plate.length(wish.holes[-1]) * (turned - way[[1, 2]])
    points = np.concatenate([points[:1] - reach[:1], points, points[-1:] + reach[1:]])
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    lengths = np.r_[0.0, np.cumsum(step)] - step[0] - step[1:-1].sum() / 2.0
    found: Floats = np.stack([np.interp(at, lengths, points[:, i]) for i in range(3)], axis=1)
    return found


def _line_bends(wish: PlateWish, bed: Bed, holes: int) -> Floats:
    """Bend and twist from hole to hole of a plate along the given line, (2, holes - 1) degrees.

    How the line turns tells the bend, and how the bone below it turns tells the twist.
    """
    plate = wish.plate
    places = plate.places(holes) - plate.length(holes) / 2.0
    rim = plate.hole.thread[-1] / 2.0
    way = as_directions(_on_line(wish, places + rim) - _on_line(wish, places - rim))
    _, out = signed_gap(bed, _on_line(wish, places))
    out = as_directions(out - np.einsum("hi,hi->h", out, way)[:, None] * way)
    mean = as_directions(out[:-1] + out[1:])
    bend = -np.arcsin(np.clip(np.einsum("hi,hi->h", way[1:] - way[:-1], mean), -1.0, 1.0))
    turned = np.einsum("hi,hi->h", np.cross(out[:-1], out[1:]), as_directions(way[:-1] + way[1:]))
    twist = np.arcsin(np.clip(turned, -1.0, 1.0))
    bends: Floats = np.degrees(np.stack([bend, twist]))
    return bends


def off_place(wish: PlateWish, laid: Laid) -> Floats:
    """How far plates lie off the place that the case gives.

    Parameters
    ----------
    wish : PlateWish
        The plate.
    laid : Laid
        ``m`` plates.

    Returns
    -------
    (m,) float array, mm
        The farthest of the points given from each.
    """
    mine = laid.shape.points if wish.line is not None else laid.centres
    apart = np.linalg.norm(wish.given[:, None] - mine[:, None], axis=3)
    farthest: Floats = apart.min(axis=2).max(axis=1)
    return farthest


#: mm off the bone past which a plate's line cannot be meant (assumption: on soft tissue).
FARTHEST = 20.0


def one_of(laid: Laid, row: int) -> Laid:
    """One plate of several.

    Parameters
    ----------
    laid : Laid
        Plates.
    row : int
        The plate.

    Returns
    -------
    Laid
        Of one.
    """
    part = slice(row, row + 1)
    return replace(
        laid,
        start=laid.start[part],
        shape=Shape(laid.shape.points[part], laid.shape.frames[part]),
        flatwise=laid.flatwise[part],
        twist=laid.twist[part],
        gap=laid.gap[part],
        cost=laid.cost[part],
    )
