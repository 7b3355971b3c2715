"""A CT as a folder of DICOM slices (DICOM PS3.3, C.7.6.2 and C.8.2.1, numbers from memory)."""

from __future__ import annotations

import hashlib
import io
import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import freeze
from trajplan.errors import VolumeError
from trajplan.outside import regular_file
from trajplan.volume._extra import need
from trajplan.volume._grid import grid_of
from trajplan.volume._image import Ct, Source
from trajplan.volume._memory import need_memory
from trajplan.volume._stack import stacked, tilt_cautions

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from trajplan.arrays import Ints
    from trajplan.volume._grid import Grid

__all__ = ["NO_DATA", "read_series"]

#: Value of a voxel that the scanner did not measure; every sampler takes it for no data.
NO_DATA = -32768
#: Keys of a slice that must agree in a stack, and what each is to a reader.
ALIKE = {
    "FrameOfReferenceUID": "frame of reference",
    "ImageOrientationPatient": "direction of rows and columns",
    "PixelSpacing": "size of pixels",
    "Rows": "number of rows",
    "Columns": "number of columns",
    "ConvolutionKernel": "kernel of the reconstruction",
    "KVP": "tube voltage",
    "RescaleType": "unit of the values",
}
#: Keys that place a slice; without them it has no place.
PLACE = ("ImagePositionPatient", "ImageOrientationPatient", "PixelSpacing", "Rows", "Columns")
#: Places of positions and directions that are compared: files round them.
COMPARED = 4


@dataclass(frozen=True, slots=True, eq=False)
class _Slice:
    file: Path
    head: Any  # pydicom.Dataset without its pixels


def read_series(folder: Path, tell: Callable[[int, int], None] | None = None) -> Ct:
    """Read a CT from the slices in a folder.

    Parameters
    ----------
    folder : Path
        Holds one series, a file a slice.
    tell : callable, optional
        Told how many slices of how many are read.

    Returns
    -------
    Ct

    Raises
    ------
    VolumeError
        If this is no CT, or its slices do not make one even stack.

    Notes
    -----
    Slices are put in order by their place along the normal, never by name or number. Values are
    kept as the whole numbers that they are, slope and intercept applied slice by slice.
    """
    slices, others = _heads(folder)
    with _reading(folder):
        _check_alike(slices, folder)
        order, grid = _placed(slices, folder)
    first = slices[0].head
    need_memory(int(np.prod(grid.size)), 2, folder)
    values, digest = _values(slices, order, grid.shape, tell)
    source = Source(
        folder.name,
        digest,
        "DICOM series",
        str(first.get("FrameOfReferenceUID", "")),
        _number(first, "KVP"),
        str(first.get("ConvolutionKernel", "")),
    )
    cautions = tilt_cautions(grid.matrix, _number(first, "GantryDetectorTilt"))
    if others:
        shown = ", ".join(others[:3]) + (" and others" if len(others) > 3 else "")
        cautions += (
            f"{len(others)} files in the folder are no DICOM, and were left out: {shown}.",
        )
    return Ct(values, grid, source, cautions, _doubts(slices))


def _placed(slices: Sequence[_Slice], folder: Path) -> tuple[Ints, Grid]:
    """Order of the slices, and the grid that they make."""
    first = slices[0].head
    directions = np.array(first.ImageOrientationPatient, dtype=np.float64)
    down, along = (float(edge) for edge in first.PixelSpacing)  # between rows, then columns
    positions = np.array([s.head.ImagePositionPatient for s in slices], dtype=np.float64)
    order, matrix = stacked(positions, directions[:3], directions[3:], (along, down), folder)
    return order, grid_of((first.Columns, first.Rows, len(slices)), matrix)


@contextmanager
def _reading(file: Path) -> Iterator[None]:
    """Say of which file a key holds what it must not."""
    try:
        yield
    except (ValueError, TypeError, AttributeError, OverflowError) as error:
        raise _broken(file, error) from None


