"""A finding on a reduction as a whole."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from trajplan.checks._types import Finding

if TYPE_CHECKING:
    from trajplan.checks._types import Verdict

__all__ = ["MEASURED", "told"]

#: Where the limits of certainty come from.
MEASURED = "measured on simulated fractures of real bones, truth known"


def told(
    rule: str,
    verdict: Verdict,
    measured: float | None,
    limit: float | None,
    unit: str,
    why: str,
    source: str,
) -> Finding:
    """A finding on the plan; a number that is not finite was not measured."""
    known = measured is not None and math.isfinite(measured)
    return Finding(rule, "plan", verdict, measured if known else None, limit, unit, why, source)
