"""Provisional wires along axes: thin, smooth, and gone when the screws are in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import covered
from trajplan.trajectory._corridors import cast, wall_angle
from trajplan.trajectory._crossing import cross, zone_depth

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.bone import Bone
    from trajplan.fracture import Zone
    from trajplan.trajectory._axes import Axes
    from trajplan.trajectory._corridors import Corridors
    from trajplan.trajectory._crossing import Crossing

__all__ = ["WirePaths", "plan_wires"]

#: Lines round a wire: it is thin, eight see its wall as well as sixteen see a screw's.
WIRE_RING = 8


@dataclass(frozen=True, slots=True, eq=False)
class WirePaths:
    """``n`` wires through a bone, each to the outer end of its far wall; depths from the entry."""

    corridors: Corridors
    crossing: Crossing
    diameter: Floats  # (n,) mm
    entry_angle: Floats  # (n,) degrees between wire and the normal of the near wall
    near: Floats  # (n,) mm of wire in bone before the fracture
    far: Floats  # (n,) mm of wire in bone beyond it

    def __len__(self) -> int:
        return len(self.diameter)


def plan_wires(
    bone: Bone, axes: Axes, diameter: Floats, zones: Sequence[Zone], zone: Ints
) -> WirePaths:
    """Work out ``n`` wires along ``n`` axes.

    Parameters
    ----------
    bone : Bone
        The bone.
    axes : Axes
        Axes from the end that is drilled to the tip.
    diameter : (n,) float array, mm
        Diameter of each wire.
    zones : sequence of Zone
        Planar zones of the fracture.
    zone : (n,) int array
        Zone that each wire is to cross.

    Returns
    -------
    WirePaths
    """
    depth, _ = zone_depth(zones, zone, axes.origin, axes.direction)
    corridors = cast(bone, axes, diameter / 2.0, ring=WIRE_RING, crossing=depth, zones=zones)
    crossing = cross(corridors, zones, zone)
    low, high = (np.repeat(v, WIRE_RING + 1) for v in (np.zeros(len(axes)), corridors.exit))
    at = np.repeat(crossing.axis, WIRE_RING + 1)
    near = covered(corridors.solid, low, at)[:: WIRE_RING + 1]
    far = covered(corridors.solid, at, high)[:: WIRE_RING + 1]
    return WirePaths(
        corridors=corridors,
        crossing=crossing,
        diameter=diameter,
        entry_angle=wall_angle(corridors.line_entry[:, 1:], corridors.radius),
        near=np.where(crossing.inside, near, np.nan),
        far=np.where(crossing.inside, far, np.nan),
    )
