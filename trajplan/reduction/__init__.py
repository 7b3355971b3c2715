"""Fragments moved back together: their poses, how well they fit, and how sure that is."""

from trajplan.reduction._types import (
    Fragment,
    Hint,
    Origin,
    PairFit,
    Pose,
    Progress,
    Reduction,
    Settings,
    Slides,
    Template,
)

__all__ = [
    "Fragment",
    "Hint",
    "Origin",
    "PairFit",
    "Pose",
    "Progress",
    "Reduction",
    "Settings",
    "Slides",
    "Template",
]
