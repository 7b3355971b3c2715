"""What each label of a map holds: its content, its pieces, where the volume cuts it off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Vec3
    from trajplan.volume._image import LabelMap

__all__ = ["LabelBody", "label_bodies"]


@dataclass(frozen=True, slots=True, eq=False)
class LabelBody:
    """One label."""

    label: int
    name: str
    voxels: int
    volume: float  # mm³
    middle: Vec3  # (3,) LPS mm, mean of its voxels
    pieces: tuple[int, ...]  # voxels of each piece, the largest first; corners do not join
    cut: tuple[str, ...]  # sides at which the volume ends and the label does not


def label_bodies(labels: LabelMap) -> tuple[LabelBody, ...]:
    """Look at every label.

    Parameters
    ----------
    labels : LabelMap
        The map.

    Returns
    -------
    tuple of LabelBody
        In rising order of their numbers.

    Notes
    -----
    Voxels belong together that share a face. Two fragments that are one voxel apart stay two
    pieces then, which voxels that share a corner would join.
    """
    from scipy import ndimage

    boxes = ndimage.find_objects(labels.values)
    found = []
    for label, voxels in labels.counts.items():
        box = boxes[label - 1]
        inside = labels.values[box] == label
        parts, _ = ndimage.label(inside)
        sizes = np.sort(np.bincount(parts.ravel())[1:])[::-1]
        start = np.array([edge.start for edge in reversed(box)])
        middle = labels.grid.points(
            np.array([[at.mean() for at in reversed(np.nonzero(inside))]]) + start
        )[0]
        found.append(
            LabelBody(
                label,
                labels.name(label),
                voxels,
                voxels * labels.grid.voxel,
                middle,
                tuple(int(size) for size in sizes),
                _cut(labels, box),
            )
        )
    return tuple(found)


def _cut(labels: LabelMap, box: tuple[slice, ...]) -> tuple[str, ...]:
    """Sides of the volume that the box of a label reaches."""
    sides = []
    for axis, edge in enumerate(reversed(box)):
        reached = (edge.start == 0, edge.stop == labels.grid.size[axis])
        sides += [labels.grid.side(axis, end) for end in (0, 1) if reached[end]]
    return tuple(sides)
