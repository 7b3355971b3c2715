"""What the floor speaks in: a CT, and a map of labels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import freeze
from trajplan.errors import VolumeError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from trajplan.volume._grid import Grid

__all__ = ["Ct", "LabelMap", "Source", "as_hounsfield", "as_labels"]

#: Slices that are looked at in one go, so that no second volume has to fit the memory.
AT_ONCE = 32
#: Share of a volume from which a label leaves no background.
FULL = 0.999


@dataclass(frozen=True, slots=True)
class Source:
    """Where a volume was read from."""

    name: str  # of the file or folder
    sha256: str  # of its bytes; of a folder, of those of all slices in their order
    form: str  # "DICOM series", "DICOM segmentation", "NIfTI", "NRRD", "MetaImage"
    frame: str = ""  # DICOM's frame of reference; empty where the form has none
    kilovolts: float | None = None  # of the tube; None: not said
    kernel: str = ""  # of the reconstruction, as the scanner names it


@dataclass(frozen=True, slots=True, eq=False)
class Ct:
    """A CT volume."""

    values: NDArray[Any]  # [k, j, i] Hounsfield units, int16 or float32; NaN: no data
    grid: Grid
    source: Source
    cautions: tuple[str, ...] = ()  # one sentence each
    doubts: tuple[str, ...] = ()  # why its numbers cannot be taken for Hounsfield units


@dataclass(frozen=True, slots=True, eq=False)
class LabelMap:
    """A volume whose voxels say to what they belong; 0 is nothing."""

    values: NDArray[Any]  # [k, j, i] unsigned integers
    grid: Grid
    source: Source
    counts: Mapping[int, int]  # label -> its voxels, in rising order, without 0
    names: Mapping[int, str]  # of those labels that the file names
    cautions: tuple[str, ...] = ()  # one sentence each

    def name(self, label: int) -> str:
        """Name of a label.

        Parameters
        ----------
        label : int
            Any label.

        Returns
        -------
        str
            As the file says, or ``label 3``.
        """
        return self.names.get(label) or f"label {label}"


def as_hounsfield(values: NDArray[Any]) -> NDArray[Any]:
    """Values of a CT in the smallest type that holds them.

    Parameters
    ----------
    values : (k, j, i) array
        Numbers of any type.

    Returns
    -------
    (k, j, i) int16 or float32 array, read-only
        int16 where every value is a whole number that fits.
    """
    whole = values.dtype == np.int16 or all(_fits(part) for part in _parts(values))
    kept = values.astype(np.int16 if whole else np.float32, copy=False)
    freeze(kept)
    return kept


def as_labels(
    values: NDArray[Any],
    grid: Grid,
    source: Source,
    names: Mapping[int, str] | None = None,
    cautions: tuple[str, ...] = (),
) -> LabelMap:
    """Make a label map of numbers.

    Parameters
    ----------
    values : (k, j, i) array
        Whole numbers from 0 to 65535, of any type.
    grid : Grid
        Where they lie.
    source : Source
        Where they are from.
    names : mapping, optional
        Names of labels.
    cautions : tuple of str
        What the reader has to say.

    Returns
    -------
    LabelMap

    Raises
    ------
    VolumeError
        If a value is no label, or there is no label or no background.
    """
    counted = np.zeros(65536, dtype=np.int64)
    for part in _parts(values):
        if not _whole(part, 0, 65535):
            raise VolumeError(
                "it holds values that are no labels (labels are whole numbers from 0 to 65535)",
                remedy="name the label map, not the CT or a probability map",
                file=source.name,
            )
        counted += np.bincount(part.ravel().astype(np.int64), minlength=65536)
    counts = {int(label): int(counted[label]) for label in np.flatnonzero(counted) if label}
    if not counts:
        raise VolumeError(
            "every voxel is 0, so the label map is empty",
            remedy="segment the bone, and export its labels again",
            file=source.name,
        )
    for label, count in counts.items():
        if count > FULL * values.size:
            raise VolumeError(
                f"label {label} fills the whole volume, so nothing is outside it",
                remedy="label the bone, and leave what is round it 0",
                file=source.name,
            )
    small = values.astype(np.uint8 if max(counts) < 256 else np.uint16, copy=False)
    freeze(small)
    return LabelMap(small, grid, source, counts, dict(names or {}), cautions)


def _parts(values: NDArray[Any]) -> list[NDArray[Any]]:
    return [values[at : at + AT_ONCE] for at in range(0, len(values), AT_ONCE)]


def _fits(part: NDArray[Any]) -> bool:
    bounds = np.iinfo(np.int16)
    return _whole(part, bounds.min, bounds.max)


def _whole(part: NDArray[Any], low: int, high: int) -> bool:
    """Whether all values are whole numbers between two bounds."""
    if not (part.min() >= low and part.max() <= high):  # NaN is in no bounds
        return False
    return bool(np.issubdtype(part.dtype, np.integer) or (part == np.rint(part)).all())
