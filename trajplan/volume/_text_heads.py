"""Headers that are text: NRRD (format of the Teem library, version 5) and MetaImage."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import VolumeError
from trajplan.outside import regular_file
from trajplan.volume._grid import grid_of
from trajplan.volume._head import MOST_VOXELS, Head, cut_short, not_three, wrong_head

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.arrays import Floats
    from trajplan.volume._grid import Grid

__all__ = ["meta_head", "nrrd_head"]

#: Bytes of a header at most.
LONGEST = 1 << 20
#: Axes of a space, as signs that turn them into LPS.
SPACES = {
    "left-posterior-superior": (1, 1, 1),
    "lps": (1, 1, 1),
    "right-anterior-superior": (-1, -1, 1),
    "ras": (-1, -1, 1),
    "left-anterior-superior": (1, -1, 1),
    "las": (1, -1, 1),
}
#: Bytes of a voxel by the name of its type, the longest name first.
NRRD_BYTES = {
    "char": 1, "uchar": 1, "int8": 1, "uint8": 1, "short": 2, "ushort": 2, "int16": 2, "uint16": 2,
    "int": 4, "uint": 4, "int32": 4, "uint32": 4, "float": 4, "double": 8, "longlong": 8,
    "ulonglong": 8, "int64": 8, "uint64": 8,
}  # fmt: skip
META_BYTES = {
    "MET_CHAR": 1, "MET_UCHAR": 1, "MET_SHORT": 2, "MET_USHORT": 2, "MET_INT": 4, "MET_UINT": 4,
    "MET_FLOAT": 4, "MET_DOUBLE": 8, "MET_LONG": 4, "MET_ULONG": 4, "MET_LONG_LONG": 8,
    "MET_ULONG_LONG": 8,
}  # fmt: skip


def nrrd_head(file: Path) -> Head:
    """Read the header of a NRRD file.

    Parameters
    ----------
    file : Path
        ``.nrrd``, header and voxels in one file.

    Returns
    -------
    Head

    Raises
    ------
    VolumeError
        If it is none, or does not say where the volume lies.
    """
    content = _start(file)
    text, _, _ = content.partition(b"\n\n")
    lines = text.replace(b"\r\n", b"\n").decode("latin-1").splitlines()
    if not lines or not lines[0].startswith("NRRD000"):
        raise wrong_head("this is no NRRD file", file)
    pairs = (line.split(": ", 1) for line in lines if ": " in line and line[0] != "#")
    said = {key.strip().lower(): value.strip() for key, value in pairs}
    if "data file" in said or "datafile" in said:
        raise wrong_head("its voxels lie in another file", file, "save it as one .nrrd file")
    if said.get("dimension") != "3":
        raise not_three(f"{said.get('dimension', 'no')} dimensions", file)
    size = _size(said.get("sizes", ""), file)
    signs = SPACES.get(said.get("space", "").lower())
    edges = re.findall(r"\(([^)]*)\)", said.get("space directions", ""))
    origin = re.findall(r"\(([^)]*)\)", said.get("space origin", ""))
    if signs is None or len(edges) != 3 or len(origin) != 1:
        raise wrong_head(
            "the file does not say where the volume lies (space, space directions, space origin)",
            file,
            "export it from the CT again, with its place",
        )
    if set(re.findall(r'"([^"]*)"', said.get("space units", ""))) - {"mm", "millimeter", ""}:
        raise wrong_head("its lengths are not in mm", file, "export it in millimetres")
    matrix = _matrix([_numbers(edge, 3, file) for edge in edges], _numbers(origin[0], 3, file))
    matrix[:3] *= np.array(signs)[:, None]
    kind = re.sub(r"\b(un)?signed |_t$", "", said.get("type", "").lower())
    kind = kind.replace("long long", "longlong").split(" ")[0]
    each = NRRD_BYTES.get(kind)
    if each is None:
        raise not_three(f"values of the type {said.get('type', 'none')}", file)
    raw = said.get("encoding", "").lower() == "raw"
    return Head(_grid(size, matrix, file), _whole(file, size, each, raw=raw), (file,), "NRRD",
                "NrrdImageIO")  # fmt: skip


def meta_head(file: Path) -> Head:
    """Read the header of a MetaImage file.

    Parameters
    ----------
    file : Path
        ``.mha``, or ``.mhd`` beside the file of its voxels.

    Returns
    -------
    Head

    Raises
    ------
    VolumeError
        If it is none, or does not say where the volume lies.
    """
    pairs = re.findall(r"(?m)^(\w+) *= *(.*?)\s*$", _start(file).decode("latin-1"))
    said: dict[str, str] = {}
    for key, value in pairs:
        said[key] = value
        if key == "ElementDataFile":
            break  # what follows is voxels
    if "NDims" not in said or "ElementDataFile" not in said:
        raise wrong_head("this is no MetaImage file", file)
    if said["NDims"] != "3":
        raise not_three(f"{said['NDims']} dimensions", file)
    if said.get("ElementNumberOfChannels", "1") != "1":
        raise not_three(f"{said['ElementNumberOfChannels']} values a voxel", file)
    size = _size(said.get("DimSize", ""), file)
    turn = next((said[k] for k in ("TransformMatrix", "Orientation", "Rotation") if k in said), "")
    origin = next((said[k] for k in ("Offset", "Position", "Origin") if k in said), "")
    spacing = said.get("ElementSpacing", "")
    if not (turn and origin and spacing):
        raise wrong_head(
            "the file does not say where the volume lies (TransformMatrix, Offset, ElementSpacing)",
            file,
            "export it from the CT again, with its place",
        )
    edges = np.reshape(_numbers(turn, 9, file), (3, 3)) * _numbers(spacing, 3, file)[:, None]
    each = META_BYTES.get(said.get("ElementType", ""))
    if each is None:
        raise not_three(f"values of the type {said.get('ElementType', 'none')}", file)
    grid = _grid(size, _matrix(list(edges), _numbers(origin, 3, file)), file)
    return Head(grid, each, _meta_files(said, size, each, file), "MetaImage", "MetaImageIO")


def _meta_files(
    said: dict[str, str], size: tuple[int, int, int], each: int, file: Path
) -> tuple[Path, ...]:
    """Files of a MetaImage, all there and none cut short."""
    data = said["ElementDataFile"]
    if " " in data or data.upper() == "LIST":
        raise wrong_head("its voxels lie in several files", file, "save it as one .mha file")
    beside = file if data == "LOCAL" else file.parent / data
    there = regular_file(beside, VolumeError).st_size
    if said.get("CompressedData", "False").lower() != "true":
        _whole(beside, size, each, raw=True)
    elif there < (wanted := int(_numbers(said.get("CompressedDataSize", "0"), 1, file)[0])):
        raise cut_short(beside, there, wanted)
    return (file,) if beside == file else (file, beside)


def _start(file: Path) -> bytes:
    with file.open("rb") as stream:
        return stream.read(LONGEST)


def _numbers(text: str, count: int, file: Path) -> Floats:
    try:
        numbers = np.array([float(part) for part in text.replace(",", " ").split()])
    except ValueError:
        numbers = np.empty(0)
    if len(numbers) != count or not np.isfinite(numbers).all():
        raise wrong_head(f'its header says "{text[:40]}" where {count} numbers stand', file)
    return numbers


def _size(text: str, file: Path) -> tuple[int, int, int]:
    i, j, k = _numbers(text, 3, file)
    if not all(1 < count <= MOST_VOXELS and count.is_integer() for count in (i, j, k)):
        raise wrong_head(f"its size {text} is that of no volume", file)
    return int(i), int(j), int(k)


def _matrix(edges: list[Floats], origin: Floats) -> Floats:
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = np.column_stack(edges), origin
    return matrix


def _grid(size: tuple[int, int, int], matrix: Floats, file: Path) -> Grid:
    if abs(np.linalg.det(matrix[:3, :3])) < 1e-12:
        raise wrong_head("the place that the file gives is none", file)
    return grid_of(size, matrix)


def _whole(file: Path, size: tuple[int, int, int], each: int, *, raw: bool) -> int:
    """Bytes of a voxel; refuses a file that is shorter than its voxels."""
    wanted = size[0] * size[1] * size[2] * each
    if raw and file.stat().st_size < wanted:
        raise cut_short(file, file.stat().st_size, wanted)
    return each
