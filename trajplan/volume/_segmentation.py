"""A label map as DICOM keeps it: a segmentation object (PS3.3, A.51, number from memory)."""

from __future__ import annotations

import hashlib
import io
import warnings
from typing import TYPE_CHECKING, Any

from trajplan.errors import VolumeError
from trajplan.volume._extra import need
from trajplan.volume._grid import grid_of
from trajplan.volume._image import Source, as_labels
from trajplan.volume._memory import need_memory

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.volume._image import LabelMap

__all__ = ["is_dicom", "read_segmentation"]

#: Where a DICOM file says that it is one (PS3.10, 7.1, from memory).
PREAMBLE = 128


def is_dicom(file: Path) -> bool:
    """Whether a file begins as DICOM files do.

    Parameters
    ----------
    file : Path
        A regular file.

    Returns
    -------
    bool
    """
    with file.open("rb") as stream:
        return stream.read(PREAMBLE + 4)[PREAMBLE:] == b"DICM"


def read_segmentation(file: Path) -> LabelMap:
    """Read a DICOM segmentation.

    Parameters
    ----------
    file : Path
        The file.

    Returns
    -------
    LabelMap
        Slices that the file leaves out because they are empty are empty in it.

    Raises
    ------
    VolumeError
        If this is no segmentation, its segments overlap or are probabilities, or its slices do
        not make one even stack.
    """
    highdicom = need("highdicom")
    content = file.read_bytes()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what is amiss is told by the error
        try:
            head = need("pydicom").dcmread(io.BytesIO(content), stop_before_pixels=True)
            _check(head, file)
            need_memory(int(head.NumberOfFrames) * head.Rows * head.Columns, 2, file)
            segments = highdicom.seg.segread(io.BytesIO(content))
            volume = segments.get_volume(combine_segments=True)
        except VolumeError:
            raise
        except Exception as error:  # noqa: BLE001 - a broken file breaks in any way
            raise VolumeError(
                f"the segmentation cannot be read ({error})",
                remedy="export it again, its segments apart from each other",
                file=file,
            ) from None
    names = {int(one.SegmentNumber): str(one.SegmentLabel) for one in head.SegmentSequence}
    names.pop(0, None)  # the background of a label map
    digest = hashlib.sha256(content).hexdigest()
    source = Source(
        file.name, digest, "DICOM segmentation", str(head.get("FrameOfReferenceUID", ""))
    )
    # highdicom counts slices, rows, columns; its matrix takes them in that order
    grid = grid_of(volume.array.shape[::-1], volume.affine[:, [2, 1, 0, 3]])
    return as_labels(volume.array, grid, source, names)


def _check(head: Any, file: Path) -> None:  # noqa: ANN401 - a pydicom dataset
    modality = str(head.get("Modality", ""))
    if modality != "SEG":
        raise VolumeError(
            f"this is no segmentation: the file says {modality or 'nothing'} where one says SEG",
            remedy="name the segmentation, or for a CT the folder of its series",
            file=file,
        )
    if str(head.get("SegmentationType", "")) == "FRACTIONAL":
        raise VolumeError(
            "its segments are probabilities, not labels",
            remedy="export the segmentation as binary",
            file=file,
        )
