"""Placement error: planned screws put in a little off their line, by the same cast and rules."""

from trajplan.tolerance._chances import Chances, wilson
from trajplan.tolerance._forgiving import Forgiveness, forgiving
from trajplan.tolerance._placement import (
    FAILURES,
    HARM,
    PAIRS,
    RULES,
    SPARE,
    Hands,
    place,
)
from trajplan.tolerance._scatter import (
    FREE_HAND,
    WAYS,
    Scatter,
    Way,
    WayWord,
    deviation,
    scattered,
    turned,
)
from trajplan.tolerance._ways import Compared, ErrorWord, compared, scatter_of_way

__all__ = [
    "FAILURES",
    "FREE_HAND",
    "HARM",
    "PAIRS",
    "RULES",
    "SPARE",
    "WAYS",
    "Chances",
    "Compared",
    "ErrorWord",
    "Forgiveness",
    "Hands",
    "Scatter",
    "Way",
    "WayWord",
    "compared",
    "deviation",
    "forgiving",
    "place",
    "scatter_of_way",
    "scattered",
    "turned",
    "wilson",
]