def _heads(folder: Path) -> tuple[list[_Slice], list[str]]:
    """Slices of a folder without their pixels, and names of what is no DICOM."""
    pydicom = need("pydicom")
    slices, others = [], []
    for file in sorted(path for path in folder.iterdir() if not path.is_dir()):
        if file.name.startswith(".") or file.name == "DICOMDIR":
            continue
        if regular_file(file, VolumeError).st_size == 0:
            raise VolumeError(
                "the file is empty (0 bytes)", remedy="export the series again", file=file
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what is amiss in a header is told below
            try:
                head = pydicom.dcmread(file, stop_before_pixels=True)
            except pydicom.errors.InvalidDicomError:
                others.append(file.name)
                continue
            except Exception as error:  # noqa: BLE001 - a broken header breaks in any way
                raise _broken(file, error) from None
        slices.append(_Slice(file, head))
    if not slices:
        raise VolumeError(
            "there is no DICOM file in this folder",
            remedy="name the folder that holds the slices of one series",
            file=folder,
        )
    return slices, others


def _check_alike(slices: Sequence[_Slice], folder: Path) -> None:
    """Refuse what is no CT, has no place, or is more than one series."""
    for one in slices:
        _check_slice(one)
    series: dict[str, list[_Slice]] = {}
    for one in slices:
        series.setdefault(str(one.head.get("SeriesInstanceUID", "")), []).append(one)
    if len(series) > 1:
        told = "; ".join(f"{_title(some[0].head)}, {len(some)} files" for some in series.values())
        raise VolumeError(
            f"the folder holds {len(series)} series ({told})",
            remedy="put the one that is meant into a folder of its own",
            file=folder,
        )
    for key, words in ALIKE.items():
        found = {_plain(one.head.get(key)) for one in slices}
        if len(found) > 1:
            some = " and ".join(str(value) for value in sorted(found, key=str)[:2])
            raise VolumeError(
                f"slices differ in the {words} ({some})",
                remedy="put the slices of one reconstruction into a folder of their own",
                file=folder,
            )


def _check_slice(one: _Slice) -> None:
    head, modality = one.head, str(one.head.get("Modality", ""))
    if modality != "CT":
        raise VolumeError(
            f"this is no CT: the file says {modality or 'nothing'} where a CT says CT",
            remedy="name the folder of the CT series",
            file=one.file,
        )
    if int(head.get("NumberOfFrames", 1) or 1) > 1:
        raise VolumeError(
            "the file holds many slices",
            remedy="export the series with a file for each slice",
            file=one.file,
        )
    if int(head.get("SamplesPerPixel", 1)) != 1:
        raise VolumeError(
            "this is a picture in colours", remedy="leave out captured screens", file=one.file
        )
    missing = [key for key in PLACE if not head.get(key)]
    if missing:
        raise VolumeError(
            f"the slice has no place: {missing[0]} is missing",
            remedy="take out overview images, or export the series again",
            file=one.file,
        )


def _values(
    slices: Sequence[_Slice],
    order: Ints,
    shape: tuple[int, int, int],
    tell: Callable[[int, int], None] | None,
) -> tuple[NDArray[Any], str]:
    """Hounsfield units of the whole stack, and the hash of its files in their order."""
    digest = hashlib.sha256()
    values: NDArray[Any] = np.empty(shape, dtype=np.int16)
    for k, number in enumerate(order):
        one = slices[int(number)]
        content = one.file.read_bytes()
        digest.update(content)
        hounsfield = _hounsfield(one.file, content, shape[1:])
        if hounsfield.dtype != values.dtype and values.dtype == np.int16:
            values = values.astype(np.float32)
        values[k] = hounsfield
        if tell is not None:
            tell(k + 1, len(order))
    freeze(values)
    return values, digest.hexdigest()


def _hounsfield(file: Path, content: bytes, shape: tuple[int, ...]) -> NDArray[Any]:
    """Values of a slice, in int16 where they are whole numbers that fit, else float32."""
    pydicom = need("pydicom")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            data = pydicom.dcmread(io.BytesIO(content))
            raw = data.pixel_array
        except Exception as error:  # noqa: BLE001 - each decoder breaks in a way of its own
            raise _broken(file, error) from None
    if raw.shape != shape:
        raise VolumeError(
            f"the slice holds {raw.shape} pixels where its header says {shape}",
            remedy="export the series again",
            file=file,
        )
    with _reading(file):
        slope, intercept = _number(data, "RescaleSlope"), _number(data, "RescaleIntercept")
        scaled = raw * (1.0 if slope is None else slope) + (intercept or 0.0)
        scaled[raw == data.get("PixelPaddingValue")] = NO_DATA
    known = np.abs(scaled[scaled != NO_DATA])
    whole = known.max(initial=0.0) < -NO_DATA and bool((known == np.rint(known)).all())
    hounsfield: NDArray[Any] = scaled.astype(np.int16 if whole else np.float32)
    return hounsfield


def _doubts(slices: Sequence[_Slice]) -> tuple[str, ...]:
    """Say why the values may be no Hounsfield units."""
    doubts = []
    if any(one.head.get("RescaleIntercept") is None for one in slices):
        doubts.append("The files do not say how stored values become Hounsfield units.")
    unit = str(slices[0].head.get("RescaleType", "HU") or "HU")
    if unit != "HU":
        doubts.append(f'The files give values in "{unit}", not in Hounsfield units.')
    return tuple(doubts)


def _title(head: Any) -> str:  # noqa: ANN401 - a pydicom dataset
    number, text = head.get("SeriesNumber"), str(head.get("SeriesDescription", "") or "no title")
    return f'number {number} "{text}"' if number is not None else f'"{text}"'


def _plain(value: Any) -> Any:  # noqa: ANN401 - any value of a header
    """A value that can be compared: numbers rounded, lists as tuples."""
    if value is None or isinstance(value, str):
        return value or None
    try:
        return tuple(round(float(part), COMPARED) for part in value)
    except TypeError:
        return round(float(value), COMPARED)
    except ValueError:
        return str(value)


def _number(head: Any, key: str) -> float | None:  # noqa: ANN401 - a pydicom dataset
    value = head.get(key)
    return None if value is None or value == "" else float(value)


def _broken(file: Path, error: Exception) -> VolumeError:
    return VolumeError(
        f"the slice cannot be read ({error})",
        remedy="export the series again, uncompressed",
        file=file,
    )
