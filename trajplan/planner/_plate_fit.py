"""The best place of a plate beside a set of lag screws: what each hole gets there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import BODY_CLEAR, END_REACH, HANGS, cylinders, pair_gap
from trajplan.planner._plate_enough import both_walls, enough
from trajplan.plate import reach_past

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks import Cylinders
    from trajplan.planner._plate_places import Places
    from trajplan.planner._plate_wish import PlateWish, Work
    from trajplan.planner._setup import Setup
    from trajplan.plate import Laid, Use
    from trajplan.trajectory import Trajectories

__all__ = ["Beside", "Found", "apex_distance", "beside", "best_found", "body_gap", "found_in"]

#: Worth of what makes one place better than another (choices of the planner, no standard).
FAIL_COST, CAUTION_COST, GAP_COST, TILT_COST = 10.0, 0.3, 0.3, 0.05
#: mm that a hole with no bone below counts as standing off.
NO_BONE = 10.0
FIT_WEIGHT, SIDE_WEIGHT, EVEN_WEIGHT, SLIDE_WEIGHT = 0.5, 0.4, 0.2, 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """How plates in several places get on with lag screws."""

    gap: Floats  # (m, h, c, l) mm between every choice of a hole and every lag screw; inf: clear
    body: Floats  # (m, l) mm between the plate itself and what stands out of bone of each
    next: Floats  # (m, h - 1, c, c) mm between choices of a hole and of the next


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """One place of a plate, filled beside some lag screws."""

    places: Places
    row: int
    choice: Ints  # (h,) of the hole's choices; -1: empty
    uses: tuple[Use, ...]
    first_low: bool  # whether the fragment at the plate's first end is fixed first
    lag: dict[int, int]  # hole -> row of the lag screw through it
    worth: float
    fails: tuple[tuple[str, float], ...]  # rule that it fails, and by how much
    spare: tuple[int, ...]  # holes that could be filled and need not

    @property
    def options(self) -> Ints:
        """Rows of the places' screws that stand in the filled holes, in the order of holes."""
        _, h, c = self.places.shape
        hole = np.flatnonzero(self.choice >= 0)
        rows: Ints = (self.row * h + hole) * c + self.choice[hole]
        return rows

    @property
    def sides(self) -> tuple[int, int]:
        """Screws of its own through both walls before the fracture, and past it."""
        rows = self.options
        both = self.places.screws.screws.bicortical[rows]
        side = self.places.side[self.row][self.choice >= 0]
        return int((both & (side < 0)).sum()), int((both & (side > 0)).sum())


def beside(places: Places, lag: Trajectories, keep: float) -> Beside:
    """Measure the screws and the body of plates against lag screws.

    Parameters
    ----------
    places : Places
        Plates.
    lag : Trajectories
        ``l`` lag screws.
    keep : float, mm
        Screws that surely keep so far apart are not measured.

    Returns
    -------
    Beside
    """
    m, h, c = places.shape
    n, count = m * h * c, len(lag)
    mine, theirs = cylinders(places.screws.screws), cylinders(lag)
    parts = tuple(
        tuple(np.concatenate([a, b]) for a, b in zip(one, other, strict=True))
        for one, other in zip(mine, theirs, strict=True)
    )
    meet = _could_meet(mine, theirs, keep) & places.good.reshape(-1, 1)
    gap = np.full((n, count), np.inf)
    first, second = np.nonzero(meet)
    if len(first):
        gap[meet] = pair_gap(parts, first, n + second)  # type: ignore[arg-type]
    return Beside(gap.reshape(m, h, c, count), body_gap(places.laid, lag), _next(places, mine))


def _could_meet(mine: Cylinders, theirs: Cylinders, keep: float) -> Bools:
    """Whether the balls round each two screws come nearer than that; unknown places could."""
    (middle, reach), (other, far) = (
        ((shaft[1] + head[0]) / 2.0,
         np.linalg.norm(shaft[1] - head[0], axis=1) / 2.0 + np.maximum(shaft[2], head[2]))
        for shaft, head in (mine, theirs)
    )  # fmt: skip
    apart = np.linalg.norm(middle[:, None] - other, axis=2)
    meet: Bools = ~(apart - reach[:, None] - far >= keep)
    return meet


def _next(places: Places, parts: Cylinders) -> Floats:
    """Gap between every choice of a hole and every choice of the next, (m, h - 1, c, c)."""
    m, h, c = places.shape
    row = np.arange(m * h * c).reshape(m, h, c)
    first = np.broadcast_to(row[:, :-1, :, None], (m, h - 1, c, c)).ravel()
    second = np.broadcast_to(row[:, 1:, None, :], (m, h - 1, c, c)).ravel()
    return pair_gap(parts, first, second).reshape(m, h - 1, c, c)


