"""Whether fragments that were moved together may be trusted to lie right."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.checks._types import Finding, Verdict, grade
from trajplan.reduction import LIMITS, MOST_SHIFT, MOST_TURN

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from trajplan.checks._limits import Limits
    from trajplan.reduction import Displacement, PairFit, Reduction

__all__ = [
    "reduce_agree",
    "reduce_around",
    "reduce_contact",
    "reduce_gap",
    "reduce_hand",
    "reduce_length",
    "reduce_overlap",
    "reduce_prior",
    "reduce_rival",
    "reduce_steady",
    "reduce_step",
    "reduce_sure",
    "reduce_turn",
    "reduction_findings",
    "trusted",
]


#: mm by which the lengths of a left and a right tibia differ at the most: mean and two standard
#: deviations, 3.1 and twice 2.4 (Vuurberg et al., lower leg symmetry by 3D CT, 20 pairs, abstract).
SIDES_LENGTH = 7.9
_SIDES = "Vuurberg et al., lower leg symmetry by 3D CT, abstract: 3.1 mm, standard deviation 2.4"

_MEASURED = "measured on simulated fractures of real bones, truth known"
_JOINT = (
    "Assessment of Articular Displacement of Distal Radius Fractures, abstract (step or gap above "
    "1 to 2 mm is reduced)"
)


def reduction_findings(
    reduction: Reduction,
    lying: Sequence[Displacement],
    limits: Limits,
    around: Sequence[str] = (),
) -> tuple[Finding, ...]:
    """Judge a reduction by every rule.

    Parameters
    ----------
    reduction : Reduction
        Fragments put together.
    lying : sequence of Displacement
        How each fragment lies against the fixed one.
    limits : Limits
        ``fragment_gap``, ``fragment_step`` and their greatest, as the plan takes them.
    around : sequence of str
        Names of structures that stay where they lie.

    Returns
    -------
    tuple of Finding
        One a rule, on the pair or the fragment that is worst.
    """
    told = (
        reduce_contact(reduction),
        reduce_gap(reduction, limits),
        reduce_step(reduction, limits),
        reduce_overlap(reduction),
        reduce_rival(reduction),
        reduce_steady(reduction),
        reduce_agree(reduction),
        reduce_prior(reduction, lying),
        reduce_turn(reduction),
        reduce_length(reduction),
        reduce_hand(reduction),
        reduce_around(around),
    )
    findings = tuple(finding for finding in told if finding is not None)
    return (*findings, *reduce_sure(reduction, findings))


def trusted(findings: Iterable[Finding]) -> bool:
    """Whether a reduction may be trusted in all that its surfaces can tell.

    Parameters
    ----------
    findings : iterable of Finding
        Of `reduction_findings`.

    Returns
    -------
    bool
        False where a rule fails or cannot tell; the length alone may stay unknown, for no
        surface ever tells it.
    """
    bad = (Verdict.FAIL, Verdict.UNKNOWN)
    return not any(f.verdict in bad for f in findings if f.rule != "reduce_length")


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
        return _finding(
            "reduce_contact", Verdict.FAIL, 0.0, LIMITS["contact"], "share", why, _MEASURED
        )

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
        lies = f"{who} gape by up to {gap:.1f} mm on nine tenths of the fracture"
        said = {
            Verdict.PASS: f"{lies}.",
            Verdict.CAUTION: f"{lies}: decide whether bone is missing there, or move them closer.",
            Verdict.FAIL: f"{lies}: they do not fit. Give a hint, or move them by hand.",
            Verdict.UNKNOWN: f"How far {who} gape cannot be told.",
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
        why = f"No other placement of {who} fits more than {_percent(score)} as well."
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


def reduce_prior(reduction: Reduction, lying: Sequence[Displacement]) -> Finding:
    """Judge whether a fragment came from farther away than reductions were tried over."""
    moved = [(reduction.names[one.fragment], one.rotation, one.shift) for one in lying]
    name, turn, shift = max(moved, key=lambda one: max(one[1] / MOST_TURN, one[2] / MOST_SHIFT))
    far = turn > MOST_TURN or shift > MOST_SHIFT
    lay = f"{name} was turned by {turn:.0f} degrees and moved by {shift:.0f} mm"
    why = (
        f"{lay}: reductions were tried up to {MOST_TURN:.0f} degrees and {MOST_SHIFT:.0f} mm; "
        "decide whether it can have lain so far away."
        if far
        else f"No fragment moved farther than reductions were tried: {lay}."
    )
    verdict = Verdict.CAUTION if far else Verdict.PASS
    by_turn = turn / MOST_TURN >= shift / MOST_SHIFT
    measured, limit, unit = (turn, MOST_TURN, "degrees") if by_turn else (shift, MOST_SHIFT, "mm")
    return _finding("reduce_prior", verdict, measured, limit, unit, why, "range of the tries")


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
        return _finding("reduce_turn", Verdict.UNKNOWN, slide, None, "degrees", why, _MEASURED)
    why = "The fracture's own shape settles the rotation about the shaft."
    return _finding("reduce_turn", Verdict.PASS, None, None, "degrees", why, _MEASURED)


def reduce_length(reduction: Reduction) -> Finding:
    """Say whether anything tells the length: no surface shows bone that is lost evenly."""
    short = reduction.template_short
    if reduction.pairs and all(fit.length_known for fit in reduction.pairs):
        if not math.isfinite(short):
            why = "The template tells the length of the bone."
            return _finding("reduce_length", Verdict.PASS, None, None, "mm", why, "the template")
        than = f"{abs(short):.1f} mm {'shorter' if short >= 0.0 else 'longer'} than the template"
        far = abs(short) > SIDES_LENGTH
        why = (
            f"The reduced bone is {than}, more than two sides usually differ: decide whether bone "
            "is lost, or take another template."
            if far
            else f"The reduced bone is {than}, no more than two sides may differ."
        )
        word = Verdict.CAUTION if far else Verdict.PASS
        return _finding("reduce_length", word, abs(short), SIDES_LENGTH, "mm", why, _SIDES)
    why = (
        "Whether the bone has its length cannot be told: bone lost evenly along the whole fracture "
        "leaves no sign. Compare the length with the other side, or name a template."
    )
    source = "a missing slab of 3 mm fitted perfectly in simulated fractures"
    return _finding("reduce_length", Verdict.UNKNOWN, None, None, "mm", why, source)


def reduce_hand(reduction: Reduction) -> Finding | None:
    """Name the fragments that a person moved."""
    moved = [
        name
        for name, origin in zip(reduction.names, reduction.origins, strict=True)
        if origin == "hand"
    ]
    if not moved:
        return None
    why = (
        f"{', '.join(moved)} was moved by hand: decide whether it lies right, and compare length "
        "and rotation with the other side."
    )
    return _finding("reduce_hand", Verdict.CAUTION, None, None, "", why, "the window")


def reduce_around(names: Sequence[str]) -> Finding | None:
    """Say that structures round the bone were not moved: nobody knows how they follow it."""
    if not names:
        return None
    why = (
        f"{', '.join(names)} stays where it lies in the image while fragments move: decide whether "
        "it will lie there once they are reduced, for every distance to it rests on that."
    )
    return _finding("reduce_around", Verdict.CAUTION, None, None, "", why, "the case")


def reduce_sure(reduction: Reduction, others: Sequence[Finding]) -> tuple[Finding, ...]:
    """Say what else leaves the program unsure, where no other rule has said it."""
    unsure = any(
        f.verdict in (Verdict.UNKNOWN, Verdict.FAIL) for f in others if f.rule != "reduce_length"
    )
    by_hand = "hand" in reduction.origins
    if reduction.sure or unsure or by_hand:
        return ()
    why = " ".join(reduction.doubts) or "The program is not sure of this reduction."
    return (_finding("reduce_sure", Verdict.UNKNOWN, None, None, "", why, _MEASURED),)


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
    source: str = _MEASURED,
    *,
    low: bool = False,
) -> Finding | None:
    """Finding on the pair that is worst; with `low` little is worse than much."""
    if not pairs:
        return None
    sign = -1.0 if low else 1.0
    verdict, measured, why = max(
        map(judge, pairs), key=lambda told: (told[0], sign * np.nan_to_num(told[1]))
    )
    return _finding(rule, verdict, measured, limit, unit, why, source)


def _finding(
    rule: str,
    verdict: Verdict,
    measured: float | None,
    limit: float | None,
    unit: str,
    why: str,
    source: str,
) -> Finding:
    told = measured is not None and math.isfinite(measured)
    return Finding(rule, "plan", verdict, measured if told else None, limit, unit, why, source)
