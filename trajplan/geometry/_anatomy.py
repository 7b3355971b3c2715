"""What the letters of a coordinate frame mean: LPS, RAS, and the other forty-six."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Vec3

__all__ = ["DIRECTIONS", "OPPOSITE", "anatomy_directions"]

#: Letters of patient directions and their words (DICOM PS3.3 C.7.6.1.1.1 has L, R, A, P, H, F;
#: S and I, superior and inferior, are what NIfTI and NRRD write for H and F).
DIRECTIONS = {
    "L": "left",
    "R": "right",
    "A": "anterior",
    "P": "posterior",
    "S": "superior",
    "I": "inferior",
}
OPPOSITE = {"L": "R", "R": "L", "A": "P", "P": "A", "S": "I", "I": "S"}
#: Head and foot, as DICOM has them.
OTHER_NAMES = {"H": "S", "F": "I"}


def anatomy_directions(frame: str) -> dict[str, Vec3]:
    """Directions of the patient in a frame named by three letters.

    Parameters
    ----------
    frame : str
        Such as ``"LPS"``: x runs to the patient's left, y to the back, z to the head.

    Returns
    -------
    dict of str to (3,) float array
        A unit vector for each of ``L R A P S I``; empty where the label is no such frame.
    """
    letters = [OTHER_NAMES.get(letter, letter) for letter in frame.strip().upper()]
    if {frozenset((one, OPPOSITE.get(one, ""))) for one in letters} != PAIRS or len(letters) != 3:
        return {}
    axes = np.eye(3)
    named = {letter: axes[k] for k, letter in enumerate(letters)}
    return named | {OPPOSITE[letter]: -axis for letter, axis in named.items()}


PAIRS = {frozenset("LR"), frozenset("AP"), frozenset("SI")}
