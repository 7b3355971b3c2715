"""Fragments made ready once: sampled, labelled, their trees built; then measured in any pose."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import CaseError
from trajplan.reduction._assemble import TOGETHER, beside
from trajplan.reduction._fine import Fit
from trajplan.reduction._labels import label
from trajplan.reduction._measure import Body, Kept, measure_pairs, steps
from trajplan.reduction._samples import inverse, own_frame, sample
from trajplan.reduction._types import Pose

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3s
    from trajplan.reduction._samples import Samples
    from trajplan.reduction._types import Fragment, PairFit

__all__ = ["Kept", "Matcher", "measure", "rim_steps", "snap"]

#: Cells to a fragment's half width, and the least and greatest cell, mm: finer cells keep the
#: noise, coarser ones lose the edges (measured between 0.5 and 1.2 mm on tubes of 5 to 14 mm).
CELLS, FINEST, COARSEST = 12.0, 0.5, 1.2
#: Fragments that one reduction takes.
MOST_FRAGMENTS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Matcher:
    """Fragments made ready for fitting and measuring; build it once with `Matcher.of`."""

    fragments: tuple[Fragment, ...]
    by_size: tuple[int, ...]  # fragments: ends of a shaft, then others, each the largest first
    frame: Floats  # (4, 4) own frame of the largest: what is computed in it no motion changes
    samples: tuple[Samples, ...]  # labelled, in `frame`
    bodies: tuple[Body, ...]  # as they lie

    @classmethod
    def of(cls, fragments: Sequence[Fragment]) -> Matcher:
        """Sample and label fragments, and build their trees.

        Parameters
        ----------
        fragments : sequence of Fragment
            Two to six.

        Returns
        -------
        Matcher

        Raises
        ------
        CaseError
            If there are too few or too many fragments, or two are the same.
        DegenerateError
            If a fragment has no area.
        """
        _refuse(fragments)
        frames = [own_frame(one.vertices, one.faces) for one in fragments]
        areas = [_area(one) for one in fragments]
        by_size = sorted(range(len(fragments)), key=lambda k: (-areas[k], k))
        frame = frames[by_size[0]][0]
        widths = [np.sqrt(frames[k][1][1:].sum()) for k in by_size[:2]]
        spacing = float(np.clip(min(widths) / CELLS, FINEST, COARSEST))
        back = inverse(frame)
        samples = [sample(one.vertices, one.faces, spacing).moved(back) for one in fragments]
        samples, by_size = _labelled(samples, by_size)
        bodies = tuple(map(Body.of, fragments, (one.moved(frame) for one in samples)))
        return cls(tuple(fragments), tuple(by_size), frame, tuple(samples), bodies)

    def inner(self, pose: Floats) -> Floats:
        """A pose in the frame of the largest fragment."""
        return inverse(self.frame) @ pose @ self.frame

    def outer(self, pose: Floats) -> Floats:
        """A pose in the frame of the largest fragment, as one of the case."""
        return self.frame @ pose @ inverse(self.frame)


def measure(
    matcher: Matcher, poses: Sequence[Pose], kept: Kept | None = None
) -> tuple[PairFit, ...]:
    """Measure how fragments fit in given poses; fast enough to follow a hand.

    Parameters
    ----------
    matcher : Matcher
        The fragments.
    poses : sequence of Pose
        One a fragment, from as it lies.
    kept : Kept, optional
        Handed in by the caller from one call to the next: fragments that did not move against
        each other are not looked at again.

    Returns
    -------
    tuple of PairFit
        Of fragments that face each other; certainty is not measured (NaN).
    """
    matrices = [pose.matrix for pose in poses]
    return tuple(measure_pairs(matcher.bodies, matrices, kept))


def rim_steps(
    matcher: Matcher, poses: Sequence[Pose], kept: Kept | None = None
) -> tuple[Vec3s, Floats]:
    """Places of the outer walls beside the fracture lines, and the step at each.

    Parameters
    ----------
    matcher : Matcher
        The fragments.
    poses : sequence of Pose
        One a fragment, from as it lies.
    kept : Kept, optional
        What `measure` kept: the steps along the lines that it found, fast enough to follow a hand.

    Returns
    -------
    points : (n, 3) float array, mm
        Halfway between the walls.
    step : (n,) float array, mm
        Height of one wall over the other, absolute.
    """
    return steps(matcher.bodies, [pose.matrix for pose in poses], kept)


def snap(matcher: Matcher, poses: Sequence[Pose], fragment: int) -> tuple[Pose, ...]:
    """Fit one fragment to all others, from where it is: the nearest fit, not the best one.

    Parameters
    ----------
    matcher : Matcher
        The fragments.
    poses : sequence of Pose
        One a fragment.
    fragment : int
        The one that moves.

    Returns
    -------
    tuple of Pose
        As they were where nothing near the fragment fits.
    """
    inner = {number: matcher.inner(pose.matrix) for number, pose in enumerate(poses)}
    fit = Fit.of(beside(matcher.samples, inner, fragment), inner[fragment], TOGETHER)
    if fit is None:
        return tuple(poses)
    moved = Pose(matcher.outer(fit.pose))
    return tuple(moved if number == fragment else pose for number, pose in enumerate(poses))


def _refuse(fragments: Sequence[Fragment]) -> None:
    if not 2 <= len(fragments) <= MOST_FRAGMENTS:
        raise CaseError(
            f"{len(fragments)} fragment{'s' if len(fragments) != 1 else ''} to put together",
            remedy=f"give 2 to {MOST_FRAGMENTS} fragments, each as a mesh of its own",
        )
    for one, other in combinations(fragments, 2):
        same = one.vertices.shape == other.vertices.shape and one.faces.shape == other.faces.shape
        if same and np.array_equal(one.vertices, other.vertices):
            raise CaseError(
                f"{one.name} and {other.name} are the same mesh",
                remedy="give each fragment once",
            )


def _area(fragment: Fragment) -> float:
    a, b, c = fragment.vertices[fragment.faces].transpose(1, 0, 2)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


def _labelled(samples: list[Samples], by_size: list[int]) -> tuple[list[Samples], list[int]]:
    """Label fragments; the two largest that are a shaft's end come first, the rest stay open."""
    middles: list[Vec3s] = [np.average(one.points, axis=0, weights=one.areas) for one in samples]
    labelled = [
        label(one, np.mean(middles[:k] + middles[k + 1 :], axis=0) - middles[k])
        for k, one in enumerate(samples)
    ]
    ends = [number for number in by_size if labelled[number].shaft is not None][:2]
    order = ends + [number for number in by_size if number not in ends]
    for number in order[len(ends) :]:
        labelled[number] = label(samples[number], None)
    return labelled, order
