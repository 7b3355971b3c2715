"""How numbers are written where a reader sees them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.files import PlateHoleRecord

__all__ = ["drilled_aside", "number"]

#: mm off the middle of its hole from which a hand can drill aside: a neutral guide does less.
TOLD_ASIDE = 0.5


def number(value: float | None, digits: int = 1) -> str:
    """Write a number.

    Parameters
    ----------
    value : float or None
        None: it cannot be told.
    digits : int
        Decimals.

    Returns
    -------
    str
        "?" for what cannot be told; no sign before nought.
    """
    return "?" if value is None else f"{round(value, digits) + 0.0:.{digits}f}"


def drilled_aside(hole: PlateHoleRecord) -> bool:
    """Whether a hand can tell that a hole is drilled off its middle.

    Parameters
    ----------
    hole : PlateHoleRecord
        A hole of a plate.

    Returns
    -------
    bool
    """
    return abs(hole.offset) >= TOLD_ASIDE
