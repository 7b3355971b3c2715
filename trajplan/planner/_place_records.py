"""Where entries lie, as records of the plan file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions
from trajplan.errors import CaseError
from trajplan.files import (
    BearingsRecord,
    DistanceRecord,
    LandmarkRecord,
    PlaceRecord,
)
from trajplan.trajectory import bearings_of, places_of
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone import Bone, ShaftAxis
    from trajplan.files import Case
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Bearings, Places

__all__ = [
    "bearings_record",
    "case_bearings",
    "place_records",
    "plan_bearings",
    "refuse_askew_ends",
    "refuse_far_landmarks",
]

#: mm; a landmark this far from the bone is in another frame or unit (assumption: a palpable
#: place on a neighbouring bone, such as the other malleolus, lies nearer).
FARTHEST = 200.0
#: mm; offsets below it are not told.
LEAST_OFFSET = 1.0
#: Degrees between the shaft and the way to its proximal end past which the case does not tell the
#: ends apart: more likely two axes were taken for one another (assumption).
MOST_ASKEW = 60.0


def refuse_far_landmarks(case: Case, bone: Bone) -> None:
    """Refuse a landmark that does not lie near the bone: its frame or unit is another.

    Parameters
    ----------
    case : Case
        The case.
    bone : Bone
        The bone.

    Raises
    ------
    CaseError
        With the name and the distance.
    """
    for landmark in case.landmarks:
        at = MM_PER_UNIT[case.unit] * np.array(landmark.point)
        box = np.maximum(np.maximum(bone.audit.low - at, at - bone.audit.high), 0.0)
        away = float(np.linalg.norm(box))
        if away > FARTHEST:
            raise CaseError(
                f'the landmark "{landmark.name}" lies {away:.0f} mm away from the bone, and more '
                f"than {FARTHEST:.0f} mm is too far for it to be meant",
                remedy="check that its frame and unit are those of the bone, or leave it out",
                file=case.file,
                where="landmark",
            )


def refuse_askew_ends(case: Case, shaft: ShaftAxis) -> None:
    """Refuse a way to the proximal end that runs across the shaft: the ends would be guessed.

    Parameters
    ----------
    case : Case
        The case.
    shaft : ShaftAxis
        The long axis of its bone.

    Raises
    ------
    CaseError
        With the angle.
    """
    if case.bone.proximal is None or not shaft.found:
        return
    cosine = abs(float(as_directions(case.bone.proximal)[0] @ shaft.direction))
    angle = float(np.degrees(np.arccos(min(cosine, 1.0))))
    if angle > MOST_ASKEW:
        raise CaseError(
            f"the way to the proximal end stands {angle:.0f} degrees to the shaft, so it does not "
            "tell which end is meant",
            remedy="give it along the bone, in the frame of the mesh: "
            + ", ".join(f"{value:.2f}" for value in shaft.direction)
            + " or the other way round",
            file=case.file,
            where="bone.proximal",
        )


def case_bearings(setup: Setup) -> Bearings:
    """What the places of a case are told from.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    Bearings
    """
    case = setup.case
    proximal, approach = case.bone.proximal, setup.around.approach
    return bearings_of(
        setup.shaft,
        setup.around.zones,
        frame=case.frame,
        side=case.bone.side,
        proximal=None if proximal is None else as_directions(proximal)[0],
        toward=None if approach is None else approach.direction,
        landmarks=[
            (mark.name, MM_PER_UNIT[case.unit] * np.array(mark.point)) for mark in case.landmarks
        ],
    )


def plan_bearings(setup: Setup) -> BearingsRecord:
    """What the places of a case are told from, as a plan file holds it.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    BearingsRecord
    """
    return bearings_record(case_bearings(setup), setup)


def bearings_record(bearings: Bearings, setup: Setup) -> BearingsRecord:
    """Turn bearings into the record that a plan file holds.

    Parameters
    ----------
    bearings : Bearings
        What places are told from.
    setup : Setup
        The case.

    Returns
    -------
    BearingsRecord
    """
    return BearingsRecord(
        side=setup.case.bone.side,
        ends=bearings.ends if bearings.found else None,
        seen=tuple(bearings.seen.tolist()) if bearings.found else None,
        twelve=bearings.twelve_name if bearings.found else "",
        landmarks=tuple(
            LandmarkRecord(name=name, point=tuple(point.tolist()))
            for name, point in zip(bearings.landmarks, bearings.points, strict=True)
        ),
    )


def place_records(
    bearings: Bearings, names: Sequence[str], entries: Vec3s
) -> tuple[PlaceRecord, ...]:
    """Tell where entries lie, as records.

    Parameters
    ----------
    bearings : Bearings
        What they are told from.
    names : sequence of str
        Ids of screws and wires.
    entries : (n, 3) float array, mm
        NaN for an axis that misses the bone: it gets no record.

    Returns
    -------
    tuple of PlaceRecord
    """
    places = places_of(bearings, entries)
    there = np.flatnonzero(np.isfinite(entries).all(axis=1))
    return tuple(_record(bearings, places, names, int(i), there) for i in there)


def _record(
    bearings: Bearings, places: Places, names: Sequence[str], i: int, there: Ints
) -> PlaceRecord:
    found = bearings.found
    return PlaceRecord(
        id=names[i],
        ends=tuple(places.ends[i].tolist()) if found else None,
        tips=tuple(places.tips[i].tolist()) if found else None,
        clock=float(places.clock[i]),
        facing=bearings.facing(float(places.clock[i])) if found else "",
        fracture=float(places.fracture[i]),
        landmarks=tuple(
            _distance(bearings, name, places.landmarks[i, k], places.offsets[i, k])
            for k, name in enumerate(bearings.landmarks)
        ),
        entries=tuple(
            _distance(bearings, names[j], places.apart[i, j], places.steps[i, j])
            for j in there[there < i]
        ),
    )


def _distance(bearings: Bearings, name: str, distance: float, offsets: Floats) -> DistanceRecord:
    return DistanceRecord(
        name=name,
        distance=float(distance),
        offsets=tuple(
            (side, float(value))
            for (side, _), value in zip(bearings.sides, offsets, strict=True)
            if value >= LEAST_OFFSET
        ),
    )
