"""Meshes out: binary STL."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.files._output import write_bytes_atomic
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.arrays import Floats
    from trajplan.units import Unit

__all__ = ["stl_bytes", "write_stl"]

#: One triangle of a binary STL: normal, three corners, a spare number (common practice);
#: before them stand 80 bytes of free text, which must not begin with "solid".
TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])


def write_stl(path: Path, triangles: Floats) -> None:
    """Write triangles as a binary STL, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    triangles : (f, 3, 3) float array, mm
        Corners of every face; written in single precision, as the format has it.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    write_bytes_atomic(path, stl_bytes(triangles))


def stl_bytes(triangles: Floats, unit: Unit = "mm") -> bytes:
    """Triangles as the bytes of a binary STL.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners of every face; written in single precision, as the format has it.
    unit : {"mm", "cm", "m", "inch"}
        Unit to write them in; the format itself has no place for it.

    Returns
    -------
    bytes
    """
    rows = np.zeros(len(triangles), dtype=TRIANGLE)
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    rows["normal"] = normal / np.where(length > 0.0, length, 1.0)
    rows["corners"] = triangles / MM_PER_UNIT[unit]
    count = np.array([len(triangles)], dtype="<u4")
    head = f"written by trajplan, lengths in {unit}".encode().ljust(80)
    return head + count.tobytes() + rows.tobytes()
