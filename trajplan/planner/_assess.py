"""Work screws out and judge them: the same steps for candidates, plans and others' axes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import (
    Finding,
    Verdict,
    fractures_closed,
    holds_rotation,
    named_by,
    one_approach,
    pair_names,
    pair_rulings,
    plan_findings,
    screw_rulings,
    worst,
)
from trajplan.planner._ct import ct_findings
from trajplan.planner._needs import by_fracture, needs
from trajplan.planner._reduced import reduced_findings
from trajplan.trajectory import Joint, dimensions, plan_trajectories, techniques

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Ints
    from trajplan.checks import Ruling
    from trajplan.planner._outlook import Outlook
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Axes, Trajectories

__all__ = ["Assessment", "assess", "failing", "work_out"]


@dataclass(frozen=True, slots=True, eq=False)
class Assessment:
    """Screws, and every finding on them."""

    ids: tuple[str, ...]
    screws: Trajectories
    findings: tuple[tuple[Finding, ...], ...]  # of each screw
    together: tuple[Finding, ...]  # of pairs and of the plan

    @property
    def verdict(self) -> Verdict:
        """The verdict that weighs most among all findings."""
        alone = [finding.verdict for findings in self.findings for finding in findings]
        return worst([*alone, *(finding.verdict for finding in self.together)])


def work_out(
    setup: Setup, axes: Axes, kind: Ints, zone: Ints, technique: Ints | None = None
) -> Trajectories:
    """Work out screws of the setup's kinds along axes.

    Parameters
    ----------
    setup : Setup
        The case.
    axes : Axes
        ``n`` axes.
    kind : (n,) int array
        Row of ``setup.kinds`` for each axis.
    zone : (n,) int array
        Zone of the fracture that each screw is to close.
    technique : (n,) int array, optional
        Values of `trajplan.trajectory.Technique`; by default what the case asks for.

    Returns
    -------
    Trajectories
    """
    dims = dimensions(setup.kinds, kind)
    wanted = setup.case.screws
    hold = wanted.hold
    both: Bools = ~dims.deep if hold == "by thread" else np.full(len(axes), hold == "bicortical")
    return plan_trajectories(
        setup.bone,
        axes,
        dims,
        setup.around.zones,
        zone=zone,
        technique=techniques(wanted.technique, dims) if technique is None else technique,
        bicortical=both,
        settings=setup.settings,
        washers=setup.washers,
        joints=[
            Joint(o.distance, o.clearance) for o in setup.around.obstacles if o.role == "joint"
        ],
    )


def assess(
    setup: Setup,
    screws: Trajectories,
    ids: Sequence[str],
    *,
    pairs: bool,
    view: Outlook | None = None,
) -> Assessment:
    """Apply every rule to screws that were worked out.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        ``n`` screws.
    ids : sequence of str, length n
        Their names.
    pairs : bool
        Whether the screws are meant to stand in the bone together.
    view : Outlook, optional
        Forces and contact, where they were worked out.

    Returns
    -------
    Assessment
    """
    rulings = screw_rulings(screws, setup.limits, setup.around)
    if view is not None:
        rulings += view.rulings(screws, setup)
    alone: dict[str, list[Finding]] = {name: [] for name in ids}
    for ruling in rulings:
        for finding in ruling.findings(ids):
            alone[finding.subject].append(finding)
    together: list[Finding] = []
    if pairs and len(ids) > 1:
        answers, names = pair_rulings(screws, setup.limits), pair_names(ids)
        together = [finding for ruling in answers for finding in ruling.findings(names)]
    pressed = view.findings(screws, setup) if view is not None else ()
    as_one = (*(_as_a_plan(setup, screws, ids) if pairs else ()), *pressed)
    failed = _failing_members(screws, ids, [*chain(*alone.values()), *together]) if pairs else []
    return Assessment(
        ids=tuple(ids),
        screws=screws,
        findings=tuple(tuple(alone[name]) for name in ids),
        together=(
            *together,
            *plan_findings(screws, setup.around, setup.limits),
            *(_counting(failed, finding) for finding in as_one),
        ),
    )


#: Rules that add up what several screws do.
SUMS = ("holds_rotation", "fractures_closed", "slip", "contact_share", "opening_load")


def _failing_members(
    screws: Trajectories, ids: Sequence[str], findings: Sequence[Finding]
) -> list[str]:
    """Screws across the fracture that fail a rule, alone or with another."""
    wrong = [finding for finding in findings if finding.verdict is Verdict.FAIL]
    failed = {name for finding in wrong for name in named_by(finding.subject, ids)}
    across = zip(ids, screws.crossing.inside, strict=True)
    return [name for name, inside in across if inside and name in failed]


def _counting(failed: Sequence[str], finding: Finding) -> Finding:
    """Say of a finding that adds screws up which of them fail: it is no pass then."""
    if not failed or finding.rule not in SUMS or finding.verdict is Verdict.UNKNOWN:
        return finding
    which = "which fails a rule" if len(failed) == 1 else "which fail rules"
    return replace(
        finding,
        verdict=max(finding.verdict, Verdict.CAUTION),
        why=f"{finding.why} This counts {', '.join(failed)}, {which}.",
    )


def _as_a_plan(setup: Setup, screws: Trajectories, ids: Sequence[str]) -> tuple[Finding, ...]:
    """Findings on screws that stand in the bone together."""
    hit = np.flatnonzero(screws.corridors.hit)
    sides = one_approach(
        screws.corridors.axes.direction[hit],
        [ids[row] for row in hit.tolist()],
        setup.around.approach,
        setup.limits,
    )
    return (
        *([sides] if sides is not None else []),
        *_rotation(setup, screws),
        *needs(setup, screws),
        *_left_open(setup, screws),
        *ct_findings(setup, screws),
        *reduced_findings(setup.reduction),
    )


def _rotation(setup: Setup, screws: Trajectories) -> tuple[Finding, ...]:
    """Whether every fracture that has a screw has enough of them to stop turning.

    That a fracture has none is said elsewhere: `_left_open`, and the number of screws.
    """
    across = [int(screws.crossing.inside[rows].sum()) for _, rows in by_fracture(setup, screws)]
    counts = [count for count in across if count]
    if not counts:
        return ()
    return (holds_rotation(min(counts), protection=setup.protection),)


def _left_open(setup: Setup, screws: Trajectories) -> tuple[Finding, ...]:
    """Which fractures between two fragments no screw closes, where there are several."""
    pairs = dict.fromkeys(zone.fragments for zone in setup.around.zones)
    closing = screws.crossing.zone[screws.crossing.inside]
    closed = {setup.around.zones[int(row)].fragments for row in closing}
    if len(pairs) < 2 or not len(closing):
        return ()
    return (
        fractures_closed(
            [pair for pair in pairs if pair is not None and pair in closed],
            [pair for pair in pairs if pair is not None and pair not in closed],
            setup.fragment_names,
            plated=setup.protection in ("plate", "buttress"),
        ),
    )


def failing(rulings: Sequence[Ruling], n: int) -> Bools:
    """Which of ``n`` screws fail some rule.

    Parameters
    ----------
    rulings : sequence of Ruling
        Answers with ``n`` rows each.
    n : int
        Number of screws.

    Returns
    -------
    (n,) bool array
    """
    failed = np.zeros(n, dtype=np.bool_)
    for ruling in rulings:
        failed |= ruling.verdict == Verdict.FAIL
    return failed
