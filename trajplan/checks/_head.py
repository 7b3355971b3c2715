"""How the head sits, and whether the drill can start."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = ["drills_named", "entry_angle", "exit_angle", "head_seat", "head_support"]


def head_seat(screws: Trajectories, limits: Limits) -> Ruling:
    """Fail a head that hangs, and note one that bears on little of a circle.

    A head that rests in the hole of a plate is not judged.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws, countersunk as far as is allowed.
    limits : Limits
        ``rim_contact`` is noted, ``rim_least`` fails; shares.

    Returns
    -------
    Ruling
        Measures per cent of a circle under the head in contact.
    """
    contact = 100.0 * screws.seats.rim_contact
    verdict, limit = grade(
        contact,
        fail_below=100.0 * limits.rim_least,
        note_below=100.0 * limits.rim_contact,
        applies=screws.corridors.hit & ~screws.seats.plated,
        doubt=~screws.corridors.decided,
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
            Verdict.NOTE: "The head, or its washer, bears on only {measured} of a full circle: "
            "smooth a place for it before it is tightened.",
            Verdict.FAIL: "The head, or its washer, is not supported: it bears on only "
            "{measured} of a full "
            "circle ({limit} is the least).",
            Verdict.UNKNOWN: "How the head sits cannot be told.",
        },
    )


def head_support(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge the bone that the near fragment puts between the head and the fracture.

    A head that rests in the hole of a plate is not judged.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``support_least`` in mm fails, ``support_wanted`` in thread diameters cautions.

    Returns
    -------
    Ruling
        Measures mm from the seat to the shallowest crossing of the ring.
    """
    support = screws.crossing.shallow - screws.seats.seat
    verdict, limit = grade(
        np.where(screws.crossing.inside, support, np.nan),
        fail_below=limits.support_least,
        caution_below=limits.support_wanted * screws.dims.thread,
        applies=screws.corridors.hit & ~screws.seats.plated,
    )
    return Ruling(
        rule="head_support",
        verdict=verdict,
        measured=support,
        limit=limit,
        unit="mm",
        source="AO Foundation, online surgery reference, equine proximal phalanx, countersinking: "
        "the head must not break through; limits: assumption",
        sentences={
            Verdict.PASS: "The near fragment puts {measured} of bone between head and fracture.",
            Verdict.CAUTION: "Only {measured} of bone lies between head and fracture, where "
            "{limit} are wanted: the near fragment may crack under the head. Decide whether a "
            "thinner screw, or one further from the fracture line, does better.",
            Verdict.FAIL: "Only {measured} of bone lies between head and fracture: the head would "
            "break through ({limit} is the least).",
            Verdict.UNKNOWN: "The axis does not cross the fracture in bone, so what carries the "
            "head cannot be told.",
        },
        below={
            Verdict.FAIL: "No bone lies between head and fracture: the head sits {measured} past "
            "it ({limit} of bone is the least)."
        },
    )


def entry_angle(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge the angle at which the drill meets the surface.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``entry_angle_noted`` notes, ``entry_angle`` cautions, ``entry_angle_most`` fails;
        degrees off the normal.

    Returns
    -------
    Ruling
        Measures degrees between axis and surface normal.
    """
    verdict, limit = grade(
        screws.entry_angle,
        note_above=limits.entry_angle_noted,
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
        source="Brioschi et al. 2016, Vet Rec Open, doi 10.1136/vetreco-2016-000172, abstract "
        "(angles there are to the surface); greatest angle: assumption",
        sentences={
            Verdict.PASS: "The drill meets the surface {measured} off its normal.",
            Verdict.NOTE: "The drill meets the surface {measured} off its normal: past {limit} "
            "hands keep the direction less well, so start it square and then turn it.",
            Verdict.CAUTION: "The drill meets the surface {measured} off its normal, and past "
            "{limit} hands seldom keep the direction: decide on a sleeve or an aiming arm, or "
            "plan a squarer entry.",
            Verdict.FAIL: "The drill meets the surface {measured} off its normal and will skid "
            "({limit} is the most).",
            Verdict.UNKNOWN: "The angle to the surface cannot be told: part of the hole's rim "
            "misses the bone.",
        },
    )


def exit_angle(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge the angle at which a bicortical screw leaves the far wall.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``exit_angle`` is noted, ``exit_angle_most`` fails; degrees off the wall's normal.

    Returns
    -------
    Ruling
        Measures degrees between axis and wall normal. At a slant the tip is long on one
        side of the hole and short on the other, and the drill slides along the wall.
    """
    verdict, limit = grade(
        screws.exit_angle,
        note_above=limits.exit_angle,
        fail_above=limits.exit_angle_most,
        applies=screws.corridors.hit & screws.bicortical,
        doubt=~screws.corridors.decided,
    )
    return Ruling(
        rule="exit_angle",
        verdict=verdict,
        measured=screws.exit_angle,
        limit=limit,
        unit="degrees",
        source="geometry; limits: assumption",
        sentences={
            Verdict.PASS: "The screw leaves the far wall {measured} off its normal.",
            Verdict.NOTE: "The screw leaves the far wall {measured} off its normal, past "
            "{limit}: read the gauge on the longer side; on the other the tip stands out more.",
            Verdict.FAIL: "The screw leaves the far wall {measured} off its normal ({limit} is the "
            "most): it slides along the wall and stands out far on one side.",
            Verdict.UNKNOWN: "The angle to the far wall cannot be told: part of the screw misses "
            "it, or the surface is open there.",
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
