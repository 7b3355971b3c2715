"""Corridors, seat, length, holes and thread of screws along axes."""

from trajplan.trajectory._ahead import Joint
from trajplan.trajectory._axes import Axes, bundle
from trajplan.trajectory._corridors import Corridors, cast, off_wall, wall_angle, wall_slope
from trajplan.trajectory._crossing import Crossing, surface_normals
from trajplan.trajectory._dimensions import Dimensions, dimensions, stocked_below
from trajplan.trajectory._footprint import head_footprint
from trajplan.trajectory._holes import Holes, entry_hole, thread_hole
from trajplan.trajectory._inside import Inside, Within, everywhere, inside_of
from trajplan.trajectory._lengths import through_length
from trajplan.trajectory._passes import passes
from trajplan.trajectory._places import Bearings, Places, bearings_of, places_of
from trajplan.trajectory._seat import Seats
from trajplan.trajectory._technique import Settings, Technique
from trajplan.trajectory._trajectory import (
    Made,
    Trajectories,
    plan_trajectories,
    techniques,
)
from trajplan.trajectory._walls import Basis, BasisWord, Walls
from trajplan.trajectory._wire import WirePaths, plan_wires

__all__ = [
    "Axes",
    "Basis",
    "BasisWord",
    "Bearings",
    "Corridors",
    "Crossing",
    "Dimensions",
    "Holes",
    "Inside",
    "Joint",
    "Made",
    "Places",
    "Seats",
    "Settings",
    "Technique",
    "Trajectories",
    "Walls",
    "WirePaths",
    "Within",
    "bearings_of",
    "bundle",
    "cast",
    "dimensions",
    "entry_hole",
    "everywhere",
    "head_footprint",
    "inside_of",
    "off_wall",
    "passes",
    "places_of",
    "plan_trajectories",
    "plan_wires",
    "stocked_below",
    "surface_normals",
    "techniques",
    "thread_hole",
    "through_length",
    "wall_angle",
    "wall_slope",
]
