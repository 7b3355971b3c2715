"""Text on forces and contact of a plan."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.show._terminal.hands import by_hand_text, hands_text
from trajplan.show._terminal.table import WIDTH, table
from trajplan.show._words.numbers import number, percent, span_text

if TYPE_CHECKING:
    from trajplan.files import (
        ContactRecord,
        OpeningRecord,
        OptionRecord,
        PlanFile,
        ReserveRecord,
        ScrewRecord,
        SurfaceRecord,
    )

__all__ = [
    "Forces",
    "option_text",
    "reserve_text",
    "times_text",
]

#: Past this a factor says no more than that it is plenty.
PLENTY = 1000.0

#: Forces this near are one force to a reader, as a share.
SAME_FORCE = 0.05

TORQUES = (
    "Torques at the head: stripping, where the thread gives way in bone; breaking, where the core\n"
    "does (friction: see the assumptions). Past 80 % of the stripping torque, tightening adds\n"
    "nothing; stop well short of the breaking torque, and where a head begins to sink in."
)


class Forces:
    """What screws hold, press and forgive, taken down screw by screw."""

    HEAD = (
        *("id", "holds N", "stripping N·m", "breaking N·m", "compression N", "shear N"),
        *("forgives tilt", "shift mm", "by hand: harm, less"),
    )

    def __init__(self) -> None:
        self._rows: list[tuple[str, ...]] = []
        self._strips = False
        self._squeeze = 0.0

    def take(self, screw: ScrewRecord) -> None:
        """Take down one screw.

        Parameters
        ----------
        screw : ScrewRecord
            The next of the plan.
        """
        self._strips |= screw.stripping_torque is not None
        if screw.squeeze is not None and screw.squeeze.estimate is not None:
            self._squeeze += screw.squeeze.estimate
        if not (screw.holding or screw.preload or screw.forgiving):
            return
        forgiven = screw.forgiving
        row = (
            screw.id,
            span_text(screw.holding),
            span_text(screw.stripping_torque, 1),
            span_text(screw.breaking_torque, 1),
            span_text(screw.squeeze),
            span_text(screw.shear),
            "?" if forgiven is None else f"{number(forgiven.tilt)} deg",
            "?" if forgiven is None else number(forgiven.shift, 2),
            by_hand_text(screw.placement),
        )
        self._rows.append(row)

    def text(self, plan: PlanFile) -> str:
        """What was taken down, and what the screws do together.

        Parameters
        ----------
        plan : PlanFile
            The plan.

        Returns
        -------
        str
            Empty where no screw has a force.
        """
        if not self._rows:
            return ""
        torques = [TORQUES] if self._strips else []
        return "\n".join([table(self.HEAD, self._rows), *torques, *_together(plan, self._squeeze)])


def _together(plan: PlanFile, squeeze: float) -> list[str]:
    lines: list[str] = []
    contact, reserve = plan.contact, plan.slip_reserve
    if contact is not None and contact.force is not None and contact.share is not None:
        said = (
            f"Together, at the estimate: {_squeezed(squeeze, contact)}; "
            f"{100 * contact.share:.0f} % of the fracture is pressed, "
            f"mean {number(contact.mean)} MPa, peak {number(contact.peak)} MPa."
        )
        lines.append(textwrap.fill(said, WIDTH))
    if contact is not None:
        lines += _surfaces(contact)
    if reserve is not None and contact is not None:
        lines.append(f"Slip reserve, friction over shear: {reserve_text(contact, reserve)}.")
    if plan.opening_load is not None:
        lines.append(textwrap.fill(_opening(plan.opening_load), WIDTH))
    if plan.placement is not None:
        lines.append(hands_text(plan.placement))
    return lines


def _squeezed(squeeze: float, contact: ContactRecord) -> str:
    """Squeeze of all screws, and what presses where that is another number.

    Where a fracture bends, its flanks wedge: their pressures add up to more than the screws
    squeeze along its normal.
    """
    pressed = contact.force or 0.0
    said = f"the screws compress with {squeeze:.0f} N"
    if abs(pressed - squeeze) > SAME_FORCE * max(pressed, squeeze):
        said += f" (pressures along its bends add up to {pressed:.0f} N)"
    return said


def reserve_text(contact: ContactRecord, reserve: ReserveRecord) -> str:
    """Slip reserve as its range; endless only where the contact was found.

    Parameters
    ----------
    contact : ContactRecord
        How the fracture is pressed.
    reserve : ReserveRecord
        Its reserve against sliding.

    Returns
    -------
    str
    """
    if not contact.solved:
        return "cannot be told"
    if reserve.low is None:
        bends = any(surface.bends for surface in contact.surfaces)
        why = "bends of the fracture bear the shear" if bends else "the screws make no shear"
        return f"endless, {why}"
    return f"{times_text(reserve.low, reserve.high, 1)}; below 1 they slide"


def times_text(low: float, high: float | None, digits: int) -> str:
    """A range of factors; None is endless.

    Parameters
    ----------
    low : float
        Low end.
    high : float or None
        High end.
    digits : int
        After the point.

    Returns
    -------
    str
    """
    if low >= PLENTY:
        return "more than 1000"
    most = "endless" if high is None else f"{high:.{digits}f}"
    return f"{low:.{digits}f} to {'more than 1000' if high and high >= PLENTY else most}"


def _surfaces(contact: ContactRecord) -> list[str]:
    """Each surface where there are several; the zones of one that is no plane."""
    if len(contact.surfaces) != 1:
        return [_surface(surface) for surface in contact.surfaces]
    (only,) = contact.surfaces
    return [f"  pressed zone by zone: {_by_zone(only)}."] if len(only.by_zone) > 1 else []


def _by_zone(surface: SurfaceRecord) -> str:
    return ", ".join(f"{zone.zone} {percent(zone.share)}" for zone in surface.by_zone)


def _surface(surface: SurfaceRecord) -> str:
    """One surface between two fragments of several, and its zones."""
    where = " and ".join(surface.fragments) or ", ".join(surface.zones)
    if surface.screws == 0:
        return f"  {where}: no lag screw presses it."
    if surface.share is None:
        return f"  {where}: how it is pressed was not found."
    parts = f" ({_by_zone(surface)})" if len(surface.by_zone) > 1 else ""
    return (
        f"  {where}: {number(surface.force, 0)} N press {percent(surface.share)} of it{parts}, "
        f"peak {number(surface.peak)} MPa."
    )


def _least(opening: OpeningRecord) -> str:
    return "a thousandfold" if opening.least is None else f"{opening.least:.2f} times"


def _opening(opening: OpeningRecord) -> str:
    if opening.unknown:
        return f"The load of the case: cannot be told, {opening.unknown}."
    if opening.low is None:
        return "The load of the case may grow a thousandfold; the fracture stays closed and still."
    if opening.high == 0.0:
        return "The fragments slide before there is any load."
    where = f" {opening.where}" if opening.where else ""
    return (
        f"The fracture opens further or slides{where} at "
        f"{times_text(opening.low, opening.high, 2)} times the load of the case at the estimated "
        f"preload, {_least(opening)} at the least; below 1 it does before the load is reached."
    )


def option_text(plan: PlanFile) -> str:
    """What other numbers and kinds of screws would give.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        With the kinds that others beat, which no finding tells; empty where there is neither.
    """
    told = [f for f in plan.findings if f.rule == "kind_left_out" and f.verdict == "pass"]
    beaten = [textwrap.fill(finding.why, WIDTH) for finding in told]
    if all(option.holding is None for option in plan.options):
        return "\n".join(beaten)
    bare = any(option.unpressed for option in plan.options)
    head = (
        *("screws", "kind", "weakest holds N", "compression N", "pressed %", "slip reserve"),
        *(["without a screw"] if bare else []),
    )
    rows = [
        (
            str(option.count),
            option.kind,
            number(option.holding, 0),
            number(option.squeeze, 0),
            "?" if option.share is None else f"{100 * option.share:.0f}",
            _reserve(option),
            *([_fractures(option.unpressed)] if bare else []),
        )
        for option in plan.options
    ]
    title = "Other numbers and kinds; holds and slip at the low end, the rest at the estimate:"
    return "\n".join([title, table(head, rows), *beaten])


def _fractures(number: int) -> str:
    return "-" if number == 0 else f"{number} fracture{'s' * (number > 1)}"


def _reserve(option: OptionRecord) -> str:
    if option.share is None:
        return "?"
    if option.slip_low is None:
        return "endless"
    return "> 1000" if option.slip_low >= PLENTY else f"{option.slip_low:.1f}"
