"""Header of a NIfTI-1 file: the standard's ``nifti1.h``, written by the NIfTI working group."""

from __future__ import annotations

import gzip
import struct
import zlib
from typing import TYPE_CHECKING

import numpy as np

from trajplan.volume._grid import grid_of
from trajplan.volume._head import MOST_VOXELS, Head, cut_short, not_three, wrong_head

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.arrays import Floats

__all__ = ["nifti_head"]

#: Bytes of the header, and places of what is read from it (nifti1.h, from memory; the tests read
#: files back that SimpleITK wrote).
LENGTH = 348
DIM, DATATYPE, PIXDIM, OFFSET, UNITS, QFORM, SFORM, MAGIC = 40, 70, 76, 108, 123, 252, 254, 344
#: Bytes that are unpacked in one go.
CHUNK = 1 << 24
#: Bytes of a voxel by the code of its type; a code that is not here holds several values.
BYTES = {2: 1, 256: 1, 4: 2, 512: 2, 8: 4, 768: 4, 16: 4, 64: 8, 1024: 8, 1280: 8}
#: mm by the code of the unit of length; 0: not said.
LENGTHS = {1: 1000.0, 2: 1.0, 3: 0.001}
#: mm by which the two places that a file may give may differ at a corner.
AGREE = 0.1
#: NIfTI's axes run to the right, to the front and up; those of LPS to the left, back and up.
TO_LPS = np.diag([-1.0, -1.0, 1.0, 1.0])


def nifti_head(file: Path) -> Head:
    """Read the header of a NIfTI file.

    Parameters
    ----------
    file : Path
        ``.nii`` or ``.nii.gz``.

    Returns
    -------
    Head

    Raises
    ------
    VolumeError
        If it is none, or does not say in one way where the volume lies.
    """
    packed = file.name.lower().endswith(".gz")
    content = _start(file, packed=packed)
    if len(content) < LENGTH:
        raise cut_short(file, len(content), LENGTH)
    order = next((o for o in "<>" if struct.unpack(o + "i", content[:4])[0] == LENGTH), "")
    if not order or content[MAGIC : MAGIC + 4] != b"n+1\0":
        raise wrong_head("this is no NIfTI-1 file in one piece", file, "save it as NIfTI-1, .nii")
    dim = struct.unpack_from(order + "8h", content, DIM)
    if dim[0] < 3 or any(count > 1 for count in dim[4 : dim[0] + 1]):
        raise not_three(f"{dim[0]} dimensions", file)
    size = dim[1:4]
    if not all(1 < count <= MOST_VOXELS for count in size):
        raise wrong_head(f"its size {size} is that of no volume", file)
    (kind,) = struct.unpack_from(order + "h", content, DATATYPE)
    if kind not in BYTES:
        raise not_three("several values a voxel", file)
    (offset,) = struct.unpack_from(order + "f", content, OFFSET)
    wanted = int(offset) + int(np.prod(size, dtype=np.int64)) * BYTES[kind]
    there = _unpacked(file) if packed else file.stat().st_size
    if there < wanted:
        raise cut_short(file, there, wanted)
    scale, cautions = _unit(content[UNITS] & 7, file)
    grid = grid_of(size, TO_LPS @ np.diag([scale] * 3 + [1.0]) @ _place(content, order, size, file))
    return Head(grid, BYTES[kind], (file,), "NIfTI", "NiftiImageIO", cautions)


def _unpacked(file: Path) -> int:
    """Bytes that a gzip file holds: the library reads one that is cut short without a word."""
    there = 0
    try:
        with gzip.open(file) as stream:
            while part := stream.read(CHUNK):
                there += len(part)
    except (gzip.BadGzipFile, zlib.error, EOFError):
        raise wrong_head("the gzip file is cut short or broken", file) from None
    return there


def _start(file: Path, *, packed: bool) -> bytes:
    try:
        with gzip.open(file) if packed else file.open("rb") as stream:
            return stream.read(LENGTH)
    except (gzip.BadGzipFile, zlib.error, EOFError):
        raise wrong_head("the file is no gzip file, or a broken one", file) from None


def _unit(code: int, file: Path) -> tuple[float, tuple[str, ...]]:
    if code == 0:
        return 1.0, ("The file names no unit of length; it is read as millimetres.",)
    if code not in LENGTHS:
        raise wrong_head(f"its unit of length has the unknown code {code}", file)
    return LENGTHS[code], ()


def _place(content: bytes, order: str, size: tuple[int, ...], file: Path) -> Floats:
    """The matrix that the file gives, in its unit; both of its ways must say the same."""
    qform, sform = struct.unpack_from(order + "hh", content, QFORM)
    if qform <= 0 and sform <= 0:
        raise wrong_head(
            "the file does not say where the volume lies (qform and sform codes are 0)",
            file,
            "export it from the CT again, with its place",
        )
    places = []
    if sform > 0:
        rows = struct.unpack_from(order + "12f", content, SFORM + 26)
        places.append(np.vstack([np.reshape(rows, (3, 4)), [0, 0, 0, 1]]))
    if qform > 0:
        places.append(_quaternion(content, order))
    corners = [grid_of(size, place).corners() for place in places]
    apart = float(np.linalg.norm(corners[0] - corners[-1], axis=1).max())
    if not np.isfinite(places).all() or abs(np.linalg.det(places[0][:3, :3])) < 1e-12:
        raise wrong_head("the place that the file gives is none", file)
    if apart > AGREE:
        shown = [np.array2string(c[0], precision=1, separator=", ") for c in corners]
        raise wrong_head(
            f"the file gives two places that differ by {apart:.1f} (sform: first voxel at "
            f"{shown[0]}; qform: at {shown[1]})",
            file,
            "export it from the CT again, or set both to the one that is right",
        )
    place: Floats = places[0]
    return place


def _quaternion(content: bytes, order: str) -> Floats:
    """The matrix of the quaternion (nifti1.h, method 2)."""
    b, c, d, x, y, z = struct.unpack_from(order + "6f", content, SFORM + 2)
    pixdim = struct.unpack_from(order + "4f", content, PIXDIM)
    a = np.sqrt(max(0.0, 1.0 - b * b - c * c - d * d))
    turn = np.array([
        [a * a + b * b - c * c - d * d, 2 * (b * c - a * d), 2 * (b * d + a * c)],
        [2 * (b * c + a * d), a * a + c * c - b * b - d * d, 2 * (c * d - a * b)],
        [2 * (b * d - a * c), 2 * (c * d + a * b), a * a + d * d - b * b - c * c],
    ])  # fmt: skip
    edges = np.array([pixdim[1], pixdim[2], pixdim[3] * (-1.0 if pixdim[0] < 0 else 1.0)])
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = turn * edges, (x, y, z)
    return matrix
