"""Turn the outlook of a plan into its file records."""

from __future__ import annotations

from math import isnan
from typing import TYPE_CHECKING

from trajplan.files import (
    ContactRecord,
    ForgivingRecord,
    OpeningRecord,
    RangeRecord,
    ReserveRecord,
)
from trajplan.planner._ct import profile_record
from trajplan.planner._outlook_hands import placement_of, plan_placement
from trajplan.planner._outlook_surfaces import surface_records

if TYPE_CHECKING:
    from trajplan.mechanics import Range
    from trajplan.planner._outlook import Outlook
    from trajplan.planner._outlook_surfaces import Opening
    from trajplan.planner._setup import Setup

__all__ = ["plan_outlook", "screw_outlook"]


def screw_outlook(view: Outlook, i: int, name: str) -> dict[str, object]:
    """Forces and forgiveness of one screw, as fields of its record.

    Parameters
    ----------
    view : Outlook
        The outlook of the plan.
    i : int
        Row of the screw.
    name : str
        Its name.

    Returns
    -------
    dict
    """
    forces, forgiven = view.forces, view.forgiveness
    record: dict[str, object] = {
        "holding": _range(forces.holding, i),
        "preload": _range(forces.preload, i),
        "squeeze": _range(forces.squeeze, i),
        "shear": _range(forces.shear, i),
        "stripping_torque": _range(forces.stripping, i),
        "breaking_torque": _range(forces.breaking, i),
        "head_area": float(forces.bearing.area[i]),
        "head_pressure": _range(forces.bearing.pressure, i),
    }
    if view.turns is not None:
        gain = float(forces.holding.estimate[i] / view.middle)
        record["bone_profile"] = profile_record(view.turns, i, gain)
    if forgiven is not None:
        record["forgiving"] = ForgivingRecord(
            tilt=float(forgiven.tilt[i]), shift=float(forgiven.shift[i])
        )
    if view.by_hands is not None:
        record["placement"] = placement_of(view.by_hands.chances, name)
    return record


def plan_outlook(view: Outlook, setup: Setup) -> dict[str, object]:
    """Contact, slip, opening and placement of a plan, as fields of its record.

    Parameters
    ----------
    view : Outlook
        The outlook of the plan.
    setup : Setup
        The case.

    Returns
    -------
    dict
    """
    record: dict[str, object] = {}
    found, opening = view.pressing, view.opening
    if found is not None and found.known:
        record["contact"] = ContactRecord(
            force=found.force,
            area=found.area,
            mean=found.mean,
            peak=found.peak,
            share=found.share,
            solved=found.solved,
            surfaces=surface_records(setup, found),
        )
        record["slip_reserve"] = ReserveRecord(low=found.reserve_low, high=found.reserve_high)
    if opening is not None:
        record["opening_load"] = _opening(opening)
    if view.by_hands is not None:
        record["placement"] = plan_placement(view.by_hands)
    return record


def _opening(opening: Opening) -> OpeningRecord:
    if opening.load is None:
        return OpeningRecord(unknown=opening.why)
    load = opening.load
    return OpeningRecord(
        low=load.low,
        high=load.high,
        gap=load.gap,
        least=opening.least,
        where=opening.where.strip(),
    )


def _range(values: Range, i: int) -> RangeRecord | None:
    low, estimate, high = (float(v[i]) for v in (values.low, values.estimate, values.high))
    if isnan(low) and isnan(estimate) and isnan(high):
        return None
    return RangeRecord(low=low, estimate=estimate, high=high)
