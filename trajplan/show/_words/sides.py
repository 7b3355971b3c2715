"""Which way a picture looks: the sides of the body, by letters, and the ends of the bone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.geometry import DIRECTIONS, anatomy_directions

if TYPE_CHECKING:
    from trajplan.arrays import Vec3
    from trajplan.files import BearingsRecord

__all__ = ["arms", "side_name"]

#: Cosine of the angle within which an end of the bone, or a letter alone, names a direction.
NEAR = float(np.cos(np.radians(45.0)))
#: Names of ends that are directions already.
UNNAMED = {*DIRECTIONS.values(), *(f"{sign}{axis}" for sign in "+\N{MINUS SIGN}" for axis in "xyz")}
#: Sine of half an eighth of a round: a letter that has less of a direction is left out.
LEAST = float(np.sin(np.radians(22.5)))


def arms(frame: str, bearings: BearingsRecord) -> list[tuple[str, Vec3]]:
    """Directions that an orientation cross shows, with their labels.

    Parameters
    ----------
    frame : str
        Label of the frame, such as ``"LPS"``.
    bearings : BearingsRecord
        Of the plan: it names the ends of the bone.

    Returns
    -------
    list of (str, (3,) float array)
        Six letters, those along the bone with the name of its end where the case says which
        is which; the three axes of the file where the frame names no side of the body.
    """
    compass = anatomy_directions(frame)
    if not compass:
        return [(f"+{'xyz'[k]}", axis) for k, axis in enumerate(np.eye(3))]
    return [(_with_end(letter, way, bearings), way) for letter, way in compass.items()]


def _with_end(letter: str, way: Vec3, bearings: BearingsRecord) -> str:
    return " ".join(filter(None, [letter, _end_of(way, bearings) or _limb_side(letter, bearings)]))


def _end_of(way: Vec3, bearings: BearingsRecord) -> str:
    """End of the bone that lies in a direction; empty where no end has a name of its own."""
    if bearings.ends is None or bearings.seen is None or bearings.ends[0] in UNNAMED:
        return ""
    along = float(np.asarray(bearings.seen) @ way)
    return bearings.ends[int(along < 0.0)] if abs(along) > NEAR else ""


def _limb_side(letter: str, bearings: BearingsRecord) -> str:
    """Medial or lateral, where the case says which limb it is."""
    if bearings.side is None or letter not in ("L", "R"):
        return ""
    return "lateral" if letter == bearings.side[0].upper() else "medial"


def side_name(frame: str, bearings: BearingsRecord, way: Vec3) -> str:
    """Name a direction as radiographs are marked.

    Parameters
    ----------
    frame : str
        Label of the frame.
    bearings : BearingsRecord
        Of the plan.
    way : (3,) float array
        Unit vector.

    Returns
    -------
    str
        Up to two letters, that which has more of the direction first (as DICOM's Patient
        Orientation, PS3.3 C.7.6.1.1.1), and the end of the bone that lies there, such as
        "SL (proximal)"; axes of the file where the frame names no side of the body.
    """
    compass = anatomy_directions(frame)
    if compass:
        share = {letter: float(axis @ way) for letter, axis in compass.items()}
        letters = sorted((s for s in share if share[s] > LEAST), key=lambda s: -share[s])
        text = "".join(letters[:2])
    else:
        k = int(np.abs(way).argmax())
        text = ("+" if way[k] > 0.0 else "\N{MINUS SIGN}") + "xyz"[k]
    named = _end_of(way, bearings) or (_limb_side(text[:1], bearings) if compass else "")
    return f"{text} ({named})" if named else text
