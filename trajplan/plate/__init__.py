"""Plates: laid on a bone, bent to it, and what their holes hold."""

from trajplan.plate._bed import Bed, bed_of, gap_along, signed_gap
from trajplan.plate._fit import Free, Pose, fit, shape_of
from trajplan.plate._lay import BEND_MOST, Laid, lay, starts_round
from trajplan.plate._strip import Shape, Strip, bent, make_strip, rotations, underside

__all__ = [
    "BEND_MOST",
    "Bed",
    "Free",
    "Laid",
    "Pose",
    "Shape",
    "Strip",
    "bed_of",
    "bent",
    "fit",
    "gap_along",
    "lay",
    "make_strip",
    "rotations",
    "shape_of",
    "signed_gap",
    "starts_round",
    "underside",
]
