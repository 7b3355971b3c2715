"""Length and turn of the reduced bone, held against a bone that is not broken.

The whole reduced bone is laid on the template first, then each of its two main fragments by
itself; how far the two then come apart is how much the reduction is short or turned against the
template. A template is never used for the last millimetre: sides differ by more than a fit errs
(tibia: length 3.1 +- 2.4 mm, torsion 4.0 +- 2.7 degrees, Vuurberg et al., 20 pairs; femur:
torsion 4.45 +- 3.17 degrees, Ferras-Tarrago et al. 2020, J Clin Med 9:3546).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from trajplan.reduction._coarse import Cloud
from trajplan.reduction._fine import apart, rigid
from trajplan.reduction._near import nearest
from trajplan.reduction._samples import inverse, sample
from trajplan.reduction._types import NAN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats
    from trajplan.reduction._matcher import Matcher
    from trajplan.reduction._samples import Samples
    from trajplan.reduction._types import Template

__all__ = [
    "FIT",
    "KEEPS",
    "MOST_MISFIT",
    "SEARCH",
    "Compared",
    "compare",
    "frame_of",
    "laid",
    "mirrored",
]

#: mm and degrees: what two sides may differ by (mean and 1.64 standard deviations of the tibia's
#: length and of the femur's torsion above: 19 of 20 people differ by less).
MOST_LENGTH, MOST_TURN = 7.0, 9.7
#: mm: where seven tenths of the outer wall do not lie so near the template, it is of another
#: bone (found templates lay at 0.5 to 2.1 mm, failed searches at 4 to 7).
MOST_MISFIT = 2.5
#: mm and degrees: a fragment that may slide or turn so much on the template tells nothing: a
#: plain tube slides along itself.
MOST_SLIDE, MOST_SPIN = 1.5, 3.0
#: Samples for the search and for the fit.
SEARCH, FIT = 150, 2500
#: Share of the samples that must find a partner, at first and at last: walls of a canal find
#: none on a solid template.
KEEPS = (0.5, 0.95)
#: Weight of point to point, see `_coarse.PULL`: here it must not hinder a fragment from sliding.
PULL = 1e-3
#: Share of the outer wall that the misfit speaks of, and the least misfit that is believed, mm.
MOST, LEAST_MISFIT = 0.7, 0.2
#: degrees between turns about the long axis, and mm along it, from which the search starts.
ROUND, SLIDES = 30.0, (-15.0, 0.0, 15.0)
#: mm²: see `_certainty.PATCH`.
PATCH = 9.0


@dataclass(frozen=True, slots=True)
class Compared:
    """A reduction against a template; NaN: the template cannot tell."""

    misfit: float = NAN  # mm, seven tenths of the outer wall lie nearer
    short: float = NAN  # mm, above zero: the reduced bone is shorter than the template
    turn: float = NAN  # degrees, about the shaft

    @property
    def length_agrees(self) -> bool:
        """Whether the length is that of the template, within what two sides differ by."""
        return abs(self.short) <= MOST_LENGTH

    @property
    def turn_agrees(self) -> bool:
        """The same for the turn."""
        return self.turn <= MOST_TURN

    def doubts(self) -> list[str]:
        """What speaks against the reduction, one sentence each."""
        if not self.misfit <= MOST_MISFIT:
            far = (
                f"The template lies {self.misfit:.1f} mm from the reduced bone: it is of another "
                "bone, or the reduction is wrong."
            )
            return [far]
        said = []
        if abs(self.short) > MOST_LENGTH:
            way = "shorter" if self.short > 0.0 else "longer"
            said.append(
                f"The reduced bone is {abs(self.short):.0f} mm {way} than the template: more than "
                "two sides differ."
            )
        if self.turn > MOST_TURN:
            said.append(
                f"The reduced bone is turned by {self.turn:.0f} degrees against the template: more "
                "than two sides differ."
            )
        return said


def mirrored(template: Template) -> Template:
    """The template of this side."""
    if not template.mirror:
        return template
    flip = template.vertices * np.array([-1.0, 1.0, 1.0])
    return type(template)(flip, template.faces[:, ::-1])


def compare(ready: Matcher, poses: dict[int, Floats], template: Template) -> Compared:
    """Hold a reduction against a template.

    Parameters
    ----------
    ready : Matcher
        The fragments.
    poses : dict
        Of all fragments, in the frame of the matcher, (4, 4) mm.
    template : Template
        A bone that is not broken; it may lie anywhere.

    Returns
    -------
    Compared
        All NaN but the misfit where the template does not fit.
    """
    this_side = mirrored(template)
    spacing = ready.samples[0].spacing
    bone = sample(this_side.vertices, this_side.faces, spacing)
    reduced = [one.moved(poses[number]) for number, one in enumerate(ready.samples)]
    rough = laid(bone, reduced, _starts(bone, reduced), SEARCH, KEEPS[:1])
    whole = laid(bone, reduced, rough.place[None], FIT)
    first, second = ready.by_size[:2]
    shaft = reduced[first].shaft
    if whole.misfit > MOST_MISFIT or shaft is None:
        return Compared(misfit=whole.misfit)
    ends = [laid(bone, [reduced[number]], whole.place[None], FIT) for number in (first, second)]
    middle = reduced[second].break_middle
    way = apart(inverse(ends[0].place) @ ends[1].place, np.eye(4), middle)
    axis = shaft.axis
    slide, spin = (
        max(spreads) for spreads in zip(*(_free(one, axis) for one in ends), strict=True)
    )
    return Compared(
        misfit=whole.misfit,
        short=float(way[3:] @ axis) if slide <= MOST_SLIDE else NAN,
        turn=float(np.degrees(abs(way[:3] @ axis))) if spin <= MOST_SPIN else NAN,
    )


def _starts(bone: Samples, reduced: Sequence[Samples]) -> Floats:
    """Long axis on long axis, either way round, turned about it and slid along it."""
    frames = [frame_of([bone]), frame_of(reduced)]
    turns = Rotation.from_rotvec(
        np.radians(np.arange(0.0, 360.0, ROUND))[:, None] * [1.0, 0.0, 0.0]
    )
    flips = np.stack([np.eye(3), np.diag([-1.0, -1.0, 1.0])])
    starts = []
    for flip in flips:
        for turn in turns.as_matrix():
            for slide in SLIDES:
                inner = rigid(flip @ turn, np.array([slide, 0.0, 0.0]))
                starts.append(frames[0] @ inner @ inverse(frames[1]))
    return np.array(starts)


def frame_of(parts: Sequence[Samples]) -> Floats:
    """Frame of the samples: long axis first, middle of the length."""
    points = np.concatenate([part.points for part in parts])
    areas = np.concatenate([part.areas for part in parts])
    middle = np.average(points, axis=0, weights=areas)
    axes = np.linalg.eigh(((points - middle).T * areas) @ (points - middle))[1][:, ::-1]
    axes[:, 2] = np.cross(axes[:, 0], axes[:, 1])
    along = (points - middle) @ axes[:, 0]
    return rigid(axes, middle + 0.5 * (along.min() + along.max()) * axes[:, 0])


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """Samples laid on a template."""

    place: Floats  # (4, 4) mm
    misfit: float  # mm
    normal: Floats  # (6, 6) normal matrix, weights in mm²


def laid(
    bone: Samples,
    parts: Sequence[Samples],
    starts: Floats,
    most: int,
    keeps: tuple[float, ...] = KEEPS,
) -> _Laid:
    """Lay samples on a template from the best of some starts."""
    rows = [np.flatnonzero(~part.broken | part.broken.all()) for part in parts]
    points = np.concatenate([part.points[row] for part, row in zip(parts, rows, strict=True)])
    normals = np.concatenate([part.normals[row] for part, row in zip(parts, rows, strict=True)])
    step = max(1, len(points) // most)
    cloud = Cloud(bone.points, -bone.normals, points[::step], normals[::step])
    turns, shifts = starts[:, :3, :3], starts[:, :3, 3]
    for keep in keeps:
        turns, shifts = cloud.match(turns, shifts, keep, pull=PULL)
    misfits = [_misfit(bone, cloud, turn, shift) for turn, shift in zip(turns, shifts, strict=True)]
    best = int(np.argmin(misfits))
    normal = cloud.normal_of(turns[best], shifts[best]) * (step * parts[0].spacing ** 2)
    return _Laid(rigid(turns[best], shifts[best]), misfits[best], normal)


def _misfit(bone: Samples, cloud: Cloud, turn: Floats, shift: Floats) -> float:
    """Distance that most of the outer wall keeps from the template, mm."""
    points, normals = cloud.points_b @ turn.T + shift, cloud.normals_b @ turn.T
    away, row = nearest(cKDTree(bone.points), points)
    outer = np.einsum("ij,ij->i", normals, bone.normals[row]) > 0.0  # a canal looks inwards
    return float(np.quantile(away[outer], MOST)) if outer.any() else np.inf


def _free(laid: _Laid, axis: Floats) -> tuple[float, float]:
    """How far a fragment may slide (mm) and turn (degrees) along its axis on the template."""
    inverse_ = np.linalg.inv(laid.normal / PATCH + 1e-9 * np.eye(6))
    spread = max(laid.misfit, LEAST_MISFIT) ** 2 * inverse_
    along = laid.place[:3, :3] @ axis
    slide = float(np.sqrt(along @ spread[3:, 3:] @ along))
    return slide, float(np.degrees(np.sqrt(along @ spread[:3, :3] @ along)))
