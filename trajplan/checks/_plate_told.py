"""One finding on a plate, from one number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Verdict, digits_apart, grade

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["AO", "WHEELESS", "one_number"]

#: Sources that several rules on plates name.
AO = "AO Foundation, online surgery reference"
WHEELESS = "Wheeless' Textbook of Orthopaedics"


def one_number(
    rule: str, subject: str, measured: float, unit: str, source: str, words: Mapping[Verdict, str],
    **limits: float | None,
) -> Finding:  # fmt: skip
    verdicts, limit = grade(np.array([measured]), **limits)  # type: ignore[arg-type]
    verdict = Verdict(int(verdicts[0]))
    known, bound = np.isfinite(measured), float(limit[0])
    places = digits_apart(measured, bound)
    said = words[verdict].format(measured=f"{measured:.{places}f}", limit=f"{bound:g}")
    return Finding(
        rule=rule, subject=subject, verdict=verdict, measured=measured if known else None,
        limit=bound if np.isfinite(bound) else None, unit=unit, why=said, source=source,
    )  # fmt: skip
