"""Will it hold, will it press: rules on forces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.checks._limits import Limits
    from trajplan.mechanics import Range

__all__ = ["contact_share", "head_pressure", "holding", "opening", "slip"]

_PLATE = "lag screws alone are not enough: a protecting or buttressing plate is the usual answer."


def holding(low: Floats, estimate: Floats, aimed: Floats, hit: Bools, limits: Limits) -> Ruling:
    """Fail a screw that holds less than it should press with, caution one that may.

    Parameters
    ----------
    low, estimate : (n,) float arrays, N
        Holding strength; NaN is unknown.
    aimed : (n,) float array, N
        Force that such a screw is tightened to in sound cortex.
    hit : (n,) bool array
        Screws that meet the bone.
    limits : Limits
        ``holding``, the least share of that force.

    Returns
    -------
    Ruling
        Measures the estimate, which fails; the low end cautions.
    """
    needed = limits.holding * aimed
    verdict, limit = grade(
        np.where(np.isnan(low), np.nan, estimate), fail_below=needed, applies=hit
    )
    weak = hit & (low < needed)
    verdict = np.where(weak & (verdict == Verdict.PASS), int(Verdict.CAUTION), verdict)
    return Ruling(
        rule="holding",
        verdict=verdict.astype(np.int8),
        measured=estimate,
        limit=limit,
        unit="N",
        source="Chapman et al. 1996, J Biomech Eng 118:391 (formula not verified against the "
        "source); limit: "
        "a share of the force that the screw is tightened to (assumption)",
        remark=lambda i: f"{low[i]:.0f} N",
        sentences={
            Verdict.PASS: "The thread is estimated to hold {measured} before it pulls out; such a "
            "screw should press with {limit} at the least.",
            Verdict.CAUTION: "The thread is estimated to hold {measured}, but {remark} at the low "
            "end, less than the {limit} that such a screw should press with. Decide between a "
            "longer thread (limit `turns_soft`), a thicker one, the far cortex and a plate; "
            "tighten by feel and stop early.",
            Verdict.FAIL: "The thread is estimated to hold {measured}, less than the {limit} that "
            "such a screw should press with at the least: it strips before it presses. Reach the "
            "far cortex, or take a longer thread (limit `turns_soft`), a thicker one or another "
            "line.",
            Verdict.UNKNOWN: "How much the thread holds cannot be told: it is not known in what "
            "bone it lies.",
        },
    )


def head_pressure(
    use: Range, hit: Bools, washered: Bools, stocked: Bools, countersunk: Bools
) -> Ruling:
    """Fail a head that is expected to sink into the bone, caution one that is likely to.

    Parameters
    ----------
    use : Range
        What the screw's own preload, before its head sinks in, is of the force that the bone under
        head or washer bears.
    hit : (n,) bool array
        Screws that meet the bone.
    washered, stocked, countersunk : (n,) bool arrays
        Screws that have a washer, that the catalogue has one for, and that are countersunk.

    Returns
    -------
    Ruling
        Measures the estimate, which fails above 1; the high end cautions there. Where the
        estimate is unknown, an end that decides is measured in its place.
    """
    bare = np.isnan(use.estimate)
    ends = np.where(use.high <= 1.0, use.high, np.where(use.low > 1.0, use.low, np.nan))
    measured = np.where(bare, ends, use.estimate)
    verdict, limit = grade(measured, fail_above=1.0, applies=hit)
    doubt = hit & ~bare & (use.high > 1.0) & (verdict == Verdict.PASS)
    verdict = np.where(doubt, int(Verdict.CAUTION), verdict)
    return Ruling(
        rule="head_pressure",
        verdict=verdict.astype(np.int8),
        measured=measured,
        limit=limit,
        unit="times the bone's strength",
        source="footprint of head or washer, bedded in by 0.5 mm, by 1 mm in soft bone, on a thin "
        "wall or with a washer; a wall is crushed or punched through; a head that sinks in holds "
        "what its bone bears and no more (assumptions); strengths: the bone class",
        remark=lambda i: (
            f"{use.high[i]:.1f} times. "
            f"{_spread_it(washered=washered[i], stocked=stocked[i], countersunk=countersunk[i])}"
        ),
        sentences={
            Verdict.PASS: "Tightened as hands do, the head presses with {measured}.",
            Verdict.CAUTION: "Tightened as hands do, the head presses with {measured}, and it is "
            "likely to sink in when the screw is tightened hard or the bone is soft: up to "
            "{remark}, or tighten with care and stop when the head begins to sink.",
            Verdict.FAIL: "Tightened as hands do, the head presses with {measured}: it is expected "
            "to sink in, and a screw whose head sinks presses no more; up to {remark}, or turn the "
            "axis squarer to the surface, or tighten to less (`mechanics.torque`).",
            Verdict.UNKNOWN: "Whether the head sinks in cannot be told: what the thread holds, or "
            "what the head bears on, is not known.",
        },
    )


def _spread_it(*, washered: bool, stocked: bool, countersunk: bool) -> str:
    """What spreads the force, of what this screw can have."""
    if washered:
        return "Take a wider washer, where there is one"
    if not stocked:
        return "The catalogue has no washer for it: take a screw with a wider head"
    if countersunk:
        return "No washer goes on a countersunk head: leave the countersink out and use a washer"
    return "Use a washer"


def slip(low: float, estimate: float, *, where: str = "", bends: bool = False) -> Finding:
    """Judge whether the fragments slide when the screws are tightened.

    Parameters
    ----------
    low, estimate : float
        Friction over shear, with the least friction and with the friction of the case; NaN is
        unknown.
    where : str
        Names the surface that slides first, where there are several.
    bends : bool
        Whether bends of the fracture surface bear what friction alone could not.

    Returns
    -------
    Finding
        For the plan. Fails where they slide with the friction of the case, cautions where they
        do with the least.
    """
    if np.isnan(low):
        verdict, why = Verdict.UNKNOWN, f"Whether the fragments slide{where} cannot be told."
    elif estimate < 1.0:
        verdict = Verdict.FAIL
        why = (
            f"Tightening makes the fragments slide{where}: friction bears {estimate:.2f} times the "
            f"shear of the screws, {low:.2f} at the least. Stand them squarer to the fracture, or "
            "let a plate hold it."
        )
    elif low < 1.0:
        verdict = Verdict.CAUTION
        why = (
            f"With little friction tightening makes the fragments slide{where} (reserve "
            f"{low:.2f}): decide whether a clamp holds the reduction, or stand the screws squarer "
            "to the fracture."
        )
    elif bends:
        verdict = Verdict.CAUTION
        why = (
            f"Friction alone would not keep the fragments from sliding{where}: the bends of the "
            "fracture stop them, if the fragments truly fit. Decide whether they do, and hold the "
            "reduction while tightening."
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
