"""Plates: laid on a bone, bent to it, and what their holes hold."""

from trajplan.plate._bed import Bed, bed_of, gap_along, signed_gap
from trajplan.plate._compress import (
    FirstFragment,
    Travel,
    first_fragment,
    plate_travel,
)
from trajplan.plate._fit import Free, Pose, fit, shape_of
from trajplan.plate._holes import Lag, cone_share, fracture_under, lag_through, tilted, tilts
from trajplan.plate._lay import BEND_MOST, Laid, lay, starts_round
from trajplan.plate._screws import PlateScrews, check_screw, head_balls, plate_screws
from trajplan.plate._strip import Shape, Strip, bent, make_strip, rotations, underside
from trajplan.plate._uses import Use, drill_offsets, hole_uses, reach_past

__all__ = [
    "BEND_MOST",
    "Bed",
    "FirstFragment",
    "Free",
    "Lag",
    "Laid",
    "PlateScrews",
    "Pose",
    "Shape",
    "Strip",
    "Travel",
    "Use",
    "bed_of",
    "bent",
    "check_screw",
    "cone_share",
    "drill_offsets",
    "first_fragment",
    "fit",
    "fracture_under",
    "gap_along",
    "head_balls",
    "hole_uses",
    "lag_through",
    "lay",
    "make_strip",
    "plate_screws",
    "plate_travel",
    "reach_past",
    "rotations",
    "shape_of",
    "signed_gap",
    "starts_round",
    "tilted",
    "tilts",
    "underside",
]
