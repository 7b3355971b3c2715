"""Whether the surfaces of fragments that were moved together fit, and hold each other there."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.checks._reduction_told import MEASURED, told
from trajplan.checks._types import Finding, Verdict, grade
from trajplan.reduction import LIMITS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.checks._limits import Limits
    from trajplan.reduction import PairFit, Reduction

__all__ = [
    "reduce_agree",
    "reduce_contact",
    "reduce_gap",
    "reduce_overlap",
    "reduce_rival",
    "reduce_steady",
    "reduce_step",
    "reduce_turn",
]

#: Share of the best placement's score below which another is none.
NO_RIVAL = 0.01
_JOINT = (
    "Assessment of Articular Displacement of Distal Radius Fractures, abstract (step or gap above "
    "1 to 2 mm is reduced)"
)


def reduce_contact(reduction: Reduction) -> Finding | None:
    """Judge how much of each broken surface has found its partner."""
    names = reduction.names
    met = {number for fit in reduction.pairs for number in (fit.first, fit.second)}
    lonely = [name for number, name in enumerate(names) if number not in met]
    if lonely:
        why = (
            f"{', '.join(lonely)} meets no other fragment: give a hint of two points that belong "
            "together, move it by hand, or leave it out of bone.fragments."
        )
        return told("reduce_contact", Verdict.FAIL, 0.0, LIMITS["contact"], "share", why, MEASURED)

    def judge(fit: PairFit) -> tuple[Verdict, float, str]:
        who, share, least = _pair(names, fit), fit.contact, LIMITS["contact"]
        if not share >= least:
            why = (
                f"{_percent(share)} of the smaller broken surface of {who} has found its partner, "
                f"less than {_percent(least)}: whether they belong together like this cannot be "
                "told. Give a hint, or move them by hand."
            )
            return Verdict.UNKNOWN, share, why
        why = f"{who} meet on {_percent(share)} of the smaller broken surface."
        return Verdict.PASS, share, why

    return _worst("reduce_contact", reduction.pairs, judge, LIMITS["contact"], "share", low=True)


def reduce_gap(reduction: Reduction, limits: Limits) -> Finding | None:
    """Judge the gap that nine tenths of the broken surfaces stay below, as the plan does."""

    def judge(fit: PairFit) -> tuple[Verdict, float, str]:
        who, gap = _pair(reduction.names, fit), fit.gap_90
        verdict = _graded(gap, limits.fragment_gap, limits.fragment_gap_most)
        lies = f"{who} lie up to {gap:.1f} mm apart on nine tenths of the fracture"
        said = {
            Verdict.PASS: f"{lies}.",
            Verdict.CAUTION: f"{lies}: decide whether bone is missing there, or move them closer.",
            Verdict.FAIL: f"{lies}: they do not fit. Give a hint, or move them by hand.",
            Verdict.UNKNOWN: f"How far apart {who} lie cannot be told.",
        }
        return verdict, gap, said[verdict]

    return _worst("reduce_gap", reduction.pairs, judge, limits.fragment_gap, "mm", _JOINT)


def reduce_step(reduction: Reduction, limits: Limits) -> Finding | None:
    """Judge the step of the outer walls along the fracture line; a mean past the limit fails."""

    def judge(fit: PairFit) -> tuple[Verdict, float, str]:
        who = _pair(reduction.names, fit)
        poor = fit.step_mean > limits.fragment_step_most
        step = fit.step_mean if poor else fit.step_largest
        verdict = Verdict.FAIL if poor else _graded(step, limits.fragment_step, math.inf)
        said = {
            Verdict.PASS: f"The outer walls of {who} stand no more than {step:.1f} mm apart in "
            "height along the fracture line.",
            Verdict.CAUTION: f"The outer walls of {who} stand up to {step:.1f} mm apart in height: "
            "decide whether that is near enough; on a joint surface 2 mm is the usual limit.",
            Verdict.FAIL: f"The outer walls of {who} stand {step:.1f} mm apart in height on "
            "average: they do not fit. Give a hint, or move them by hand.",
            Verdict.UNKNOWN: f"The step between the outer walls of {who} cannot be told.",
        }
        return verdict, step, said[verdict]

    return _worst("reduce_step", reduction.pairs, judge, limits.fragment_step, "mm", _JOINT)


def reduce_overlap(reduction: Reduction) -> Finding | None:
    """Judge how much bone lies in bone."""

    def judge(fit: PairFit) -> tuple[Verdict, float, str]:
        who, volume = _pair(reduction.names, fit), fit.overlap
        within = np.nanmax([*fit.inside, 0.0])
        if within > LIMITS["inside"]:
            ends = reduction.names[fit.first], reduction.names[fit.second]
            inner, outer = ends if fit.inside[0] == within else ends[::-1]
            why = (
                f"{inner} lies inside the bone of {outer} (overlap {volume:.0f} mm³): one place "
                "holds one bone. Give a hint, move it out by hand, or leave it out of "
                "bone.fragments."
            )
            return Verdict.FAIL, volume, why
        verdict = _graded(volume, LIMITS["overlap"], math.inf)
        said = {
            Verdict.PASS: f"{who} overlap by {volume:.0f} mm³, which roughness explains.",
            Verdict.CAUTION: f"{who} overlap by {volume:.0f} mm³: decide whether bone was driven "
            "in there, or move them apart; the plan tells the depth.",
            Verdict.UNKNOWN: f"Whether {who} overlap cannot be told.",
        }
        return verdict, volume, said[verdict]

    return _worst("reduce_overlap", reduction.pairs, judge, LIMITS["overlap"], "mm³")


def reduce_rival(reduction: Reduction) -> Finding | None:
    """Judge how far the best placement of another kind lies behind."""

    def judge(fit: PairFit) -> tuple[Verdict, float, str]:
        who, score = _pair(reduction.names, fit), fit.rival
        if not math.isfinite(score):
            return _not_measured(f"other placements of {who} were not compared")
        if score > LIMITS["rival"]:
            why = (
                f"{who} fit nearly as well in another place ({_percent(score)} of the best): which "
                "is right cannot be told. Give a hint of two points that belong together."
            )
            return Verdict.UNKNOWN, score, why
        why = (
            f"No other placement of {who} fits more than {_percent(score)} as well."
            if score > NO_RIVAL
            else f"No other placement of {who} fits."
        )
        return Verdict.PASS, score, why

    return _worst("reduce_rival", _found(reduction), judge, LIMITS["rival"], "share")


def reduce_steady(reduction: Reduction) -> Finding | None:
    """Judge how far pieces move as one sector of the fracture is left out at a time."""
    return _certain(
        reduction,
        "steady",
        missing="how firmly {who} are held was not measured",
        poor="{who} move by {apart} against each other where a part of the fracture is left out",
        good="{who} stay within {apart} whatever part of the fracture is left out.",
    )


def reduce_agree(reduction: Reduction) -> Finding | None:
    """Judge whether the broken surfaces and the outer wall say the same."""
    return _certain(
        reduction,
        "agree",
        missing="broken surface and outer wall of {who} were not compared",
        poor="Broken surfaces and outer wall of {who} disagree by {apart}",
        good="Broken surfaces and outer wall of {who} agree within {apart}.",
    )


def _certain(
    reduction: Reduction, measure: Literal["steady", "agree"], missing: str, poor: str, good: str
) -> Finding | None:
    """Judge a shift and a turn by which the place of two fragments is uncertain."""
    shift_limit, turn_limit = LIMITS[f"{measure}_shift"], LIMITS[f"{measure}_turn"]

    def judge(fit: PairFit) -> tuple[Verdict, float, str]:
        shift, turn = (getattr(fit, f"{measure}_{kind}") for kind in ("shift", "turn"))
        said = {
            "who": _pair(reduction.names, fit),
            "apart": f"{shift:.1f} mm and {turn:.1f} degrees",
        }
        if not math.isfinite(shift + turn):
            return _not_measured(missing.format(**said))
        if shift > shift_limit or turn > turn_limit:
            why = f"{poor.format(**said)}: their place is not certain. Give a hint or a template."
            return Verdict.UNKNOWN, shift, why
        return Verdict.PASS, shift, good.format(**said)

    return _worst(f"reduce_{measure}", _found(reduction), judge, shift_limit, "mm")


def reduce_turn(reduction: Reduction) -> Finding | None:
    """Judge whether the turn about the shaft is settled."""
    open_ones = [fit for fit in _found(reduction) if not fit.turn_known]
    if not _found(reduction):
        return None
    if open_ones:
        fit = open_ones[0]
        slide = fit.slides.turn
        by = f" by {slide:.0f} degrees" if math.isfinite(slide) else ""
        why = (
            f"{_pair(reduction.names, fit)} may still turn{by} about the shaft and fit as well: "
            "the rotation is not known. Give a template of the other side, or a hint."
        )
        return told("reduce_turn", Verdict.UNKNOWN, slide, None, "degrees", why, MEASURED)
    why = "The fracture's own shape settles the rotation about the shaft."
    return told("reduce_turn", Verdict.PASS, None, None, "degrees", why, MEASURED)


def _found(reduction: Reduction) -> tuple[PairFit, ...]:
    """Pairs of which the program itself found the placement."""
    return tuple(
        fit
        for fit in reduction.pairs
        if "hand" not in (reduction.origins[fit.first], reduction.origins[fit.second])
    )


def _pair(names: Sequence[str], fit: PairFit) -> str:
    return f"{names[fit.first]} and {names[fit.second]}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %" if math.isfinite(share) else "an unknown share"


def _graded(value: float, caution: float, fail: float) -> Verdict:
    verdict, _ = grade(np.array([value]), caution_above=caution, fail_above=fail)
    return Verdict(int(verdict[0]))


def _not_measured(what: str) -> tuple[Verdict, float, str]:
    return Verdict.UNKNOWN, math.nan, f"{what[0].upper()}{what[1:]}: their place is not certain."


def _worst(
    rule: str,
    pairs: Sequence[PairFit],
    judge: Callable[[PairFit], tuple[Verdict, float, str]],
    limit: float,
    unit: str,
    source: str = MEASURED,
    *,
    low: bool = False,
) -> Finding | None:
    """Finding on the pair that is worst; with `low` little is worse than much."""
    if not pairs:
        return None
    sign = -1.0 if low else 1.0
    verdict, measured, why = max(
        map(judge, pairs), key=lambda one: (one[0], sign * np.nan_to_num(one[1]))
    )
    return told(rule, verdict, measured, limit, unit, why, source)
