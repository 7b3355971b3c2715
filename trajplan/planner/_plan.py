"""The pipeline: case to plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import make_bone
from trajplan.checks import Finding, Verdict, pair_rulings, screw_rulings, worst
from trajplan.planner._advice import (
    clearance_misses,
    kinds_beaten,
    kinds_kept,
    kinds_left_out,
    kinds_that_fit,
)
from trajplan.planner._assess import Assessment, assess
from trajplan.planner._needs import straight_across
from trajplan.planner._options import Option, options
from trajplan.planner._outlook import Outlook, outlook
from trajplan.planner._plan_html import plan_html
from trajplan.planner._plate_advice import plate_advice
from trajplan.planner._plate_choice import bonus_of, sets_beside, sets_through
from trajplan.planner._plate_plan import Pick, lags_missing, plate_notes, plates_of, plates_press
from trajplan.planner._plating import plating_of
from trajplan.planner._reasons import reasons
from trajplan.planner._record import plan_record
from trajplan.planner._rivals import choose, kind_sets, rival_sets, scatter_of
from trajplan.planner._score import pair_scores, scores
from trajplan.planner._screen import Screening, screen
from trajplan.planner._self_crossing import crossing_faces
from trajplan.planner._setup import Setup, set_up
from trajplan.planner._strength import quick_hold
from trajplan.planner._wires import Wires, place_wires

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Floats, Ints
    from trajplan.checks import Ruling
    from trajplan.files import Case
    from trajplan.planner._plates import PlannedPlate
    from trajplan.planner._plating import Plating
    from trajplan.planner._screen import Tally
    from trajplan.planner._setup import BoneMaker
    from trajplan.trajectory import Trajectories

__all__ = ["Alternative", "Plan", "plan_case"]


@dataclass(frozen=True, slots=True, eq=False)
class Alternative:
    """The next-best screw in the place of a chosen one."""

    replaces: str
    assessment: Assessment  # of one screw
    score: float


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Screws chosen, or checked, with every finding."""

    setup: Setup
    assessment: Assessment
    score: Floats  # (n,) NaN for axes that somebody else drew
    alternatives: tuple[Alternative, ...]
    tally: tuple[Tally, ...]
    notes: tuple[Finding, ...]  # on the choice itself
    wires: Wires | None = None  # for provisional hold
    options: tuple[Option, ...] = ()  # other numbers and kinds of screws
    outlook: Outlook | None = None  # forces, contact, placement error
    reasons: tuple[str, ...] = ()  # why each screw was chosen; none for axes that others drew
    plates: tuple[PlannedPlate, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings of pairs and of the plan as a whole."""
        notes = self.wires.notes if self.wires is not None else ()
        return (*self.notes, *notes, *self.assessment.together)

    @property
    def plate_findings(self) -> tuple[Finding, ...]:
        """Findings on plates and on their screws."""
        return tuple(finding for plate in self.plates for finding in plate.all_findings)

    @property
    def verdict(self) -> Verdict:
        """The verdict that weighs most."""
        wires = self.wires.findings if self.wires is not None else ()
        return worst(
            [
                self.assessment.verdict,
                *(finding.verdict for finding in self.findings),
                *(finding.verdict for finding in self.plate_findings),
                *(finding.verdict for findings in wires for finding in findings),
            ]
        )

    def __repr__(self) -> str:
        """Say in one line what it is: the fields hold whole meshes."""
        case, count = self.setup.case, len(self.assessment.screws)
        name = case.title or case.file.name or "untitled"
        return f"<Plan {name!r}: {count} screw{'s' * (count != 1)}, verdict {self.verdict.word}>"

    def _repr_html_(self) -> str:
        """Show a notebook the plan as a table."""
        return plan_html(plan_record(self))


def plan_case(
    case: Case,
    *,
    bone: object | None = None,
    make: BoneMaker = make_bone,
    progress: Callable[[int, int], None] | None = None,
) -> Plan:
    """Plan a case: the best screws that fail no rule, chosen together.

    Parameters
    ----------
    case : Case
        The case.
    bone : trimesh.Trimesh, pyvista.PolyData, Surface or (vertices, faces), optional
        The bone in memory, in the case's unit; the case's own mesh is then not read.
    make : callable
        Makes the bone, see `set_up`.
    progress : callable, optional
        Called with the placement errors drawn so far and all of them, the longest part.

    Returns
    -------
    Plan
        With fewer screws than asked for, down to none, where no more fit together; a
        failing finding then says so, and the tally what each rule cost.

    Raises
    ------
    InputError
        If the case cannot be set up.
    """
    setup = set_up(case, bone=bone, make=make)
    found = screen(setup)
    fits = kinds_kept(setup, found)
    unfit = kinds_left_out(setup, found) if fits else ()
    if unfit:  # the others get the candidates that were spent on them
        setup = setup.with_kinds(fits)
        found = screen(setup)
    pick = _pick(setup, found, plating_of(setup))
    screws, chosen, score, table = pick.screws, pick.chosen, pick.score, pick.table
    hold = quick_hold(setup, screws, np.arange(len(screws)))
    ids = tuple(f"screw {i + 1}" for i in range(len(chosen)))
    missing, final = lags_missing(setup, pick), screws.take(chosen)
    plates = plates_of(setup, pick, ids, final)
    short = (_shortfall(setup, found, pick, plated=bool(plates)),) if missing else ()
    middle = np.nan if hold is None else float(np.nanmedian(np.append(hold, np.nan)))
    view = outlook(setup, final, ids, middle=middle, progress=progress)
    return Plan(
        setup=setup,
        assessment=assess(setup, final, ids, pairs=True, view=view),
        score=score[chosen],
        alternatives=_alternatives(setup, screws, score, table, chosen, ids),
        tally=clearance_misses(setup, found) if missing else found.tally,
        notes=(
            *short,
            *unfit,
            *kinds_beaten(setup, found),
            *crossing_faces(setup, doubt=found.doubt),
            *plate_notes(pick),
            *plate_advice(setup, final),
        ),
        wires=place_wires(setup, final),
        options=options(setup, score, table, screws, chosen),
        outlook=view,
        reasons=reasons(
            screws, pick.rulings, setup.limits, setup.around.zones, chosen, len(found.kept), hold
        ),
        plates=plates,
    )


def _pick(setup: Setup, found: Screening, plating: Plating | None) -> Pick:
    """Choose lag screws, and where there are plates, both together."""
    screws, count = found.pool.screws, setup.case.screws.count
    plain = np.arange(len(screws))
    if plating is not None:
        screws, plating = plating.with_lags(screws)
    score, table, rulings = _measured(setup, screws)
    some = score[plain], table[np.ix_(plain, plain)]
    rivals = rival_sets(*some, found.pool.place, count)
    rivals += kind_sets(*some, found.pool.screws, count)
    bonus: list[float] = []
    if plating is not None:
        rivals += sets_through(plating, score, table, count)
        rivals += sets_beside(plating, score, table, count)
        bonus = bonus_of(plating, rivals)
    chosen = choose(setup, rivals, score, table, screws, bonus)
    return Pick(screws, chosen, score, table, rulings, plating)


def _measured(setup: Setup, screws: Trajectories) -> tuple[Floats, Floats, list[Ruling]]:
    """Measure the best candidates in full, alone and in pairs."""
    rulings = screw_rulings(screws, setup.limits, setup.around)
    zones = setup.around.zones
    hold = quick_hold(setup, screws, np.arange(len(screws)))
    score = scores(screws, rulings, setup.limits, zones, scatter_of(setup).entry, hold)
    gap, spacing = pair_rulings(screws, setup.limits)
    crossing = screws.corridors.axes.at(screws.crossing.axis)
    direction = screws.corridors.axes.direction
    # where the case names an open side, whatever lies in it is one approach
    apart = setup.limits.one_approach if setup.around.approach is None else 180.0
    table = pair_scores(crossing, direction, screws.crossing.zone, zones, spacing, gap, apart)
    return score, table, rulings


def _alternatives(
    setup: Setup,
    screws: Trajectories,
    score: Floats,
    table: Floats,
    chosen: Ints,
    ids: tuple[str, ...],
) -> tuple[Alternative, ...]:
    """For each screw the best that may stand in its place, at least a diameter away."""
    crossing = screws.corridors.axes.at(screws.crossing.axis)
    offered: list[Alternative] = []
    for slot, row in enumerate(chosen):
        others = np.delete(chosen, slot)
        value = score + table[:, others].sum(axis=1) * 2.0 / max(len(others), 1)  # as `best_set`
        apart = np.linalg.norm(crossing - crossing[row], axis=1)
        turned = screws.corridors.axes.direction @ screws.corridors.axes.direction[row] < 0.0
        value[(apart < screws.dims.thread[row]) & ~turned] = -np.inf
        value[others] = -np.inf
        for letter, rank in zip("bc", np.argsort(-value, kind="stable"), strict=False):
            if np.isfinite(value[rank]):
                name = f"{ids[slot]}{letter}"
                answer = assess(setup, screws.take(np.array([rank])), [name], pairs=False)
                offered.append(Alternative(ids[slot], answer, float(score[rank])))
    return tuple(offered)


def _shortfall(setup: Setup, found: Screening, pick: Pick, *, plated: bool) -> Finding:
    """Say how many screws are missing, and which others of the catalogue would fit."""
    wanted, placed = setup.case.screws.count, len(pick.chosen)
    if plates_press(pick):
        return replace(
            _too_few(placed, wanted, f"{placed} of {wanted} lag screws found a place, and the "
                     "eccentric screws of the plate press the fracture: decide whether that is "
                     "enough, or name a longer plate, another side or other screws."),
            verdict=Verdict.CAUTION,
        )  # fmt: skip
    if plated and placed:
        return replace(
            _too_few(placed, wanted, f"{placed} of {wanted} lag screws found a place beside the "
                     "plate, which protects them: decide whether that is enough, or name another "
                     "side of the plate, a line for it, or other screws."),
            verdict=Verdict.CAUTION,
        )  # fmt: skip
    across = straight_across(setup) if setup.case.screws.technique == "lag" else None
    if across is not None and across.verdict is Verdict.FAIL:
        said = "the fracture is transverse, and no lag screw presses it"
        return _too_few(placed, wanted, f"{placed} of {wanted} screws could be placed: {said}.")
    costly = max(found.tally, key=lambda tally: tally.turned_away, default=None)
    reason = f"; the rule {costly.rule} turned most away" if costly and costly.turned_away else ""
    fitting = kinds_that_fit(setup)
    advice = (
        f"of the catalogue, {', '.join(fitting)} would fit at least once"
        if fitting
        else "no other screw of the catalogue fits either"
    )
    tried = f"among {len(found.candidates.axes)} candidates{reason}"
    return _too_few(
        placed, wanted, f"{placed} of {wanted} screws could be placed {tried}; {advice}."
    )


def _too_few(placed: int, wanted: int, why: str) -> Finding:
    """Fail a plan of fewer screws than the case asks for."""
    return Finding(
        rule="count",
        subject="plan",
        verdict=Verdict.FAIL,
        measured=float(placed),
        limit=float(wanted),
        unit="screws",
        why=why,
        source="the case",
    )