def body_gap(laid: Laid, lag: Trajectories) -> Floats:
    """Gap between each plate's body and what of each screw stands out of the bone.

    Parameters
    ----------
    laid : Laid
        ``m`` plates.
    lag : Trajectories
        ``l`` screws.

    Returns
    -------
    (m, l) float array, mm
        Screws are looked at in the frame of the nearest node of the plate; head and tip are
        taken for balls round their ends, as wide as they are.
    """
    seat, top, tip = _outside(lag)
    plate = laid.plate
    worst = np.full((len(laid), len(lag)), np.inf)
    radius = np.where(lag.washered, lag.washer_diameter, lag.dims.head) / 2.0
    for points, wide in ((seat, radius), (top, lag.dims.head / 2.0), (tip, lag.dims.thread / 2.0)):
        for row in range(len(laid)):
            nodes, frames = laid.shape.points[row], laid.shape.frames[row]
            apart = np.linalg.norm(points[:, None] - nodes, axis=2)
            near = np.where(np.isnan(apart), np.inf, apart).argmin(axis=1)
            local = np.einsum("lij,lj->li", frames[near], points - nodes[near])
            along = np.where((near == 0) | (near == len(nodes) - 1), np.abs(local[:, 0]), 0.0)
            across = np.maximum(np.abs(local[:, 1]) - plate.width / 2.0, 0.0)
            up = np.maximum(np.maximum(-local[:, 2], local[:, 2] - plate.thickness), 0.0)
            off = np.sqrt(along**2 + across**2 + up**2) - wide
            worst[row] = np.fmin(worst[row], off)
    return worst


def _outside(lag: Trajectories) -> tuple[Floats, Floats, Floats]:
    axes = lag.corridors.axes
    seat = lag.seats.seat
    return axes.at(seat), axes.at(seat - lag.dims.head_height), axes.at(lag.tip)


def found_in(
    setup: Setup,
    wish: PlateWish,
    work: Work,
    places: Places,
    near: Beside,
    rows: Sequence[int],
    lag_at: dict[int, tuple[int, int]],
    first_low: Bools,
) -> list[Found]:
    """Fill every place beside a set of lag screws.

    Parameters
    ----------
    setup, wish, work
        The case, its plate and what that is to do.
    places : Places
        Plates.
    near : Beside
        Of those and all lag screws.
    rows : sequence of int
        The lag screws of the set.
    lag_at : dict of int to (int, int)
        Place and hole that a lag screw of the set goes through, of those that do.
    first_low : (m,) bool array
        Whether the fragment at each plate's first end is fixed first.

    Returns
    -------
    list of Found
        One for each place; a place that a lag screw through another does not go with is left
        out.
    """
    through = {row: lag_at[row] for row in rows if row in lag_at}
    only = {place for place, _ in through.values()}
    if len(only) > 1:
        return []
    which = sorted(only) if only else range(len(places.laid))
    return [
        _filled(setup, wish, work, places, near, list(rows), row,
                {through[r][1]: r for r in through}, bool(first_low[row]))
        for row in which
    ]  # fmt: skip


def _filled(
    setup: Setup,
    wish: PlateWish,
    work: Work,
    places: Places,
    near: Beside,
    rows: list[int],
    row: int,
    lag: dict[int, int],
    first_low: bool,
) -> Found:
    keep = setup.limits.screw_gap
    clear = (near.gap[row][:, :, rows] >= keep).all(axis=2)  # NaN, an unknown place: False
    free = places.good[row] & (clear if rows else True)
    side = places.side[row]
    free[[*lag]] = False
    free[side == 0] = False
    push = _pushing(wish, places, row, free, first_low) if work == "compress" else []
    pushes = np.isin(np.arange(len(side)), push)
    free &= places.pushes == pushes[:, None]
    every = _apart(free, places.told[row], near.next[row] >= keep)
    choice = enough(setup, wish, places, row, every, push)
    uses = _uses(choice, push, lag)
    fails = _fails(wish, work, places, row, choice, uses)
    outside = [r for r in rows if r not in lag.values()]
    body = float(near.body[row, outside].min()) if outside else np.inf
    if body < BODY_CLEAR:
        fails.append(("plate_meets_screw", BODY_CLEAR - body))
    worth = _worth(setup, wish, work, places, row, choice, lag) - FAIL_COST * len(fails)
    spare = tuple(np.flatnonzero((every >= 0) & (choice < 0)).tolist())
    return Found(places, row, choice, uses, first_low, lag, worth, tuple(fails), spare)


def _pushing(wish: PlateWish, places: Places, row: int, free: Bools, first_low: bool) -> list[int]:
    """Holes whose screws push the plate: nearest to the fracture, in the fragment that is second.

    They stand straight: 10 degrees of tilt pressed less (p < 0.001: Rev Bras Ortop, load-screw
    inclination study, abstract).
    """
    side, along = places.side[row], np.abs(places.along[row])
    could = (side == (1 if first_low else -1)) & (free & places.pushes).any(axis=1)
    other = np.flatnonzero(could)
    holes: list[int] = other[np.argsort(along[other], kind="stable")][: wish.eccentric].tolist()
    return holes


