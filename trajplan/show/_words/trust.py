"""How far a reduction is trusted, in words that every output uses alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trajplan.files import FindingRecord

__all__ = ["trust_words"]


def trust_words(findings: Iterable[FindingRecord], *, trusted: bool) -> str:
    """Say whether a reduction is trusted, and that its length is not where nothing tells it.

    Parameters
    ----------
    findings : iterable of FindingRecord
        Of the reduction, or of a plan on it.
    trusted : bool
        As it stands in the record: of all that the broken surfaces can tell.

    Returns
    -------
    str
    """
    if not trusted:
        return "NOT trusted"
    open_ = any(f.rule == "reduce_length" and f.verdict == "unknown" for f in findings)
    return "trusted, length not known" if open_ else "trusted"
