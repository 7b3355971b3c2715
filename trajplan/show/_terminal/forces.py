"""Text on forces, contact and placement error of a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._terminal.table import table

if TYPE_CHECKING:
    from trajplan.files import ChanceRecord, PlanFile, RangeRecord

__all__ = ["force_text", "option_text"]


def force_text(plan: PlanFile) -> str:
    """What screws hold, press and forgive, for a person at a terminal.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        Empty where no screw has a force.
    """
    placed = [screw for screw in plan.screws if screw.holding or screw.preload or screw.forgiving]
    if not placed:
        return ""
    head = ("id", "holds N", "squeeze N", "shear N", "forgives tilt", "shift mm", "fails by hand")
    rows = [
        (
            screw.id,
            _range(screw.holding),
            _range(screw.squeeze),
            _range(screw.shear),
            "?" if screw.forgiving is None else f"{screw.forgiving.tilt:.1f} deg",
            "?" if screw.forgiving is None else f"{screw.forgiving.shift:.2f}",
            _any(screw.placement),
        )
        for screw in placed
    ]
    return "\n".join([table(head, rows), *_together(plan)])


def _together(plan: PlanFile) -> list[str]:
    lines = []
    contact, reserve = plan.contact, plan.slip_reserve
    if contact is not None and contact.force is not None and contact.share is not None:
        lines.append(
            f"Together: {contact.force:.0f} N press {100 * contact.share:.0f} % of the fracture, "
            f"mean {_shown(contact.mean)} MPa, peak {_shown(contact.peak)} MPa (estimated preload)."
        )
    if reserve is not None and reserve.low is None and contact is not None:
        lines.append("Slip reserve, friction over shear: endless, the screws make no shear.")
    if reserve is not None and reserve.low is not None:
        high = "endless" if reserve.high is None else f"{reserve.high:.1f}"
        lines.append(
            f"Slip reserve, friction over shear: {reserve.low:.1f} to {high}; below 1 they slide."
        )
    if plan.opening_load is not None:
        least, most = plan.opening_load.low, plan.opening_load.high
        lines.append(
            f"The load of the case may grow {_shown(least)} to {_shown(most)} times before the "
            "fracture opens or slides."
        )
    return lines


def option_text(plan: PlanFile) -> str:
    """What other numbers and kinds of screws would give.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        Empty where the plan has none.
    """
    if all(option.holding is None for option in plan.options):
        return ""
    head = ("screws", "kind", "weakest holds N", "squeeze N", "pressed %", "slip reserve")
    rows = [
        (
            str(option.count),
            option.kind,
            _shown(option.holding, 0),
            _shown(option.force, 0),
            "?" if option.share is None else f"{100 * option.share:.0f}",
            "endless" if option.slip_low is None and option.force else _shown(option.slip_low),
        )
        for option in plan.options
    ]
    return "Other numbers and kinds, at the low end:\n" + table(head, rows)


def _shown(value: float | None, digits: int = 1) -> str:
    return "?" if value is None else f"{value:.{digits}f}"


def _range(values: RangeRecord | None) -> str:
    if values is None or values.low is None or values.high is None:
        return "?"
    return f"{values.low:.0f} to {values.high:.0f}"


def _any(chances: tuple[ChanceRecord, ...]) -> str:
    found = [chance for chance in chances if chance.rule == "any"]
    if not found:
        return "-"
    return f"{100 * found[0].low:.0f} to {100 * found[0].high:.0f} %"
