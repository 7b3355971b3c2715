"""Reading STL, binary and ASCII."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._merge import RawMesh, merge_equal
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from trajplan.arrays import Floats

__all__ = ["read_stl"]

# Layout: 80 bytes of comment, the number of facets (uint32, little-endian), then for each
# facet normal and three corners as float32, and two bytes. Source: the common description
# of the format; no standards body keeps it (common practice).
HEADER = 84
FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])

#: `stl_reader` computes the file size in 32 bits; above it we read the file ourselves.
MAX_FAST_FACETS = (2**32 - 1 - HEADER) // FACET.itemsize

#: Words of one ASCII facet that are not numbers, by position.
FACET_WORDS = {
    0: b"facet",
    1: b"normal",
    5: b"outer",
    6: b"loop",
    7: b"vertex",
    11: b"vertex",
    15: b"vertex",
    19: b"endloop",
    20: b"endfacet",
}
WORDS_PER_FACET = 21
CORNER_WORDS = (8, 9, 10, 12, 13, 14, 16, 17, 18)


def read_stl(path: Path) -> RawMesh:
    """Read an STL file; which of the two kinds it is, its size and content decide.

    Parameters
    ----------
    path : Path
        A file that exists and is not empty.

    Returns
    -------
    RawMesh

    Raises
    ------
    MeshError
        If the file is truncated, is no STL, or an ASCII facet is malformed.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(HEADER)
    count = int.from_bytes(head[80:], "little")
    if len(head) == HEADER and size == HEADER + FACET.itemsize * count:
        return _binary(path, count, head)
    data = path.read_bytes()
    if not _is_text(data):
        raise _wrong_size(path, size, count)
    if not re.match(rb"\s*solid\b", data, re.IGNORECASE):
        raise MeshError(
            "it holds text that is not STL, which would begin with 'solid'",
            remedy="give the file the ending of its true format, or export it again as STL",
            file=path,
        )
    return _ascii(path, data)


def _binary(path: Path, count: int, head: bytes) -> RawMesh:
    if count == 0:
        return RawMesh(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64))
    if head.startswith(b"solid") or count > MAX_FAST_FACETS:
        # stl_reader takes a file that begins so for ASCII, and has crashed on its bytes
        facets = np.fromfile(path, dtype=FACET, offset=HEADER)
        return _from_corners(_doubles(facets["corners"].reshape(-1, 3)))
    import stl_reader

    # it merges corners whose bits are equal, which tells -0.0 from 0.0
    vertices, faces = stl_reader.read(str(path))
    return RawMesh(
        _doubles(vertices),
        faces.astype(np.int64),
        merged=3 * count - len(vertices),
        distinct=not np.signbit(vertices[vertices == 0.0]).any(),
    )


def _doubles(numbers: NDArray[np.float32]) -> Floats:
    """Widen; a signalling NaN becomes a quiet one without a word here, and is refused later."""
    with np.errstate(invalid="ignore"):
        return numbers.astype(np.float64)


def _from_corners(corners: Floats) -> RawMesh:
    vertices, row = merge_equal(corners)
    return RawMesh(vertices, row.reshape(-1, 3), merged=len(corners) - len(vertices), distinct=True)


def _ascii(path: Path, data: bytes) -> RawMesh:
    # the name after `solid` is free text, so those lines go before the words are counted
    text = data.replace(b"\r", b"\n")
    text, ends = re.subn(rb"(?im)^[ \t]*endsolid\b.*$", b"", text)
    text, begins = re.subn(rb"(?im)^[ \t]*solid\b.*$", b"", text)
    words = text.split()
    facets, rest = divmod(len(words), WORDS_PER_FACET)
    if ends < begins:
        raise MeshError(
            f"the text stops without 'endsolid' after {facets} whole facets",
            remedy="the file is truncated; export or copy it again",
            file=path,
        )
    wrong = min(_first_other(words, place, word) for place, word in FACET_WORDS.items())
    if wrong < len(words):
        found = f"{_quoted(words[wrong])} where {_quoted(FACET_WORDS[wrong % WORDS_PER_FACET])}"
        raise _malformed(path, wrong // WORDS_PER_FACET, f"{found} belongs")
    if rest:
        raise _malformed(path, facets, "too few words")
    return _from_corners(_corners(path, words, facets))


def _first_other(words: list[bytes], place: int, expected: bytes) -> int:
    """First position ``place`` of a facet that holds another word, or the end of the text."""
    return next(
        (
            place + WORDS_PER_FACET * i
            for i, word in enumerate(words[place::WORDS_PER_FACET])
            if word.lower() != expected
        ),
        len(words),
    )


def _corners(path: Path, words: list[bytes], facets: int) -> Floats:
    corners = np.empty((facets, len(CORNER_WORDS)))
    for slot, place in enumerate(CORNER_WORDS):
        column = words[place::WORDS_PER_FACET]
        try:
            corners[:, slot] = np.fromiter(map(float, column), np.float64, facets)
        except ValueError:
            wrong = next(i for i, word in enumerate(column) if not _is_number(word))
            raise _malformed(path, wrong, f"{_quoted(column[wrong])} for a number") from None
    return corners.reshape(-1, 3)


def _quoted(word: bytes) -> str:
    return repr(word[:30].decode("ascii", "replace"))


def _is_number(word: bytes) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def _is_text(data: bytes) -> bool:
    """Whether the bytes hold no control character but white space."""
    sample = np.frombuffer(data, dtype=np.uint8, count=min(len(data), 4096))
    return bool(((sample >= 32) | ((sample >= 9) & (sample <= 13))).all())


def _malformed(path: Path, facet: int, found: str) -> MeshError:
    return MeshError(
        f"the facet has {found}",
        remedy="export the mesh again, best as binary STL",
        file=path,
        where=f"face {facet + 1}",
    )


def _wrong_size(path: Path, size: int, count: int) -> MeshError:
    if size < HEADER:
        found = f"its {size} bytes are fewer than the {HEADER} of an STL header"
    else:
        whole = (size - HEADER) // FACET.itemsize
        found = f"its header promises {count} faces, but its size fits {whole}"
    return MeshError(
        f"{found}, so the file is truncated or no STL",
        remedy="export or copy it again",
        file=path,
    )
