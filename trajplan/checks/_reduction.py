"""Whether fragments that were moved together may be trusted to lie right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.checks._reduction_case import (
    reduce_around,
    reduce_hand,
    reduce_length,
    reduce_prior,
    reduce_sure,
)
from trajplan.checks._reduction_surfaces import (
    reduce_agree,
    reduce_contact,
    reduce_gap,
    reduce_overlap,
    reduce_rival,
    reduce_steady,
    reduce_step,
    reduce_turn,
)
from trajplan.checks._types import Finding, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.checks._limits import Limits
    from trajplan.reduction import Displacement, Reduction

__all__ = ["reduction_findings", "trusted"]


def reduction_findings(
    reduction: Reduction,
    lying: Sequence[Displacement],
    limits: Limits,
    around: Sequence[str] = (),
) -> tuple[Finding, ...]:
    """Judge a reduction by every rule.

    Parameters
    ----------
    reduction : Reduction
        Fragments put together.
    lying : sequence of Displacement
        How each fragment lies against the fixed one.
    limits : Limits
        ``fragment_gap``, ``fragment_step`` and their greatest, as the plan takes them.
    around : sequence of str
        Names of structures that stay where they lie.

    Returns
    -------
    tuple of Finding
        One a rule, on the pair or the fragment that is worst.
    """
    asked = (
        reduce_contact(reduction),
        reduce_gap(reduction, limits),
        reduce_step(reduction, limits),
        reduce_overlap(reduction),
        reduce_rival(reduction),
        reduce_steady(reduction),
        reduce_agree(reduction),
        reduce_prior(reduction, lying),
        reduce_turn(reduction),
        reduce_length(reduction),
        reduce_hand(reduction),
        reduce_around(around),
    )
    findings = tuple(finding for finding in asked if finding is not None)
    return (*findings, *reduce_sure(reduction, findings))


def trusted(findings: Iterable[Finding]) -> bool:
    """Whether a reduction may be trusted in all that its surfaces can tell.

    Parameters
    ----------
    findings : iterable of Finding
        Of `reduction_findings`.

    Returns
    -------
    bool
        False where a rule fails or cannot tell; the length alone may stay unknown, for no
        surface ever tells it.
    """
    bad = (Verdict.FAIL, Verdict.UNKNOWN)
    return not any(f.verdict in bad for f in findings if f.rule != "reduce_length")
