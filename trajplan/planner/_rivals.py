"""Rival sets: choosing among different plans by what they hold, press and forgive."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner._choose import best_set
from trajplan.planner._options import best_of_kind
from trajplan.planner._pressing import friction_range, press
from trajplan.planner._score import CAUTION_COST
from trajplan.planner._strength import forces_of
from trajplan.tolerance import Hands, Scatter, forgiving, scatter_of_way

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.checks import Limits
    from trajplan.planner._setup import Setup
    from trajplan.planner._strength import ScrewForces
    from trajplan.trajectory import Trajectories

__all__ = ["choose", "hands_of", "kind_sets", "rival_sets", "scatter_of"]

#: Rival sets looked at, the best by geometry among them.
RIVALS = 8
#: Slip reserve, forgiven tilt (in standard deviations of the hand at the slant of each screw), and
#: holding strength over the force tightened to, past which more brings nothing more in the choice
#: (assumptions).
RESERVE_ENOUGH, SPREADS_ENOUGH, HOLD_ENOUGH = 3.0, 3.0, 2.0
#: Worth that a set loses for each screw whose head is expected to sink in, or thread to strip: more
#: than all merits together, so that it is chosen only where every rival has such a screw.
USELESS = 100.0
#: Numbers of two sets that lie nearer than this are the same to a surgeon, as a share.
EQUAL = 0.01
#: Degrees; a hand without error, as a case may state, forgives itself anything.
LEAST_SPREAD = 0.1
#: Steps of the coarse look at what rivals forgive.
COARSE_TILTS, COARSE_SHIFTS, COARSE_AROUND = np.array([2.0, 4.0, 6.0, 8.0]), np.array([1.0]), 8


def rival_sets(score: Floats, pair: Floats, place: Ints, count: int) -> list[Ints]:
    """Different good sets: the best, and the best without some places of the best.

    Parameters
    ----------
    score : (m,) float array
        Scores of the candidates.
    pair : (m, m) float array
        What each pair adds.
    place : (m,) int array
        Place on the fracture of each candidate.
    count : int
        Screws wanted; the largest size that exists is taken.

    Returns
    -------
    list of int arrays
        Rows; the best set first, none twice. Empty where nothing fits.
    """
    best = next(
        (s for size in range(count, 0, -1) if len(s := best_set(score, pair, size)[0])), None
    )
    if best is None:
        return []
    found = [best]
    blocks = [places for k in range(1, len(best) + 1) for places in combinations(place[best], k)]
    for places in blocks[: RIVALS - 1]:
        left = np.where(np.isin(place, places), -np.inf, score)
        other, _ = best_set(left, pair, len(best))
        if len(other) and not any(np.array_equal(other, known) for known in found):
            found.append(other)
    return found


def kind_sets(score: Floats, pair: Floats, screws: Trajectories, count: int) -> list[Ints]:
    """Best set of each kind alone, where there are several kinds.

    Parameters
    ----------
    score, pair : float arrays
        As for `rival_sets`.
    screws : Trajectories
        The candidates.
    count : int
        Screws wanted.

    Returns
    -------
    list of int arrays
        Rows; a kind of which no such set exists has none.
    """
    kinds = range(len(screws.dims.kinds)) if len(screws.dims.kinds) > 1 else ()
    sets = [best_of_kind(score, pair, screws, number, count) for number in kinds]
    return [rows for rows in sets if len(rows)]


def scatter_of(setup: Setup) -> Scatter:
    """How hands err, as the case says; where it says nothing, as its way of drilling does.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    Scatter
    """
    said = setup.case.placement
    drawn = Scatter(plunge=said.plunge, draws=said.draws, seed=said.seed)
    scatter = scatter_of_way(said.way, drawn)
    if said.entry is not None:
        scatter = replace(scatter, entry=said.entry)
    if said.direction is not None:
        scatter = replace(scatter, direction=said.direction, slant=0.0)
    return scatter


def hands_of(setup: Setup, screws: Trajectories) -> Hands:
    """Screws of a plan, ready to be put in a little off their line.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        The screws.

    Returns
    -------
    Hands
    """
    return Hands(screws, setup.around, setup.limits, setup.settings, setup.washers)


@dataclass(frozen=True, slots=True, eq=False)
class _Merit:
    """What a set is worth beyond its geometry, each 0 to 1."""

    contact: float
    slip: float
    holding: float
    forgiving: float
    columns: tuple[float, float, float, float]  # as a plan tells them: hold, squeeze, share, slip
    useless: int = 0  # screws that would fail by their forces
    doubtful: float = 0.0  # share of the screws that their forces would caution

    def loses(self, other: _Merit) -> bool:
        """Whether another set is better in everything that a plan tells; unknown: no."""
        return other.useless <= self.useless and all(
            theirs > own * (1.0 + EQUAL) or (theirs == own == np.inf)
            for own, theirs in zip(self.columns, other.columns, strict=True)
        )


def choose(
    setup: Setup,
    rivals: list[Ints],
    score: Floats,
    pair: Floats,
    screws: Trajectories,
    bonus: Sequence[float] = (),
) -> Ints:
    """Choose among rival sets by geometry, pressure, slip, hold and forgiveness.

    Parameters
    ----------
    setup : Setup
        The case, whose weights count.
    rivals : list of int arrays
        Sets of rows, as from `rival_sets`.
    score, pair : float arrays
        As for `rival_sets`.
    screws : Trajectories
        The screws of all rows.
    bonus : sequence of float, optional
        What plates add to each set, as from `bonus_of`.

    Returns
    -------
    (k,) int array
        The rows of the best; empty where there are no rivals. A set that another kind of screw
        beats in hold, squeeze, share and slip alike is not chosen, whatever its geometry.
    """
    if not rivals:
        return np.array([], dtype=np.int64)
    weights = setup.case.weights
    rows = np.unique(np.concatenate(rivals))
    some = screws.take(rows)
    forces = forces_of(setup, some)
    scatter = scatter_of(setup)
    tilt = forgiving(
        hands_of(setup, some),
        scatter,
        tilts=COARSE_TILTS,
        shifts=COARSE_SHIFTS,
        around=COARSE_AROUND,
    ).tilt / np.fmax(scatter.at(some.entry_angle), LEAST_SPREAD)
    placed = [np.searchsorted(rows, rival) for rival in rivals]
    merits = [_merit(setup, some.take(at), forces.take(at), tilt[at]) for at in placed]
    kinds = [frozenset(some.dims.kind[at].tolist()) for at in placed]
    worth = [
        -np.inf
        if any(
            len(rivals[b]) == len(rivals[a]) and kinds[a] != kinds[b] and merits[a].loses(merits[b])
            for b in range(len(rivals))
        )
        else weights.geometry * _geometry(score, pair, rivals[a])
        + weights.contact * merits[a].contact
        + weights.slip * merits[a].slip
        + weights.holding * merits[a].holding
        + weights.forgiving * merits[a].forgiving
        - USELESS * merits[a].useless
        + (bonus[a] if bonus else 0.0)
        - CAUTION_COST * merits[a].doubtful
        for a in range(len(rivals))
    ]
    return rivals[int(np.argmax(worth))]


def _geometry(score: Floats, pair: Floats, rows: Ints) -> float:
    """Mean score of a set and its mean pair, as the search adds them up for one screw."""
    first, second = np.triu_indices(len(rows), k=1)
    pairs = pair[rows[first], rows[second]]
    return float(score[rows].mean() + (pairs.mean() if len(pairs) else 0.0))


def _useless(limits: Limits, forces: ScrewForces) -> int:
    """Screws that would fail by their forces; what cannot be told fails nothing."""
    strips = forces.holding.estimate < limits.holding * forces.aimed.estimate
    return int((strips | (forces.bearing.use.estimate > 1.0)).sum())


def _doubtful(limits: Limits, forces: ScrewForces) -> float:
    """Share of the screws whose hold or head asks for a decision at the unfavourable end."""
    weak = forces.holding.low < limits.holding * forces.aimed.estimate
    return float((weak | (forces.bearing.use.high > 1.0)).mean())


def _merit(setup: Setup, screws: Trajectories, forces: ScrewForces, tilt: Floats) -> _Merit:
    """Merits of a set; what cannot be told is worth nothing to every rival alike."""
    found = press(screws, forces, setup.regions, friction_range(setup.limits))
    hold = float(np.min(forces.holding.low))
    shares = (
        found.share,
        found.reserve_low / RESERVE_ENOUGH,
        float(np.min(forces.holding.low / forces.aimed.estimate)) / HOLD_ENOUGH,
        float(tilt.min()) / SPREADS_ENOUGH,
    )
    contact, slip, holding, forgives = (
        float(np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0)) for share in shares
    )
    squeeze = float(forces.squeeze.estimate.sum())
    told = (hold, squeeze, found.share, found.reserve_low)
    useless, doubtful = _useless(setup.limits, forces), _doubtful(setup.limits, forces)
    return _Merit(contact, slip, holding, forgives, told, useless, doubtful)
