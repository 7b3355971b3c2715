"""Fractures from a plane, from picked points or from a surface; their planar zones."""

from trajplan.fracture._along import FractureLength, fracture_length, obliquity
from trajplan.fracture._between import fracture_between, reports_of_fragments
from trajplan.fracture._foreign import foreign_bodies
from trajplan.fracture._local import LOCAL_REACH, local_normals
from trajplan.fracture._nearest import (
    beside_fracture,
    joins_pair,
    near_fracture,
    nearest_zone,
)
from trajplan.fracture._pair_report import pair_name
from trajplan.fracture._patch import fracture_from_surface
from trajplan.fracture._planar import fracture_from_plane, fracture_from_points
from trajplan.fracture._section import cut
from trajplan.fracture._types import (
    Flatness,
    Fracture,
    Offset,
    Overlap,
    PairReport,
    PlaneFit,
    Turn,
    Zone,
)
from trajplan.fracture._zone import (
    candidate_points,
    distance_to_outline,
    fracture_depth,
    outline,
    whole_region,
)
from trajplan.fracture._zones import zones_from_patch

__all__ = [
    "LOCAL_REACH",
    "Flatness",
    "Fracture",
    "FractureLength",
    "Offset",
    "Overlap",
    "PairReport",
    "PlaneFit",
    "Turn",
    "Zone",
    "beside_fracture",
    "candidate_points",
    "cut",
    "distance_to_outline",
    "foreign_bodies",
    "fracture_between",
    "fracture_depth",
    "fracture_from_plane",
    "fracture_from_points",
    "fracture_from_surface",
    "fracture_length",
    "joins_pair",
    "local_normals",
    "near_fracture",
    "nearest_zone",
    "obliquity",
    "outline",
    "pair_name",
    "reports_of_fragments",
    "whole_region",
    "zones_from_patch",
]
