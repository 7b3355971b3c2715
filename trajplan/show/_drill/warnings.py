"""What rules found that must be known before a step is done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.files import TOLD

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trajplan.files import FindingRecord

__all__ = ["warnings_of"]


def warnings_of(findings: Iterable[FindingRecord]) -> tuple[str, ...]:
    """Findings that are told, as sentences.

    Parameters
    ----------
    findings : iterable of FindingRecord
        Findings.

    Returns
    -------
    tuple of str
        The gravest first.
    """
    heard = sorted((f for f in findings if f.verdict in TOLD), key=lambda f: TOLD.index(f.verdict))
    return tuple(f"{finding.verdict.upper()}: {finding.why}" for finding in heard)
