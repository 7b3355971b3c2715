"""How the head sits, and whether the drill can start."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = ["drills_named", "entry_angle", "head_seat"]


def head_seat(screws: Trajectories, limits: Limits) -> Ruling:
    """Caution a head that bears on too little of a circle.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws, countersunk as far as is allowed.
    limits : Limits
        ``rim_contact``, a share.

    Returns
    -------
    Ruling
        Measures per cent of a circle under the head in contact.
    """
    contact = 100.0 * screws.seats.rim_contact
    verdict, limit = grade(
        contact, caution_below=100.0 * limits.rim_contact, applies=screws.corridors.hit
    )
    return Ruling(
        rule="head_seat",
        verdict=verdict,
        measured=contact,
        limit=limit,
        unit="%",
        source="AO Foundation, online surgery reference, equine proximal phalanx, countersinking; "
        "limit: assumption",
        sentences={
            Verdict.PASS: "The head bears on {measured} of a full circle.",
            Verdict.CAUTION: "The head, or its washer, bears on only {measured} of a full circle "
            "even after the deepest countersink allowed: turn the axis squarer to the surface.",
            Verdict.UNKNOWN: "How the head sits cannot be told.",
        },
    )


def entry_angle(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge the angle at which the drill meets the surface.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``entry_angle`` cautions, ``entry_angle_most`` fails; degrees off the normal.

    Returns
    -------
    Ruling
        Measures degrees between axis and surface normal.
    """
    verdict, limit = grade(
        screws.entry_angle,
        caution_above=limits.entry_angle,
        fail_above=limits.entry_angle_most,
        applies=screws.corridors.hit,
    )
    return Ruling(
        rule="entry_angle",
        verdict=verdict,
        measured=screws.entry_angle,
        limit=limit,
        unit="degrees",
        source="Brioschi et al. 2016, Vet Rec Open, doi 10.1136/vetreco-2016-000172, abstract; "
        "greatest angle: assumption",
        sentences={
            Verdict.PASS: "The drill meets the surface {measured} off its normal.",
            Verdict.CAUTION: "The drill meets the surface {measured} off its normal and may skid "
            "(past {limit}): start it square and then turn it, or use a sleeve.",
            Verdict.FAIL: "The drill meets the surface {measured} off its normal and will skid "
            "({limit} is the most).",
            Verdict.UNKNOWN: "The angle to the surface cannot be told: part of the hole's rim "
            "misses the bone.",
        },
    )


def drills_named(screws: Trajectories, _limits: Limits) -> Ruling:
    """Say where no source names the drill for the thread hole.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Applies only where the catalogue has no thread hole.
    """
    missing = screws.corridors.hit & np.isnan(screws.dims.thread_hole)
    verdict, limit = grade(screws.dims.thread_hole, applies=missing)
    return Ruling(
        rule="drills_named",
        verdict=verdict,
        measured=screws.dims.thread_hole,
        limit=limit,
        unit="mm",
        source="the catalogue",
        sentences={
            Verdict.UNKNOWN: "No source of the catalogue names the drill for this screw's thread "
            "hole: take it from the maker's instructions."
        },
    )
