"""What tightening should stay below: estimates beside a step, never a number to aim at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._drill.draft import Draft, filled, joined, literal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trajplan.files import RangeRecord, ScrewRecord

__all__ = ["torques"]


def torques(screws: Sequence[ScrewRecord]) -> Draft:
    """Torques at the head at which thread and core of screws are estimated to give way.

    Parameters
    ----------
    screws : sequence of ScrewRecord
        Screws that one step tightens.

    Returns
    -------
    Draft
        Without words where no torque is known.
    """
    known = [screw for screw in screws if _known(screw.stripping_torque, screw.breaking_torque)]
    if not known:
        return Draft("", "")
    return joined(
        Draft("", " Torques at the head, estimated for comparison, not as a target:"),
        *(_of(screw, ";" if screw is not known[-1] else ".") for screw in known),
        Draft(
            "",
            " Past 80 % of what strips, tightening adds nothing; stop well short of what breaks.",
        ),
        *_sinking(known),
    )


def _sinking(screws: Sequence[ScrewRecord]) -> Iterator[Draft]:
    """Heads that sink in before any of those torques: the estimate of `head_pressure` is past 1."""
    sinks = [
        literal(screw.id)
        for screw in screws
        for finding in screw.findings
        if finding.rule == "head_pressure" and (finding.measured or 0.0) > 1.0
    ]
    if sinks:
        heads = "its head is" if len(sinks) == 1 else "their heads are"
        yield Draft(
            "",
            f" Of {', '.join(sinks)} long before: {heads} expected to sink in. Stop when head or "
            "washer begins to.",
        )


def _of(screw: ScrewRecord, end: str) -> Draft:
    return filled(
        "",
        screw,
        f" {literal(screw.id)} strips in the bone at {{stripping_torque.low}} to "
        "{stripping_torque.high} N·m, its core gives way at {breaking_torque.low} to "
        f"{{breaking_torque.high}} N·m{end}",
    )


def _known(*ranges: RangeRecord | None) -> bool:
    return all(r is not None and r.low is not None and r.high is not None for r in ranges)
