"""Cells of one case in the tables, and how often each rule spoke."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from trajplan.files import TOLD

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.batch._jobs import Job
    from trajplan.files import FindingRecord, PlanFile

__all__ = ["CASE_COLUMNS", "case_row", "finding_counts"]

CASE_COLUMNS = (
    *("case", "status", "verdict", "title", "error", *TOLD),
    *("screws", "implants", "wires", "axes", "case_file", "case_sha256"),
    *("meshes", "meshes_sha256", "program", "cautions_of_plan"),
)


def case_row(job: Job, plan: PlanFile) -> dict[str, Any]:
    """Cells of a case that is done.

    Parameters
    ----------
    job : Job
        The case.
    plan : PlanFile
        Its plan.

    Returns
    -------
    dict
        Column -> cell; `fail` and the like name the rules, each once.
    """
    rules = finding_counts(plan)
    return {
        "case": job.id,
        "status": "done",
        "verdict": plan.verdict,
        "title": plan.title,
        "error": "",
        **{word: " ".join(rule for rule in rules if word in rules[rule]) for word in TOLD},
        "screws": len(plan.screws),
        "implants": " ".join(
            f"{screw.kind}x{screw.length:g}" if screw.length is not None else screw.kind
            for screw in plan.screws
        ),
        "wires": " ".join(wire.kind for wire in plan.wires),
        "axes": "" if job.axes is None else job.axes.name,
        "case_file": plan.case.name,
        "case_sha256": plan.case.sha256,
        "meshes": " ".join(mesh.name for mesh in plan.meshes),
        "meshes_sha256": " ".join(mesh.sha256 for mesh in plan.meshes),
        "program": plan.program.version,
        "cautions_of_plan": " ".join(plan.cautions),
    }


def finding_counts(plan: PlanFile) -> dict[str, dict[str, int]]:
    """How often each rule gave each verdict.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    dict
        Rule -> verdict -> times, over screws, wires, pairs and the plan; sorted by rule.
    """
    counts: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for finding in _findings(plan):
        counts[finding.rule][finding.verdict] += 1
    return {rule: dict(sorted(counts[rule].items())) for rule in sorted(counts)}


def _findings(plan: PlanFile) -> Iterator[FindingRecord]:
    for screw in plan.screws:
        yield from screw.findings
    for wire in plan.wires:
        yield from wire.findings
    yield from plan.findings
