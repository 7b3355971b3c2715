"""What no surface tells of fragments that were moved together: reach, length, hands, the rest."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from trajplan.checks._reduction_told import MEASURED, told
from trajplan.checks._types import Finding, Verdict
from trajplan.reduction import MOST_SHIFT, MOST_TURN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.reduction import Displacement, Reduction

__all__ = ["reduce_around", "reduce_hand", "reduce_length", "reduce_prior", "reduce_sure"]

#: mm by which the lengths of a left and a right tibia differ at the most: mean and two standard
#: deviations, 3.1 and twice 2.4 (Vuurberg et al., lower leg symmetry by 3D CT, 20 pairs, abstract).
SIDES_LENGTH = 7.9
_SIDES = "Vuurberg et al., lower leg symmetry by 3D CT, abstract: 3.1 mm, standard deviation 2.4"


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
    return told("reduce_prior", verdict, measured, limit, unit, why, "range of the tries")


def reduce_length(reduction: Reduction) -> Finding:
    """Say whether anything tells the length: no surface shows bone that is lost evenly."""
    short = reduction.template_short
    if reduction.pairs and all(fit.length_known for fit in reduction.pairs):
        if not math.isfinite(short):
            why = "The template tells the length of the bone."
            return told("reduce_length", Verdict.PASS, None, None, "mm", why, "the template")
        than = f"{abs(short):.1f} mm {'shorter' if short >= 0.0 else 'longer'} than the template"
        far = abs(short) > SIDES_LENGTH
        why = (
            f"The reduced bone is {than}, more than two sides usually differ: decide whether bone "
            "is lost, or take another template."
            if far
            else f"The reduced bone is {than}, no more than two sides may differ."
        )
        word = Verdict.CAUTION if far else Verdict.PASS
        return told("reduce_length", word, abs(short), SIDES_LENGTH, "mm", why, _SIDES)
    why = (
        "Whether the bone has its length cannot be told: the template does not settle it. Take "
        "one of the same bone, or compare the length with the other side."
        if math.isfinite(reduction.template_misfit)
        else "Whether the bone has its length cannot be told: bone lost evenly along the whole "
        "fracture leaves no sign, and the bone is then too short. Compare the length with the "
        "other side, or name a template."
    )
    source = "a missing slab of 3 mm fitted perfectly in simulated fractures"
    return told("reduce_length", Verdict.UNKNOWN, None, None, "mm", why, source)


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
    return told("reduce_hand", Verdict.CAUTION, None, None, "", why, "the window")


def reduce_around(names: Sequence[str]) -> Finding | None:
    """Say that structures round the bone were not moved: nobody knows how they follow it."""
    if not names:
        return None
    why = (
        f"{', '.join(names)} stays where it lies in the image while fragments move: decide whether "
        "it will lie there once they are reduced, for every distance to it rests on that."
    )
    return told("reduce_around", Verdict.CAUTION, None, None, "", why, "the case")


def reduce_sure(reduction: Reduction, others: Sequence[Finding]) -> tuple[Finding, ...]:
    """Say what else leaves the program unsure, where no other rule has said it."""
    unsure = any(
        f.verdict in (Verdict.UNKNOWN, Verdict.FAIL) for f in others if f.rule != "reduce_length"
    )
    by_hand = "hand" in reduction.origins
    if reduction.sure or unsure or by_hand:
        return ()
    why = " ".join(reduction.doubts) or "The program is not sure of this reduction."
    return (told("reduce_sure", Verdict.UNKNOWN, None, None, "", why, MEASURED),)
