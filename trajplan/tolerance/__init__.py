"""Placement error: planned screws put in a little off their line, by the same cast and rules."""

from trajplan.tolerance._forgiving import Forgiveness, forgiving
from trajplan.tolerance._placement import FAILURES, Chances, Hands, place, wilson
from trajplan.tolerance._scatter import Scatter, scattered, turned

__all__ = [
    "FAILURES",
    "Chances",
    "Forgiveness",
    "Hands",
    "Scatter",
    "forgiving",
    "place",
    "scattered",
    "turned",
    "wilson",
]
