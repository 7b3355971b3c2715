"""Starts from a template: where each end of a shaft lies on a whole bone, they lie to each other.

Only a start: two sides differ by more than a fit errs, so it is turned and slid a little, and the
broken surfaces decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial.transform import Rotation

from trajplan.reduction._coarse import Starts
from trajplan.reduction._fine import rigid
from trajplan.reduction._samples import inverse, sample
from trajplan.reduction._template import FIT, KEEPS, MOST_MISFIT, SEARCH, frame_of, laid, mirrored

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Floats
    from trajplan.reduction._matcher import Matcher
    from trajplan.reduction._samples import Samples
    from trajplan.reduction._types import Template

__all__ = ["template_starts"]

#: degrees between turns of a shaft about the template's long axis, and places along it (shares
#: of its length from the middle), from which its place is sought.
ROUND, PLACES = 30.0, (-0.4, -0.25, -0.1, 0.1, 0.25, 0.4)
#: degrees and mm by which a start is turned and slid: what two sides differ by, see
#: `_template.MOST_LENGTH` and `MOST_TURN`.
TURNS, SLIDES = (-10.0, -5.0, 0.0, 5.0, 10.0), (-6.0, -3.0, 0.0, 3.0, 6.0)


def template_starts(
    ready: Matcher, template: Template
) -> Callable[[int, dict[int, Floats]], Starts | None]:
    """Starts that a template gives, as a function of a piece and of the poses of those placed.

    Parameters
    ----------
    ready : Matcher
        The fragments.
    template : Template
        A bone that is not broken; it may lie anywhere.

    Returns
    -------
    callable
        Of the number of a piece and the poses of those that stand; None where the template
        cannot tell: a piece without a shaft, or one that does not lie on it.
    """
    this_side = mirrored(template)
    bone = sample(this_side.vertices, this_side.faces, ready.samples[0].spacing)
    found: dict[int, Floats | None] = {}

    def place(number: int) -> Floats | None:
        if number not in found:
            found[number] = _place(bone, ready.samples[number])
        return found[number]

    def starts(number: int, placed: dict[int, Floats]) -> Starts | None:
        mine = place(number)
        for other, pose in placed.items():
            theirs = place(other)
            if mine is not None and theirs is not None:
                return _round(ready.samples[number], pose @ inverse(theirs) @ mine)
        return None

    return starts


def _place(bone: Samples, piece: Samples) -> Floats | None:
    """Where a shaft's end lies on the template; None where it lies nowhere."""
    if piece.shaft is None:
        return None
    frame = frame_of([bone])
    length = float(np.ptp((bone.points - frame[:3, 3]) @ frame[:3, 0]))
    middle = np.average(piece.points, axis=0, weights=piece.areas)
    own = rigid(_upright(piece.shaft.axis), middle)
    about = np.radians(np.arange(0.0, 360.0, ROUND))[:, None] * [1.0, 0.0, 0.0]
    turns = Rotation.from_rotvec(about).as_matrix()
    ways = [flip @ turn for flip in (np.eye(3), np.diag([-1.0, -1.0, 1.0])) for turn in turns]
    begun = np.array(
        [
            frame @ rigid(way, np.array([share * length, 0.0, 0.0])) @ inverse(own)
            for way in ways
            for share in PLACES
        ]
    )
    rough = laid(bone, [piece], begun, SEARCH, KEEPS[:1])
    fine = laid(bone, [piece], rough.place[None], FIT)
    return fine.place if fine.misfit <= MOST_MISFIT else None


def _upright(axis: Floats) -> Floats:
    """A turn whose first column is the axis."""
    first = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
    first /= np.linalg.norm(first)
    return np.column_stack([axis, first, np.cross(axis, first)])


def _round(piece: Samples, pose: Floats) -> Starts | None:
    """A pose, turned about the shaft and slid along it a little."""
    if piece.shaft is None:
        return None
    axis = pose[:3, :3] @ piece.shaft.axis
    middle = pose[:3, :3] @ piece.break_middle + pose[:3, 3]
    turns = Rotation.from_rotvec(np.radians(np.array(TURNS))[:, None] * axis).as_matrix()
    many = np.repeat(turns @ pose[:3, :3], len(SLIDES), axis=0)
    goals = middle + np.tile(np.array(SLIDES), len(turns))[:, None] * axis
    return Starts(many, goals - many @ piece.break_middle, 0.5)
