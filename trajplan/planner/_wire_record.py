"""Turn provisional wires into their file records."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.files import WireRecord
from trajplan.planner._screw_record import finding_record, stretches

if TYPE_CHECKING:
    from trajplan.planner._setup import Setup
    from trajplan.planner._wires import Wires

__all__ = ["wire_records"]


def wire_records(wires: Wires, setup: Setup) -> tuple[WireRecord, ...]:
    """Turn the wires of a plan into the records that a plan file holds.

    Parameters
    ----------
    wires : Wires
        The wires.
    setup : Setup
        The case.

    Returns
    -------
    tuple of WireRecord
    """
    return tuple(_record(wires, i, setup) for i in range(len(wires.ids)))


def _record(wires: Wires, i: int, setup: Setup) -> WireRecord:
    paths = wires.paths
    corridors, crossing = paths.corridors, paths.crossing
    entry, direction = corridors.axes.origin[i], corridors.axes.direction[i]
    known, _ = stretches(corridors, i)
    return WireRecord(
        id=wires.ids[i],
        kind=wires.kinds[i].kind,
        diameter=wires.kinds[i].diameter,
        zone=setup.around.zones[int(crossing.zone[i])].id,
        entry=tuple(entry.tolist()),
        exit=tuple((entry + corridors.exit[i] * direction).tolist()),
        direction=tuple(direction.tolist()),
        intervals=known,
        fracture_depth=float(crossing.axis[i]),
        near_hold=float(paths.near[i]),
        far_hold=float(paths.far[i]),
        tilt=float(crossing.tilt[i]),
        findings=tuple(finding_record(finding) for finding in wires.findings[i]),
    )
