"""A surface that crosses itself, told once a line of a plan has met it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.bone import self_crossings
from trajplan.checks import Finding, Verdict

if TYPE_CHECKING:
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Corridors

__all__ = ["contradicts", "crossing_faces"]


def contradicts(corridors: Corridors) -> bool:
    """Whether bone could not be told from air on the way of some axis or ring.

    Parameters
    ----------
    corridors : Corridors
        Axes as cast.

    Returns
    -------
    bool
        Of a canal that may be air nothing is said here.
    """
    return bool((corridors.hit & ~corridors.decided & ~corridors.unsure_gap).any())


def crossing_faces(setup: Setup, *, doubt: bool) -> tuple[Finding, ...]:
    """Say how many faces of the bone cross one another.

    Parameters
    ----------
    setup : Setup
        The case.
    doubt : bool
        Whether some line contradicts itself, as `contradicts` tells: every crossing leaves
        room that lies inside twice, or less than outside. Without it no time is spent on a
        search.

    Returns
    -------
    tuple of Finding
        One on the plan, or none: fragments that fit cross each other by the noise of their
        surfaces, and how deep is a rule by itself.
    """
    if not doubt:
        return ()
    found = self_crossings(setup.bone, fitted=_fitted(setup))
    if not found.words:
        return ()
    return (
        Finding(
            rule="surface_crossing",
            subject="plan",
            verdict=Verdict.CAUTION,
            measured=float(len(found.faces)),
            limit=0.0,
            unit="faces",
            why=f"{found.words}. Screws that run there are not judged: decide whether to plan "
            "with them, or on a better surface.",
            source="geometry",
        ),
    )


def _fitted(setup: Setup) -> list[tuple[int, int]]:
    """Bodies that face each other as fragments do, and overlap by no more than noise."""
    return [
        (min(report.fragments), max(report.fragments))
        for report in setup.around.reports
        if report.overlap.depth <= setup.limits.overlap
    ]
