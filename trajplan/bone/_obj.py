"""Reading OBJ: vertices, polygons, and the names of groups and objects."""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from trajplan.arrays import offsets_of
from trajplan.bone._merge import RawMesh
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from trajplan.arrays import Floats, Ints

__all__ = ["read_obj"]

_Kind: TypeAlias = type[np.float64] | type[np.int64]


def read_obj(path: Path) -> RawMesh:
    """Read an OBJ file: positions and faces as they stand, names as groups.

    Parameters
    ----------
    path : Path
        A file that exists.

    Returns
    -------
    RawMesh
        Polygons are cut into fans from their first corner. A face belongs to every name
        of the `g` statement and to the `o` statement above it; a new object ends the
        groups before it, and names without a face are dropped.

    Raises
    ------
    MeshError
        If a line of `v` or `f` cannot be read, naming the line.

    Notes
    -----
    Statements as in the "Object files" appendix of the format's publisher (from memory):
    corners are ``v``, ``v/vt``, ``v//vn`` or ``v/vt/vn``, count from 1, and a negative one
    counts back from the vertex read last.
    """
    lines = _lines(path.read_bytes())
    statements = _statements(lines)
    vertex_line, face_line = statements[b"v"], statements[b"f"]
    vertices = _positions(path, lines, vertex_line)
    sizes = _words_in(lines, face_line)
    if (sizes < 3).any():
        short = int(face_line[sizes < 3][0])
        raise _wrong_line(path, short, "the face has fewer than three corners")
    corners = _corners(path, lines, vertex_line, np.repeat(face_line, sizes))
    groups = _groups(lines, statements[b"g"], face_line, sizes)
    return RawMesh(vertices, _fans(corners, sizes), groups)


def _lines(data: bytes) -> list[bytes]:
    if b"\\" in data:  # a backslash joins the next line to this one
        data = re.sub(rb"\\\r?\n", b" ", data)
    if b" #" in data or b"\t#" in data:  # a comment after a statement
        data = re.sub(rb"[ \t]#[^\r\n]*", b"", data)
    return [line.strip() for line in data.splitlines()]


def _statements(lines: list[bytes]) -> dict[bytes, Ints]:
    """Numbers, from 0, of the lines of each statement that matters; `o` counts among `g`."""
    found: dict[bytes, list[int]] = {b"v": [], b"f": [], b"g": []}
    bins = {
        keyword + blank: found[b"g" if keyword == b"o" else keyword]
        for keyword in (b"v", b"f", b"g", b"o")
        for blank in (b"", b" ", b"\t")
    }
    for i, line in enumerate(lines):
        bin_ = bins.get(line[:2])
        if bin_ is not None:
            bin_.append(i)
    return {keyword: np.array(numbers, dtype=np.int64) for keyword, numbers in found.items()}


def _words_in(lines: list[bytes], among: Ints) -> Ints:
    """Words of each line after its keyword."""
    return np.array([len(lines[i].split()) - 1 for i in among], dtype=np.int64)


def _numbers(text: bytes, dtype: _Kind, count: int) -> NDArray[Any]:
    """Numbers between white space; `ValueError` unless there are ``count`` and nothing else."""
    with warnings.catch_warnings():
        # numpy before 2.3 only warns where it stops reading
        warnings.simplefilter("error", DeprecationWarning)
        try:
            numbers = np.fromstring(text, dtype=dtype, sep=" ")
        except DeprecationWarning as error:
            raise ValueError from error
    if len(numbers) != count:
        raise ValueError
    return numbers


def _positions(path: Path, lines: list[bytes], vertex_line: Ints) -> Floats:
    sizes = _words_in(lines, vertex_line)
    try:
        flat = _numbers(b" ".join([lines[i][1:] for i in vertex_line]), np.float64, sizes.sum())
    except ValueError:
        flat = None
    if flat is None or (sizes < 3).any():
        bad = _first_bad(lines, vertex_line, np.float64)
        raise _wrong_line(path, bad, "the vertex does not have three numbers")
    # weight or colour may follow the position
    positions: Floats = flat[offsets_of(sizes)[:-1, None] + np.arange(3)]
    return positions


def _corners(path: Path, lines: list[bytes], vertex_line: Ints, corner_line: Ints) -> Ints:
    """Rows of the vertices at all corners, end to end; ``corner_line`` is the line of each."""
    face_line = np.unique(corner_line)
    text = b" ".join([lines[i][1:] for i in face_line])
    try:
        number = _numbers(_without_slashes(text), np.int64, len(corner_line))
    except ValueError:
        bad = _first_bad(lines, face_line, np.int64)
        raise _wrong_line(path, bad, "the face has a corner that is no number") from None
    read_before = np.searchsorted(vertex_line, corner_line)
    corner: Ints = np.where(number < 0, read_before + number, number - 1)
    lost = (corner < 0) | (corner >= len(vertex_line))
    if lost.any():
        which = int(np.flatnonzero(lost)[0])
        found = f"the face names vertex {number[which]}, which is not there"
        raise _wrong_line(path, int(corner_line[which]), found)
    return corner


def _without_slashes(text: bytes) -> bytes:
    """Keep the vertex of each corner, drop its texture and normal."""
    return re.sub(rb"/\S*", b"", text) if b"/" in text else text


def _first_bad(lines: list[bytes], among: Ints, dtype: _Kind) -> int:
    """First line that does not hold three numbers or more and nothing else."""

    def passes(line: bytes) -> bool:
        count = len(line.split()) - 1
        try:
            return len(_numbers(_without_slashes(line[1:]), dtype, count)) >= 3
        except ValueError:
            return False

    return next(int(i) for i in among if not passes(lines[i]))


def _fans(corners: Ints, sizes: Ints) -> Ints:
    """Cut polygons into triangles ``(first, k, k + 1)``."""
    start = offsets_of(sizes)[:-1]
    offsets = offsets_of(sizes - 2)
    first = np.repeat(start, sizes - 2)
    step = np.arange(offsets[-1]) - np.repeat(offsets[:-1], sizes - 2)
    fans: Ints = corners[np.stack([first, first + step + 1, first + step + 2], axis=1)]
    return fans


def _groups(lines: list[bytes], marks: Ints, face_line: Ints, sizes: Ints) -> dict[str, Ints]:
    """Triangles of each name; ``sizes`` are the corners of the polygons."""
    begin = np.searchsorted(face_line, marks)
    end = np.append(begin, len(face_line))[1:]
    triangles = offsets_of(sizes - 2)
    parts: dict[str, list[Ints]] = {}
    objects: list[str] = []
    groups: list[str] = []
    for mark, low, high in zip(marks, triangles[begin], triangles[end], strict=True):
        keyword, *words = lines[mark].decode("utf-8", "replace").split()
        if keyword == "o":
            objects, groups = [" ".join(words)], []
        else:
            groups = words
        for name in filter(None, dict.fromkeys(objects + groups)):
            parts.setdefault(name, []).append(np.arange(low, high))
    joined = {name: np.concatenate(pieces) for name, pieces in parts.items()}
    return {name: rows for name, rows in joined.items() if len(rows)}


def _wrong_line(path: Path, line: int, found: str) -> MeshError:
    return MeshError(
        found,
        remedy="mend the line, or export the mesh again",
        file=path,
        where=f"line {line + 1}",
    )
