"""Sentences that go with a fitted fracture plane."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.fracture._types import PlaneFit

__all__ = ["count_of", "fit_cautions"]

#: Degrees; a normal known no better is worth a word (assumption: half of the 20 degrees of
#: tilt that textbooks allow).
WIDE_BOUND = 10.0


def count_of(count: int, noun: str) -> str:
    """Write a number and its noun.

    Parameters
    ----------
    count : int
        How many.
    noun : str
        The noun in the singular.

    Returns
    -------
    str
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def fit_cautions(fit: PlaneFit) -> list[str]:
    """Say what a surgeon must know of a fit.

    Parameters
    ----------
    fit : PlaneFit
        The fit.

    Returns
    -------
    list of str
        One sentence each; empty for a flat fracture whose normal is well known.
    """
    lines = []
    if fit.flatness == "curved":
        lines.append(
            "The fracture is curved: its normal turns by more than 20 degrees, so judge the tilt "
            "of a screw by the surface where it crosses."
        )
    if fit.flatness == "uneven":
        lines.append(
            f"The fracture is uneven: it departs from its plane by {fit.rms:.1f} mm in the mean "
            f"and {fit.largest:.1f} mm at most."
        )
    if fit.used <= 3:
        lines.append("Three points fix a plane without a check: its normal may be far off.")
    elif fit.normal_bound > WIDE_BOUND:
        lines.append(
            f"The fracture normal is known to {fit.normal_bound:.0f} degrees only (95 % bound)."
        )
    return lines
