"""Whether screws hold every fragment, where there are several fractures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.checks._types import Finding, Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["fractures_closed"]


def fractures_closed(
    closed: Sequence[tuple[int, int]],
    left: Sequence[tuple[int, int]],
    names: Sequence[str],
    *,
    plated: bool = False,
) -> Finding:
    """Judge which fractures between two fragments a screw closes.

    Parameters
    ----------
    closed, left : sequence of (int, int)
        Fragments on either side of each fracture with a screw, and of each without one.
    names : sequence of str
        Name of each fragment.
    plated : bool
        Whether a plate holds the bone too, as the case says.

    Returns
    -------
    Finding
        For the plan as a whole; measures the fractures with a screw. Fails where a fragment
        hangs on no other. A wedge that is screwed to both main fragments holds them together,
        as it is taught, if a plate protects them.

    References
    ----------
    .. [1] AO Foundation, online surgery reference, femoral shaft, lag screw and protection
       plate: an intact wedge is fixed with lag screws; a plate is always needed.
    """
    total = len(closed) + len(left)
    loose = [pair for pair in left if not _joined(closed, *pair)]
    open_ = loose or left
    between = " and ".join(f"between {names[a]} and {names[b]}" for a, b in open_)
    open_ones = f"the fracture {between} ({len(closed)} of {total} have a screw)"
    if not left:
        verdict, why = (
            Verdict.PASS,
            f"Every fracture between two fragments has a screw, {total} in all.",
        )
    elif loose and not plated:
        verdict = Verdict.FAIL
        why = f"No screw closes {open_ones}: nothing holds these fragments together."
    elif loose:
        verdict = Verdict.CAUTION
        why = f"No screw closes {open_ones}: decide whether the plate alone holds it."
    elif plated:
        verdict = Verdict.NOTE
        why = f"No screw closes {open_ones}: another fragment and the plate hold it."
    else:
        verdict = Verdict.CAUTION
        why = (
            f"No screw closes {open_ones}: only another fragment holds them together. "
            "Decide on a plate, which is usual, or on a screw there."
        )
    return Finding(
        rule="fractures_closed",
        subject="plan",
        verdict=verdict,
        measured=float(len(closed)),
        limit=float(total),
        unit="fractures",
        why=why,
        source="common practice; AO Foundation, online surgery reference, femoral shaft, lag screw "
        "and protection plate",
    )


def _joined(closed: Sequence[tuple[int, int]], a: int, b: int) -> bool:
    """Whether one fragment is reached from another over fractures with a screw."""
    reached, grown = set[int](), {a}
    while grown != reached:
        reached = grown
        grown = reached | {end for pair in closed if reached & set(pair) for end in pair}
    return b in reached
