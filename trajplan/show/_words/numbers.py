"""How numbers are written where a reader sees them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.files import PlateHoleRecord, RangeRecord

__all__ = ["drilled_aside", "number", "percent", "span_text"]

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


def percent(share: float | None) -> str:
    """Write a share in per cent.

    Parameters
    ----------
    share : float or None
        None: it cannot be told.

    Returns
    -------
    str
        "?" for what cannot be told.
    """
    return "?" if share is None else f"{100 * share:.0f} %"


def span_text(values: RangeRecord | None, digits: int = 0) -> str:
    """Write the ends of a range.

    Parameters
    ----------
    values : RangeRecord or None
        None, or an end that is none: it cannot be told.
    digits : int
        Decimals.

    Returns
    -------
    str
        "?" for what cannot be told.
    """
    if values is None or values.low is None or values.high is None:
        return "?"
    return f"{number(values.low, digits)} to {number(values.high, digits)}"


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
