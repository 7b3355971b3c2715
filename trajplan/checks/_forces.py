"""Will it hold, will it press: rules on forces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.checks._limits import Limits

__all__ = ["by_hand", "contact_share", "head_pressure", "holding", "opening", "slip"]

_PLATE = "lag screws alone are not enough: a protecting or buttressing plate is the usual answer."


def holding(low: Floats, estimate: Floats, hit: Bools, limits: Limits) -> Ruling:
    """Caution a screw that may hold less than a lag screw is tightened to.

    Parameters
    ----------
    low, estimate : (n,) float arrays, N
        Holding strength; NaN is unknown.
    hit : (n,) bool array
        Screws that meet the bone.
    limits : Limits
        ``holding``, N.

    Returns
    -------
    Ruling
        Measures the estimate; the low end decides.
    """
    verdict, limit = grade(
        np.where(np.isnan(low), np.nan, estimate), caution_below=limits.holding, applies=hit
    )
    weak = hit & (low < limits.holding)
    verdict = np.where(weak & (verdict == Verdict.PASS), int(Verdict.CAUTION), verdict)
    return Ruling(
        rule="holding",
        verdict=verdict.astype(np.int8),
        measured=estimate,
        limit=limit,
        unit="N",
        source="Chapman et al. 1996, J Biomech Eng 118:391 (formula from memory); limit: "
        "assumption",
        sentences={
            Verdict.PASS: "The thread is estimated to hold {measured} before it pulls out.",
            Verdict.CAUTION: "The thread is estimated to hold {measured}; at the low end of the "
            "range it may give way under the {limit} of a tightened lag screw.",
            Verdict.UNKNOWN: "How much the thread holds cannot be told: it is not known in what "
            "bone it lies.",
        },
    )


def head_pressure(use: Floats, high: Floats, hit: Bools, washered: Bools, stocked: Bools) -> Ruling:
    """Caution a head that may sink into the near cortex, and say when a washer is due.

    Parameters
    ----------
    use, high : (n,) float arrays
        Pressure under head or washer, at the published force of lag screws (no more than
        thread and core bear), over the bone's compressive strength: estimate and high end.
    hit : (n,) bool array
        Screws that meet the bone.
    washered, stocked : (n,) bool arrays
        Screws that have a washer, and screws that the catalogue has one for.

    Returns
    -------
    Ruling
        Measures the estimate; the high end cautions too.
    """
    verdict, limit = grade(use, caution_above=1.0, applies=hit)
    doubt = hit & (high > 1.0) & (verdict == Verdict.PASS)
    verdict = np.where(doubt, int(Verdict.CAUTION), verdict)
    return Ruling(
        rule="head_pressure",
        verdict=verdict.astype(np.int8),
        measured=use,
        limit=limit,
        unit="times the bone's strength",
        source="footprint of head or washer, bedded in by 0.5 mm, by 1 mm in soft bone; a head "
        "that sinks in holds what its bone bears and no more (assumptions); strengths: the bone "
        "class",
        remark=lambda i: (
            f" (at the most {high[i]:.1f} times)"
            f"{_sinking(sinks=use[i] > 1.0, washered=washered[i], stocked=stocked[i])}"
        ),
        sentences={
            Verdict.PASS: "At the published force of lag screws the head presses with {measured}.",
            Verdict.CAUTION: "At the published force of lag screws the head presses with "
            "{measured}{remark}, or turn the axis squarer to the surface.",
            Verdict.UNKNOWN: "Whether the head sinks in cannot be told: what the thread holds, or "
            "what the head bears on, is not known.",
        },
    )


def _sinking(*, sinks: bool, washered: bool, stocked: bool) -> str:
    """What to do about a head that sinks in, or may."""
    what = " on its washer: they" if washered else ": it"
    if sinks:
        how = f"{what} {'are' if washered else 'is'} expected to sink in"
    else:
        how = f"{what} may sink in when the screw is tightened hard"
    care = "Take" if sinks else "Tighten with care, take"
    if washered:
        return f"{how}. {care} a wider one, where there is one"
    if not stocked:
        return f"{how}, and the catalogue has no washer for it. {care} a wider head"
    if sinks:
        return f"{how}, so a washer is due. Use one, where it fits"
    return f"{how}. Tighten with care, use a washer, where it fits"


def slip(low: float, high: float, *, where: str = "", bends: bool = False) -> Finding:
    """Judge whether the fragments slide when the screws are tightened.

    Parameters
    ----------
    low, high : float
        Friction over shear, with the least and the most friction; NaN is unknown.
    where : str
        Names the surface that slides first, where there are several.
    bends : bool
        Whether bends of the fracture surface bear what friction alone could not.

    Returns
    -------
    Finding
        For the plan. Fails where they slide with any friction, cautions where they may.
    """
    if np.isnan(low):
        verdict, why = Verdict.UNKNOWN, f"Whether the fragments slide{where} cannot be told."
    elif high < 1.0:
        verdict = Verdict.FAIL
        why = f"Tightening makes the fragments slide{where} with any plausible friction: {_PLATE}"
    elif low < 1.0:
        verdict = Verdict.CAUTION
        why = (
            f"With little friction tightening makes the fragments slide{where} (reserve "
            f"{low:.2f}): hold the reduction, or stand the screws squarer to the fracture."
        )
    elif bends:
        verdict = Verdict.CAUTION
        why = (
            f"Friction alone would not keep the fragments from sliding{where}: the bends of the "
            "fracture stop them, if the fragments truly fit. Hold the reduction while tightening."
        )
    else:
        verdict = Verdict.PASS
        why = f"Friction bears at least {_times(low)} the shear that the screws make{where}."
    return Finding(
        rule="slip",
        subject="plan",
        verdict=verdict,
        measured=low if np.isfinite(low) else None,
        limit=1.0,
        unit="friction over shear",
        why=why,
        source="Coulomb friction (common practice); its range: assumption",
    )


def opening(low: float, high: float, *, least: float, where: str = "", why: str = "") -> Finding:
    """Judge whether the fracture stays closed and still under the load of the case.

    Parameters
    ----------
    low, high : float
        Factor on the load up to which it does, with the least and the most friction, at the
        estimated preload; NaN is unknown.
    least : float
        The same with the least friction, at the low end of the preload.
    where : str
        Names the surface that gives way first, where there are several.
    why : str
        Why it cannot be told.

    Returns
    -------
    Finding
        For the plan.
    """
    if np.isnan(low) or np.isnan(high):
        verdict = Verdict.UNKNOWN
        said = f"At what load the fracture opens further or slides cannot be told: {why}."
    elif high < 1.0:
        verdict = Verdict.FAIL
        said = (
            f"The fracture opens further or slides{where} at {low:.2f} to {high:.2f} times the "
            f"load of the case, before it is reached ({least:.2f} times at the least preload): "
            f"{_PLATE}"
        )
    elif low < 1.0:
        verdict = Verdict.CAUTION
        said = (
            f"With little friction the fracture opens further or slides{where} at {low:.2f} times "
            f"the load of the case ({least:.2f} times at the least preload): protect it from that "
            "load, or add a plate."
        )
    elif least < 1.0:
        verdict = Verdict.CAUTION
        said = (
            f"The fracture opens no further and stays still up to {_times(low)} the load of the "
            f"case at the estimated preload, but only up to {least:.2f} times at the least: "
            "protect it from that load, or add a plate."
        )
    else:
        verdict = Verdict.PASS
        said = (
            f"The fracture opens no further and stays still up to {_times(low)} the load of the "
            f"case at the estimated preload, {_times(least)} at the least."
        )
    return Finding(
        rule="opening_load",
        subject="plan",
        verdict=verdict,
        measured=low if np.isfinite(low) else None,
        limit=1.0,
        unit="times the load of the case",
        why=said,
        source="rigid fragment on an elastic foundation, Coulomb friction; preload: estimate, and "
        "the low end of its range",
    )


def _times(value: float) -> str:
    return f"{value:.1f} times" if value < 1000.0 else "a thousand times"


def contact_share(
    share: float,
    peak: float,
    limits: Limits,
    *,
    solved: bool,
    apart: bool = False,
    where: str = "",
    least: float = np.nan,
) -> Finding:
    """Judge over how much of the fracture the screws press.

    Parameters
    ----------
    share : float
        Share of the fracture in contact; NaN is unknown.
    peak : float, MPa
        Highest pressure.
    limits : Limits
        ``contact_share`` cautions.
    solved : bool
        Whether the contact was found.
    apart : bool
        Whether the pull of the screws lies outside the fracture, so that nothing balances it.
    where : str
        Names the surface that parts, or else the one that is pressed least, where there are
        several.
    least : float
        The share of that surface.

    Returns
    -------
    Finding
        For the plan.
    """
    worst = f"; least of all{where}, {100 * least:.0f} %" if where and np.isfinite(least) else ""
    if apart:
        verdict = Verdict.FAIL
        why = f"The pull of the screws lies outside the fracture{where}: they part the fragments."
    elif np.isnan(share) or not solved:
        verdict = Verdict.UNKNOWN
        why = "Over how much of the fracture the screws press cannot be told."
    elif share < limits.contact_share:
        verdict = Verdict.CAUTION
        why = (
            f"The screws press only {100 * share:.0f} % of the fracture together, with a peak of "
            f"{peak:.1f} MPa{worst}; the rest opens: {_PLATE}"
        )
    else:
        verdict = Verdict.PASS
        why = (
            f"The screws press {100 * share:.0f} % of the fracture together, with a peak of "
            f"{peak:.1f} MPa at the estimated preload{worst}."
        )
    known = np.isfinite(share) and solved
    return Finding(
        rule="contact_share",
        subject="plan",
        verdict=verdict,
        measured=100.0 * share if known else None,
        limit=100.0 * limits.contact_share,
        unit="%",
        why=why,
        source="rigid fragment on an elastic foundation, no tension (Winkler; common practice); "
        "limit: assumption",
    )


def by_hand(low: float, high: float, limits: Limits) -> Finding:
    """Caution a plan that hands would often miss.

    Parameters
    ----------
    low, high : float
        95 % interval of the chance that some rule fails when hands err; NaN is unknown.
    limits : Limits
        ``placement``, a share.

    Returns
    -------
    Finding
        For the plan; measures the upper end in per cent.
    """
    percent = f"{100 * low:.0f} to {100 * high:.0f} %"
    if np.isnan(high):
        verdict, why = Verdict.UNKNOWN, "How often hands would miss the plan cannot be told."
    elif low > limits.placement:
        verdict = Verdict.CAUTION
        why = (
            f"Drilled free hand, {percent} of tries would fail a rule: use a guide, and look at "
            "the chances of each rule."
        )
    else:
        verdict, why = Verdict.PASS, f"Drilled free hand, {percent} of tries would fail a rule."
    return Finding(
        rule="by_hand",
        subject="plan",
        verdict=verdict,
        measured=100.0 * high if np.isfinite(high) else None,
        limit=100.0 * limits.placement,
        unit="%",
        why=why,
        source="placement error, see the assumptions; limit: assumption",
    )
