"""Fragments moved back together: their poses, how well they fit, and how sure that is."""

from trajplan.reduction._displacement import (
    Displacement,
    JointFit,
    displacements,
    joint_fits,
    long_axis,
)
from trajplan.reduction._limits import LIMITS
from trajplan.reduction._matcher import Kept, Matcher, measure, rim_steps, snap
from trajplan.reduction._reduce import reduce_fragments
from trajplan.reduction._types import (
    MOST_SHIFT,
    MOST_TURN,
    Fragment,
    Hint,
    Origin,
    PairFit,
    Pose,
    Progress,
    Reduction,
    Rival,
    Settings,
    Slides,
    Template,
)

__all__ = [
    "LIMITS",
    "MOST_SHIFT",
    "MOST_TURN",
    "Displacement",
    "Fragment",
    "Hint",
    "JointFit",
    "Kept",
    "Matcher",
    "Origin",
    "PairFit",
    "Pose",
    "Progress",
    "Reduction",
    "Rival",
    "Settings",
    "Slides",
    "Template",
    "displacements",
    "joint_fits",
    "long_axis",
    "measure",
    "reduce_fragments",
    "rim_steps",
    "snap",
]
