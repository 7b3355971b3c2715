"""Planes, rings, fans and segments: numpy only, no mesh, no file."""

from trajplan.geometry._anatomy import DIRECTIONS, OPPOSITE, anatomy_directions
from trajplan.geometry._fit import FittedPlane, fit_plane
from trajplan.geometry._planes import Plane, frames, from_plane, plane_depth, to_plane
from trajplan.geometry._rings import fan, ring_offsets
from trajplan.geometry._segments import (
    segment_segment_distance,
    segment_triangle_distance,
)

__all__ = [
    "DIRECTIONS",
    "OPPOSITE",
    "FittedPlane",
    "Plane",
    "anatomy_directions",
    "fan",
    "fit_plane",
    "frames",
    "from_plane",
    "plane_depth",
    "ring_offsets",
    "segment_segment_distance",
    "segment_triangle_distance",
    "to_plane",
]
