"""Reading volumes, whatever their form."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.errors import VolumeError
from trajplan.outside import is_folder, regular_file
from trajplan.volume._extra import need
from trajplan.volume._grid import grid_of
from trajplan.volume._image import Ct, Source, as_hounsfield, as_labels
from trajplan.volume._memory import need_memory
from trajplan.volume._nifti import nifti_head
from trajplan.volume._peaks import scale_doubt
from trajplan.volume._segmentation import is_dicom, read_segmentation
from trajplan.volume._series import read_series
from trajplan.volume._text_heads import meta_head, nrrd_head

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from trajplan.volume._head import Head
    from trajplan.volume._image import LabelMap

__all__ = ["FORMS", "is_volume", "read_ct", "read_labels", "read_volume"]

#: Endings of volume files, and what reads their headers.
FORMS: dict[str, Callable[[Path], Head]] = {
    ".nii": nifti_head,
    ".nii.gz": nifti_head,
    ".nrrd": nrrd_head,
    ".mha": meta_head,
    ".mhd": meta_head,
}
#: Labels of a map at most, where nobody says whether it is one.
MOST_LABELS = 1000
#: mm by which a header and the library may differ on the place of a corner.
AGREE = 0.01
#: No CT of a limb or a trunk stays below this, HU: cancellous bone lies above (common practice).
BONE_LEAST = 200


def is_volume(path: Path) -> bool:
    """Whether a name is that of a volume: a folder, a volume file or a DICOM file.

    Parameters
    ----------
    path : Path
        Any path.

    Returns
    -------
    bool
    """
    if is_folder(path) or _form(path) is not None:
        return True
    return path.suffix.lower() in ("", ".dcm") and path.is_file() and is_dicom(path)


def read_ct(path: str | Path, tell: Callable[[int, int], None] | None = None) -> Ct:
    """Read a CT.

    Parameters
    ----------
    path : str or Path
        A folder with the slices of one DICOM series, or a NIfTI, NRRD or MetaImage file.
    tell : callable, optional
        Told how many slices of how many are read.

    Returns
    -------
    Ct
        In LPS, mm.

    Raises
    ------
    VolumeError
        If it cannot be read, has no certain place, or is no CT.
    """
    path = Path(path)
    if is_folder(path):
        found = read_series(path, tell)
    else:
        values, head, digest = _read_file(path, "name the folder of the series, not a slice of it")
        source = Source(path.name, digest, head.form)
        found = Ct(as_hounsfield(values), head.grid, source, head.cautions)
    _check_ct(found, path)
    doubt = scale_doubt(found)
    return found if doubt is None else replace(found, doubts=(*found.doubts, doubt))


def read_labels(path: str | Path) -> LabelMap:
    """Read a label map.

    Parameters
    ----------
    path : str or Path
        A DICOM segmentation, or a NIfTI, NRRD or MetaImage file.

    Returns
    -------
    LabelMap
        In LPS, mm.

    Raises
    ------
    VolumeError
        If it cannot be read, has no certain place, or is no label map.
    """
    path = Path(path)
    if is_folder(path):
        raise VolumeError(
            "this is a folder, and a label map is a file", remedy="name the file", file=path
        )
    if _form(path) is None and regular_file(path, VolumeError).st_size and is_dicom(path):
        return read_segmentation(path)
    values, head, digest = _read_file(path, "")
    source = Source(path.name, digest, head.form)
    return as_labels(values, head.grid, source, cautions=head.cautions)


def read_volume(path: str | Path, tell: Callable[[int, int], None] | None = None) -> Ct | LabelMap:
    """Read a CT or a label map, whichever it is.

    Parameters
    ----------
    path : str or Path
        As for `read_ct` or `read_labels`.
    tell : callable, optional
        Told how many slices of how many are read.

    Returns
    -------
    Ct or LabelMap
        A folder is a CT, a DICOM file a label map. Another file is a label map if it holds
        nothing but whole numbers from 0 on, and no more than 1000 of them: a CT has air.

    Raises
    ------
    VolumeError
        If it cannot be read, or has no certain place.
    """
    path = Path(path)
    if is_folder(path):
        return read_ct(path, tell)
    if _form(path) is None:
        return read_labels(path)
    values, head, digest = _read_file(path, "")
    source = Source(path.name, digest, head.form)
    if values.min() >= 0:
        try:
            labels = as_labels(values, head.grid, source, cautions=head.cautions)
        except VolumeError:
            pass  # no label map: perhaps a CT
        else:
            if len(labels.counts) <= MOST_LABELS:
                return labels
    found = Ct(as_hounsfield(values), head.grid, source, head.cautions)
    _check_ct(found, path)
    doubt = scale_doubt(found)
    return found if doubt is None else replace(found, doubts=(*found.doubts, doubt))


def _form(path: Path) -> Callable[[Path], Head] | None:
    name = path.name.lower()
    return next((head for ending, head in FORMS.items() if name.endswith(ending)), None)


def _read_file(path: Path, dicom_remedy: str) -> tuple[NDArray[Any], Head, str]:
    """Voxels of a file, its header and its hash."""
    size = regular_file(path, VolumeError).st_size
    if size == 0:
        raise VolumeError("the file is empty (0 bytes)", remedy="export it again", file=path)
    form = _form(path)
    if form is None:
        raise VolumeError(
            "this is a DICOM file" if is_dicom(path) else f'no volume ends in "{path.suffix}"',
            remedy=(is_dicom(path) and dicom_remedy) or f"name a file in {', '.join(FORMS)}",
            file=path,
        )
    head = form(path)
    need_memory(int(np.prod(head.grid.size)), head.bytes_each, path)
    digest = hashlib.sha256()
    for file in head.files:
        digest.update(file.read_bytes())
    return _voxels(path, head), head, digest.hexdigest()


def _voxels(path: Path, head: Head) -> NDArray[Any]:
    """Read by SimpleITK, and hold what it says of the place against the header."""
    sitk = need("SimpleITK")
    sitk.ProcessObject.SetGlobalWarningDisplay(False)
    reader = sitk.ImageFileReader()
    reader.SetImageIO(head.reader)
    reader.SetFileName(str(path))
    try:
        image = reader.Execute()
    except (RuntimeError, MemoryError) as error:
        why = str(error).rstrip().splitlines()[-1].removeprefix("ITK ERROR: ")
        raise VolumeError(
            f"the voxels cannot be read ({why})", remedy="copy or export it again", file=path
        ) from None
    values: NDArray[Any] = sitk.GetArrayFromImage(image)
    if values.size != np.prod(head.grid.shape):
        raise _two_ways(path)
    values = values.reshape(head.grid.shape)  # a fourth dimension of one volume is none
    dims = image.GetDimension()
    matrix = np.eye(4)
    turn = np.reshape(image.GetDirection(), (dims, dims))[:3, :3]
    matrix[:3, :3] = turn * np.array(image.GetSpacing()[:3])
    matrix[:3, 3] = image.GetOrigin()[:3]
    if not _same(head.grid.corners(), head.grid.size, matrix):
        raise _two_ways(path)
    return values


def _two_ways(path: Path) -> VolumeError:
    return VolumeError(
        "its header can be read in two ways, which put the bone in different places",
        remedy="export it again, its edges square to each other",
        file=path,
    )


def _same(corners: NDArray[Any], size: tuple[int, int, int], matrix: NDArray[Any]) -> bool:
    apart = np.linalg.norm(corners - grid_of(size, matrix).corners(), axis=1)
    return bool(apart.max() < AGREE)


def _check_ct(found: Ct, path: Path) -> None:
    most = max(float(np.nanmax(part)) for part in found.values)
    if not most > BONE_LEAST:
        raise VolumeError(
            f"no value is above {most:g}, so this is no CT of bone in Hounsfield units",
            remedy="name the CT as the scanner wrote it, in Hounsfield units",
            file=path,
        )
