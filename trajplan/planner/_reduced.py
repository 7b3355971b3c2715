"""What a plan takes over from the reduction that its fragments come from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Finding, Verdict
from trajplan.errors import CaseError
from trajplan.files import (
    AsItLiesRecord,
    MovedRecord,
    ReducedRecord,
    read_reduction,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3
    from trajplan.bone import Surface
    from trajplan.files import Case, FindingRecord, ReductionFile

__all__ = ["as_it_lies", "reduced_findings", "reduced_record", "reduction_of"]

#: Findings of a reduction that say nothing amiss, and need not be told again.
QUIET = ("pass", "note")


def reduction_of(case: Case, parts: Sequence[Surface]) -> ReductionFile | None:
    """Read the reduction that a case names, and see that its fragments are those it moved.

    Parameters
    ----------
    case : Case
        The case.
    parts : sequence of Surface
        Fragments as read.

    Returns
    -------
    ReductionFile or None
        None where the case names none.

    Raises
    ------
    PlanFileError
        If the record is missing, damaged or edited.
    CaseError
        If a fragment is not the one that was moved.
    """
    if case.bone.reduction is None:
        return None
    record = read_reduction(case.resolve(case.bone.reduction))
    known = [one.reduced_sha256 for one in record.fragments]
    if [part.sha256 for part in parts] != known:
        strange = next(
            (part.name for part, sha in zip(parts, known, strict=False) if part.sha256 != sha),
            f"{len(parts)} of {len(known)} fragments",
        )
        raise CaseError(
            f"{strange} is not what this reduction wrote",
            remedy="reduce the case again, or name its fragments in their order",
            file=case.file,
            where="bone.reduction",
        )
    return record


def reduced_findings(record: ReductionFile | None) -> tuple[Finding, ...]:
    """What a plan on reduced fragments says of the reduction.

    Parameters
    ----------
    record : ReductionFile or None
        The reduction; none has nothing to say.

    Returns
    -------
    tuple of Finding
        That the fragments were moved, and whatever is amiss with that: a plan is no better
        than the reduction that it stands on.
    """
    if record is None:
        return ()
    told = [_finding(found) for found in record.findings if found.verdict not in QUIET]
    moved = Finding(
        rule="reduced",
        subject="plan",
        verdict=Verdict.NOTE,
        measured=None,
        limit=None,
        unit="",
        why=f"Planned on fragments that were put together: {movements(record)}. The bone must be "
        "reduced like this before anything is drilled.",
        source=f"reduction of {record.case.name}",
    )
    return (moved, *told)


def movements(record: ReductionFile) -> str:
    """How far each fragment was moved, in words."""
    return "; ".join(
        f"{one.name} was moved by {one.displacement.shift:.1f} mm and turned by "
        f"{one.displacement.rotation:.1f} degrees"
        for one in record.fragments
        if one.displacement is not None
    )


def _finding(record: FindingRecord) -> Finding:
    return Finding(
        rule=record.rule,
        subject=record.subject,
        verdict=Verdict[record.verdict.upper()],
        measured=record.measured,
        limit=record.limit,
        unit=record.unit,
        why=record.why,
        source=record.source,
    )


def reduced_record(record: ReductionFile | None) -> ReducedRecord | None:
    """What the plan file keeps of the reduction.

    Parameters
    ----------
    record : ReductionFile or None
        The reduction.

    Returns
    -------
    ReducedRecord or None
    """
    if record is None:
        return None
    return ReducedRecord(
        case=record.case,
        digest=record.digest,
        trusted=record.trusted,
        verdict=record.verdict,
        fragments=tuple(
            MovedRecord(
                name=one.name,
                sha256=one.sha256,
                fixed=one.fixed,
                origin=one.origin,
                matrix=one.matrix,
                displacement=one.displacement,
            )
            for one in record.fragments
        ),
    )


def as_it_lies(
    record: ReductionFile | None, fragment: int, entry: Vec3, direction: Vec3
) -> AsItLiesRecord | None:
    """Entry and direction of a screw on its first fragment before that was moved.

    Parameters
    ----------
    record : ReductionFile or None
        The reduction.
    fragment : int
        Number, from 0, of the fragment that the screw enters.
    entry : (3,) float array, mm
        On the reduced bone.
    direction : (3,) unit vector
        From head to tip.

    Returns
    -------
    AsItLiesRecord or None
        None where the bone was not reduced.
    """
    if record is None:
        return None
    moved = record.fragments[fragment]
    matrix = np.array(moved.matrix)
    turn = matrix[:3, :3]  # rigid: its inverse is its transpose
    return AsItLiesRecord(
        fragment=moved.name,
        entry=tuple((turn.T @ (entry - matrix[:3, 3])).tolist()),
        direction=tuple((turn.T @ direction).tolist()),
    )
