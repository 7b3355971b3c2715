"""The bone that a CT shows along each screw, as text for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._terminal.table import table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.files import CortexRecord, PlanFile, RangeRecord, ScrewRecord

__all__ = ["ct_rows", "ct_text"]

HEAD = ("id", "near wall mm", "far wall mm", "holds N", "half of it by mm", "weakest turns mm")


def ct_text(plan: PlanFile, rows: Sequence[tuple[str, ...]]) -> str:
    """What the CT of a plan shows along its screws.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    rows : sequence of tuple of str
        `ct_rows` of its screws.

    Returns
    -------
    str
        Empty where the plan has no CT.
    """
    if plan.ct is None or not plan.screws:
        return ""
    told = table(HEAD, rows)
    return f"Bone in {plan.ct.name}, by the thread beyond the fracture:\n{told}"


def ct_rows(screw: ScrewRecord) -> tuple[tuple[str, ...], ...]:
    """The row of one screw in the table of measured bone.

    Parameters
    ----------
    screw : ScrewRecord
        The screw.

    Returns
    -------
    tuple of rows
        One; none where the CT says nothing of it.
    """
    profile = screw.bone_profile
    if profile is None:
        return ()
    weak = profile.weakest
    row = (
        screw.id,
        _wall(screw.near_cortex),
        _wall(screw.far_cortex),
        _span(screw.holding),
        "?" if profile.half is None else f"{profile.half:.1f}",
        "-" if weak is None else f"{weak.start:.1f} to {weak.end:.1f}",
    )
    return (row,)


def _wall(wall: CortexRecord | None) -> str:
    if wall is None or wall.thickness is None:
        return "?"
    spread = "" if wall.spread is None else f" ± {wall.spread:.1f}"
    return f"{wall.thickness:.1f}{spread}, {wall.basis}"


def _span(held: RangeRecord | None) -> str:
    if held is None or held.low is None or held.estimate is None or held.high is None:
        return "?"
    return f"{held.estimate:.0f} ({held.low:.0f} to {held.high:.0f})"
