"""Fragments moved by hand, without a window: what moves, how it fits, and the way back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner import judged
from trajplan.reduction import Kept, Matcher, Pose, long_axis, measure, rim_steps, snap
from trajplan.show._reduction.probe import GapProbe

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.planner import Reduced
    from trajplan.reduction import PairFit

__all__ = ["Adjusting"]


class Adjusting:
    """A reduction whose fragments can be moved.

    Parameters
    ----------
    reduced : Reduced
        The reduction as it was opened.
    """

    def __init__(self, reduced: Reduced) -> None:
        self.opened = reduced
        self.poses = tuple(reduced.poses)
        self.picked = next(i for i in range(len(self.poses)) if i != reduced.reduction.fixed)
        self._matcher = Matcher.of(reduced.fragments)
        self._probe = GapProbe.of(reduced.fragments)
        self._kept = Kept()
        self._before: list[tuple[Pose, ...]] = []
        self._after: list[tuple[Pose, ...]] = []
        axis = long_axis(reduced.fragments, reduced.poses, reduced.reduction.fixed)
        self.axis: Vec3 = np.array([0.0, 0.0, 1.0]) if axis is None else axis

    @property
    def names(self) -> tuple[str, ...]:
        """Name of each fragment."""
        return tuple(part.name for part in self.opened.fragments)

    @property
    def moved(self) -> tuple[int, ...]:
        """Fragments that do not lie where they lay when the reduction was opened."""
        return tuple(
            number
            for number, (now, then) in enumerate(zip(self.poses, self.opened.poses, strict=True))
            if not np.array_equal(now.matrix, then.matrix)
        )

    def pick(self, number: int) -> bool:
        """Pick a fragment to be moved; the fixed one stays.

        Parameters
        ----------
        number : int
            From 0.

        Returns
        -------
        bool
            Whether it was picked.
        """
        free = 0 <= number < len(self.poses) and number != self.opened.reduction.fixed
        if free:
            self.picked = number
        return free

    def keep(self) -> None:
        """Remember the place that the next moves start from, so that one undo takes them back."""
        self._before.append(self.poses)
        self._after.clear()

    def shift(self, by: Vec3) -> None:
        """Shift the picked fragment.

        Parameters
        ----------
        by : (3,) float array, mm
        """
        matrix = np.eye(4)
        matrix[:3, 3] = by
        self._move(Pose(matrix))

    def turn(self, axis: Vec3, degrees: float) -> None:
        """Turn the picked fragment about the middle of its broken surface.

        Parameters
        ----------
        axis : (3,) unit vector
        degrees : float
            Right-handed.
        """
        from scipy.spatial.transform import Rotation

        about = self.centre()
        matrix = np.eye(4)
        matrix[:3, :3] = Rotation.from_rotvec(np.radians(degrees) * axis).as_matrix()
        matrix[:3, 3] = about - matrix[:3, :3] @ about
        self._move(Pose(matrix))

    def centre(self) -> Vec3:
        """Middle of the picked fragment's broken surface as it was opened, where it is now."""
        part, pose = self.opened.fragments[self.picked], self.poses[self.picked]
        gaps = self._probe.gaps(self.opened.poses)[self.picked]
        corners = part.vertices[part.faces]
        looks = np.isfinite(gaps)
        middle = (corners[looks] if looks.any() else corners).mean(axis=(0, 1))
        centre: Vec3 = pose.points(middle[None])[0]
        return centre

    def _move(self, by: Pose) -> None:
        poses = list(self.poses)
        poses[self.picked] = by.after(poses[self.picked])
        self.poses = tuple(poses)

    def snap(self) -> bool:
        """Let the picked fragment go to the nearest fit; whether there is one near."""
        found = snap(self._matcher, self.poses, self.picked)
        near = not np.array_equal(found[self.picked].matrix, self.poses[self.picked].matrix)
        if near:
            self.keep()
            self.poses = found
        return near

    def undo(self) -> None:
        """Take the last move back."""
        if self._before:
            self._after.append(self.poses)
            self.poses = self._before.pop()

    def redo(self) -> None:
        """Do again what was taken back."""
        if self._after:
            self._before.append(self.poses)
            self.poses = self._after.pop()

    def gaps(self) -> tuple[Floats, ...]:
        """Gap on each face of every fragment as it lies now, mm; see `GapProbe.gaps`."""
        return self._probe.gaps(self.poses)

    def fits(self) -> tuple[PairFit, ...]:
        """How fragments fit as they lie now."""
        return measure(self._matcher, self.poses, self._kept)

    def steps(self) -> tuple[Vec3s, Floats]:
        """Places beside the fracture lines, and the step at each; see `rim_steps`."""
        return rim_steps(self._matcher, self.poses, self._kept)

    def reduced(self) -> Reduced:
        """The reduction as it stands, judged again; what was moved says that it was by hand.

        Returns
        -------
        Reduced
        """
        if not self.moved:
            return self.opened
        then = self.opened.reduction
        found = {(fit.first, fit.second): fit for fit in then.pairs}
        still = {n for n in range(len(self.poses)) if n not in self.moved}
        pairs = tuple(
            found[fit.first, fit.second]
            if {fit.first, fit.second} <= still and (fit.first, fit.second) in found
            else replace(fit, length_known=False)
            for fit in self.fits()
        )
        by_hand = replace(
            then,
            poses=self.poses,
            pairs=pairs,
            origins=tuple(
                "hand" if number in self.moved else origin
                for number, origin in enumerate(then.origins)
            ),
            sure=False,
            rivals=(),
        )
        case, opened = self.opened.case, self.opened
        return judged(case, opened.surfaces, opened.fragments, by_hand, opened.template)
