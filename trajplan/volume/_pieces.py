"""Labels made ready for meshing: crumbs left out, pieces told apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import freeze
from trajplan.errors import VolumeError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from trajplan.volume._image import LabelMap

__all__ = ["Crumbs", "Pieces", "apart_pieces", "touching"]

#: A piece is a crumb of segmentation below this share of its label, and this content in mm³: half
#: the bone between two turns of a small thread. Larger, it may be a fragment (a choice).
CRUMB_SHARE, CRUMB_MOST = 0.01, 60.0


@dataclass(frozen=True, slots=True)
class Crumbs:
    """Specks that were left out of a label."""

    count: int
    volume: float  # mm³, of all of them
    largest: float  # mm³


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """A label map in which every label is one piece."""

    labels: LabelMap
    origin: dict[int, int]  # label -> label of the file that it is, or is a piece of
    crumbs: dict[int, Crumbs]  # of each label of the file that has any


def apart_pieces(labels: LabelMap, wanted: Sequence[int], *, split: bool = False) -> Pieces:
    """Leave crumbs out, and see that each label is one piece.

    Parameters
    ----------
    labels : LabelMap
        The map.
    wanted : sequence of int
        Labels of it.
    split : bool
        Make each piece of a label a label of its own; the largest keeps the number.

    Returns
    -------
    Pieces

    Raises
    ------
    VolumeError
        If there is no such label, or one holds several pieces and is not to be split.

    Notes
    -----
    Voxels belong together that share a face: fragments one voxel apart stay two then.
    """
    from scipy import ndimage

    boxes = ndimage.find_objects(labels.values)
    out = np.zeros(labels.values.shape, dtype=np.uint16)
    counts: dict[int, int] = {}
    names: dict[int, str] = {}
    origin: dict[int, int] = {}
    crumbs: dict[int, Crumbs] = {}
    free = max(labels.counts) + 1
    for label in wanted:
        if label not in labels.counts:
            there = ", ".join(map(str, list(labels.counts)[:10]))
            raise VolumeError(
                f"there is no label {label}", remedy=f"name one of {there}", file=labels.source.name
            )
        box = boxes[label - 1]
        parts, _ = ndimage.label(labels.values[box] == label)
        sizes = np.bincount(parts.ravel())[1:]
        order = np.argsort(-sizes, kind="stable")
        most = max(CRUMB_MOST / labels.grid.voxel, 1.0)
        small = (sizes < CRUMB_SHARE * sizes.sum()) & (sizes < most)
        small[order[0]] = False
        if small.any():
            lost = sizes[small] * labels.grid.voxel
            crumbs[label] = Crumbs(int(small.sum()), float(lost.sum()), float(lost.max()))
        large = [int(number) for number in order if not small[number]]
        if len(large) > 1 and not split:
            raise _several(labels, label, parts, large, sizes)
        numbers = np.zeros(len(sizes) + 1, dtype=np.uint16)
        for rank, number in enumerate(large):
            new = label if rank == 0 else free
            free += rank > 0
            numbers[number + 1] = new
            counts[new], origin[new] = int(sizes[number]), label
            names[new] = labels.name(label) + (f" {rank + 1}" if len(large) > 1 else "")
        out[box] = np.maximum(out[box], numbers[parts])  # boxes of labels overlap, labels do not
    freeze(out)
    kept = replace(labels, values=out, counts=dict(sorted(counts.items())), names=names)
    return Pieces(kept, origin, crumbs)


def _several(
    labels: LabelMap, label: int, parts: NDArray[Any], large: list[int], sizes: NDArray[Any]
) -> VolumeError:
    """Refusal of a label that holds what may be several fragments."""
    told = " and ".join(f"{sizes[number] * labels.grid.voxel / 1e3:.2f}" for number in large[:3])
    more = f" cm³ and {len(large) - 3} more" if len(large) > 3 else " cm³"
    near = _voxels_between(parts, large[0], large[1])
    return VolumeError(
        f"{labels.name(label)} holds {len(large)} pieces ({told}{more}), the first two "
        f"{near} voxel{'s' * (near != 1)} apart: one label cannot say where a fracture runs",
        remedy="give each fragment a label of its own, or have each piece meshed by itself with "
        "--split",
        file=labels.source.name,
    )


def _voxels_between(parts: NDArray[Any], first: int, second: int) -> int:
    """Empty voxels between two pieces, along an edge of the volume or across."""
    from scipy import ndimage

    away = ndimage.distance_transform_cdt(parts != first + 1, metric="chessboard")
    return max(int(away[parts == second + 1].min()) - 1, 0)


def touching(labels: LabelMap) -> tuple[tuple[int, int], ...]:
    """Pairs of labels whose voxels share a face.

    Parameters
    ----------
    labels : LabelMap
        The map.

    Returns
    -------
    tuple of (int, int)
        In rising order.
    """
    found: set[tuple[int, int]] = set()
    for axis in range(3):
        ahead = np.moveaxis(labels.values, axis, 0)[1:].ravel()
        behind = np.moveaxis(labels.values, axis, 0)[:-1].ravel()
        meet = (ahead != behind) & (ahead > 0) & (behind > 0)
        pairs = np.unique(np.column_stack([ahead[meet], behind[meet]]), axis=0)
        found |= {(int(min(pair)), int(max(pair))) for pair in pairs}
    return tuple(sorted(found))