def _apart(free: Bools, told: Bools, clear: Bools) -> Ints:
    """The first choice of every hole that keeps clear of what stands in the hole before it.

    One of which the surface tells where it runs comes before one of which it does not.
    """
    choice = np.full(len(free), -1)
    for hole, some in enumerate(free):
        before = choice[hole - 1] if hole else -1
        good = some if before < 0 else some & clear[hole - 1, before]
        if good.any():
            known = good & told[hole]
            choice[hole] = (known if known.any() else good).argmax()
    return choice


def _uses(choice: Ints, push: Sequence[int], lag: dict[int, int]) -> tuple[Use, ...]:
    """What each hole does."""
    uses: list[Use] = ["empty" if one < 0 else "neutral" for one in choice.tolist()]
    for hole in push:
        if choice[hole] >= 0:
            uses[hole] = "eccentric"
    for hole in lag:
        uses[hole] = "lag"
    return tuple(uses)


def _fails(
    wish: PlateWish, work: Work, places: Places, row: int, choice: Ints, uses: Sequence[Use]
) -> list[tuple[str, float]]:
    """Rules that a place fails, before any is told in words."""
    side, both = places.side[row], both_walls(places, row, choice)
    laid = places.laid
    # the fragment itself is held by what pushes it
    held = (int(places.shaft[row]),) if work == "buttress" else (-1, 1)
    fewest = min(int((both & (side == s)).sum()) for s in held)
    found: list[tuple[str, float]] = []
    if work == "compress" and "eccentric" not in uses:
        found.append(("eccentric_screws", 1.0))
    short = wish.least - fewest
    if short > 0:
        found.append(("screws_each_side", float(short)))
    if work == "buttress":
        past = reach_past(laid.strip, side, places.along[row], places.shaft[row])
        if not past >= END_REACH:
            found.append(("buttress_reach", END_REACH - past))
    beside_bone = float(laid.beside[row])
    if beside_bone > HANGS / 100.0:
        found.append(("plate_on_bone", beside_bone - HANGS / 100.0))
    return found


def _worth(
    setup: Setup,
    wish: PlateWish,
    work: Work,
    places: Places,
    row: int,
    choice: Ints,
    lag: dict[int, int],
) -> float:
    """What a place is worth, the more the better; about 0 to 1 for a good one."""
    laid, side, filled = places.laid, places.side[row], choice >= 0
    gaps = np.nan_to_num(laid.hole_gap[row][filled], nan=NO_BONE)
    worth = FIT_WEIGHT * float(laid.share_within(1.0)[row])
    worth -= GAP_COST * float(np.clip(gaps - setup.limits.plate_fit, 0.0, None).sum())
    rows = (row * len(side) + np.flatnonzero(filled)) * len(places.pushes) + choice[filled]
    worth -= CAUTION_COST * int((~places.told.ravel()[rows]).sum())
    worth -= TILT_COST * float(np.nansum(places.screws.cone[rows]))
    bare = (side == 0) & ~filled
    bare[[*lag]] = False
    worth -= CAUTION_COST * int(bare.sum())
    if wish.side is not None:
        out = laid.shape.frames[row, laid.strip.middle, 2]
        flat = wish.side - (wish.side @ wish.along) * wish.along
        turn = np.degrees(np.arccos(np.clip(out @ flat / np.linalg.norm(flat), -1.0, 1.0)))
        worth -= SIDE_WEIGHT * float(turn) / max(wish.cone, 1.0)
    counts = [int((filled & (side == s)).sum()) for s in (-1, 1)]
    if work == "buttress":
        return worth + _apex_worth(setup, places, row)
    worth += EVEN_WEIGHT * min(counts) / max(*counts, 1)
    slid = float(np.abs(places.along[row].mean())) / wish.plate.spacing
    return worth - SLIDE_WEIGHT * slid


def _apex_worth(setup: Setup, places: Places, row: int) -> float:
    """Less, the further the nearest hole lies from where it should, and the shorter it reaches."""
    rim = apex_distance(places, row)
    low, high = setup.limits.plate_hole_least, setup.limits.plate_hole_most
    past = reach_past(places.laid.strip, places.side[row], places.along[row], places.shaft[row])
    short = max(1.0 - past / places.laid.plate.spacing, 0.0)
    return -SLIDE_WEIGHT * max(low - rim, rim - high, 0.0) - CAUTION_COST * short


def apex_distance(places: Places, row: int) -> float:
    """From the rim of the nearest hole on the shaft's side to the fracture line, mm.

    Parameters
    ----------
    places : Places
        Plates.
    row : int
        The plate.

    Returns
    -------
    float
        Infinite where no hole lies on that side.
    """
    side = places.side[row]
    near = np.abs(places.along[row][side == places.shaft[row]])
    return float(near.min(initial=np.inf)) - places.laid.plate.hole.thread[-1] / 2.0


def best_found(found: Sequence[Found]) -> Found | None:
    """The best place of several.

    Parameters
    ----------
    found : sequence of Found
        Places.

    Returns
    -------
    Found or None
        None where there is none.
    """
    return max(found, key=lambda one: one.worth, default=None)
