"""Where the thread bites: the far fragment alone, and enough of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import DOES_NOT_APPLY, LIMIT_SLACK, Ruling, Verdict, grade
from trajplan.trajectory import Basis, Technique, Within

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = ["closes_gap", "near_thread", "purchase", "thread_across"]


def closes_gap(screws: Trajectories, _limits: Limits) -> Ruling:
    """Note that a position screw does not close the gap: it was asked for.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Applies to position screws only.
    """
    position = screws.technique == Technique.POSITION
    verdict = np.where(position, int(Verdict.NOTE), DOES_NOT_APPLY).astype(np.int8)
    blank = np.full(len(screws), np.nan)
    return Ruling(
        rule="closes_gap",
        verdict=verdict,
        measured=blank,
        limit=blank,
        unit="",
        source="Srinivasan et al. 2019, J Orthop Trauma, abstract as reported",
        sentences={
            Verdict.NOTE: "A position screw bites both fragments: it keeps their distance "
            "and will not close the gap."
        },
    )


def thread_across(screws: Trajectories, limits: Limits) -> Ruling:
    """Fail a lag screw whose thread can bite before the fracture, anywhere on its ring.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``thread_margin`` cautions for a partial thread.

    Returns
    -------
    Ruling
        Measures mm from the fracture's deepest crossing to the first bite; negative: across,
        which fails where there is bone of the near fragment to bite, and not in its canal.
    """
    lag = screws.technique != Technique.POSITION
    partial = screws.technique == Technique.PARTIAL
    beyond = screws.bite_from - screws.crossing.deep
    fail = np.where(screws.near_thread <= LIMIT_SLACK, -np.inf, 0.0)  # no bone there to bite
    verdict, limit = grade(
        np.where(screws.crossing.inside, beyond, np.nan),
        caution_below=np.where(partial, limits.thread_margin, fail),
        fail_below=fail,
        applies=screws.corridors.hit & lag,
    )
    return Ruling(
        rule="thread_across",
        verdict=verdict,
        measured=beyond,
        limit=limit,
        unit="mm",
        source="AO Foundation, online surgery reference, malleoli; Wheeless' Textbook of "
        "Orthopaedics, cancellous screws",
        sentences={
            Verdict.PASS: "On its whole circumference the thread bites {measured} beyond the "
            "fracture at the nearest.",
            Verdict.CAUTION: "The thread begins only {measured} beyond the fracture.",
            Verdict.FAIL: "The thread lies across the fracture, {measured} of it on the near side: "
            "it bites both fragments and nothing closes.",
            Verdict.UNKNOWN: "The axis does not cross the fracture in bone, so the thread's side "
            "cannot be told.",
        },
        below={
            Verdict.PASS: "The thread begins {measured} before the fracture, where it meets no "
            "bone of the near fragment.",
            Verdict.CAUTION: "The thread begins {measured} before the fracture, in the canal, "
            "where it bites nothing: decide on a shorter thread, or keep the reduction clamped.",
        },
    )


def near_thread(screws: Trajectories, limits: Limits) -> Ruling:
    """Fail a lag screw whose thread bites bone of the near fragment.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``near_thread``.

    Returns
    -------
    Ruling
        Measures mm of thread in near bone on the worst line of the ring.
    """
    lag = screws.technique != Technique.POSITION
    verdict, limit = grade(
        screws.near_thread, fail_above=limits.near_thread, applies=screws.corridors.hit & lag
    )
    return Ruling(
        rule="near_thread",
        verdict=verdict,
        measured=screws.near_thread,
        limit=limit,
        unit="mm",
        source="Wheeless' Textbook of Orthopaedics, lag screw theory",
        sentences={
            Verdict.PASS: "No thread to speak of bites the near fragment: {measured}, and up to "
            "{limit} is rounding.",
            Verdict.FAIL: "{measured} of thread bites the near fragment: the gap will not close.",
            Verdict.UNKNOWN: "The axis does not cross the fracture in bone, so there is no near "
            "fragment to look at.",
        },
    )


def purchase(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge the turns of thread that bite bone beyond the fracture.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``turns_least`` fails, ``turns_wanted`` cautions.

    Returns
    -------
    Ruling
        Measures turns. Unknown where inside and outside could not be told apart on the
        way, and where the thread may bite marrow: inside an assumed cortex, or in a solid model
        whose cortex nobody knows, anywhere but in a bone end. A fail is a fail even if all
        that is in doubt were bone.
    """
    perhaps = (screws.untold > 0.0) & (screws.turns < limits.turns_wanted)
    bare = (screws.walls.basis == Basis.UNKNOWN) & (screws.inside != Within.CANCELLOUS)
    doubt = (screws.doubtful > 0.0) | perhaps | bare
    assumed = screws.walls.basis == Basis.ASSUMED
    verdict, limit = grade(
        screws.turns + (screws.doubtful + screws.untold) / screws.dims.pitch,
        fail_below=limits.turns_least,
        caution_below=limits.turns_wanted,
        applies=screws.corridors.hit,
        doubt=doubt,
    )
    return Ruling(
        rule="purchase",
        verdict=verdict,
        measured=screws.turns,
        limit=limit,
        unit="turns",
        source="common practice",
        sentences={
            Verdict.PASS: "The thread holds by {measured} beyond the fracture{remark}.",
            Verdict.CAUTION: "The thread holds by only {measured} beyond the fracture{remark}; "
            "{limit} are wanted.",
            Verdict.FAIL: "The thread holds by only {measured} beyond the fracture{remark}; "
            "{limit} is the least.",
            Verdict.UNKNOWN: "How much bone the thread holds beyond the fracture cannot be told: "
            "{remark}.",
        },
        remark=lambda i: (
            _why_untold(perhaps=bool(perhaps[i]))
            if verdict[i] == Verdict.UNKNOWN
            else " (with the assumed cortex)"
            if assumed[i]
            else ""
        ),
    )


def _why_untold(*, perhaps: bool) -> str:
    if perhaps:
        return (
            "inside the assumed cortex it may bite cancellous bone, as in a bone end, or marrow, "
            "as in a shaft. Say by `bone.place` which is broken"
        )
    return (
        "the axis does not cross the fracture in bone, meets no modelled canal, or the surface is "
        "open there"
    )
