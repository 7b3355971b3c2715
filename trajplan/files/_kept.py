"""A long list of records, kept on the disk instead of in memory."""

from __future__ import annotations

import pickle
import tempfile
import weakref
import zlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Generic, TypeVar, overload

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

__all__ = ["Kept"]

Record = TypeVar("Record")

#: Least effort of zlib: blocks of records say the same words over and over, and shrink to a
#: tenth by it (measured).
EFFORT = 1


class Kept(Sequence[Record], Generic[Record]):
    """Records that are read again block by block, as often as they are gone through.

    They lie in a file without a name, which is gone with the list, whatever happens. A record of
    a screw takes some 18 kB of memory (measured), and a check may have many thousand.

    Parameters
    ----------
    blocks : iterable of sequences of records
        Each is written before the next is asked for, and none is kept.

    Raises
    ------
    OSError
        If the folder for temporary files has no room.
    """

    def __init__(self, blocks: Iterable[Sequence[Record]]) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - open as long as the list is
        weakref.finalize(self, self._file.close)
        self._places: list[tuple[int, int]] = []  # place in the file, and records
        for block in blocks:
            self._places.append((self._file.tell(), len(block)))
            content = zlib.compress(pickle.dumps(list(block)), EFFORT)
            self._file.write(content)
        self._ends = [*(place for place, _ in self._places[1:]), self._file.tell()]

    def __len__(self) -> int:
        return sum(count for _, count in self._places)

    def __iter__(self) -> Iterator[Record]:
        for number in range(len(self._places)):
            yield from self._block(number)

    @overload
    def __getitem__(self, at: int) -> Record: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Record, ...]: ...
    def __getitem__(self, at: int | slice) -> Record | tuple[Record, ...]:
        if isinstance(at, slice):
            return tuple(self[row] for row in range(*at.indices(len(self))))
        row = at + len(self) if at < 0 else at
        for number, (_, count) in enumerate(self._places):
            if 0 <= row < count:
                return self._block(number)[row]
            row -= count
        raise IndexError(f"there is no record {at} among {len(self)}")

    def _block(self, number: int) -> list[Record]:
        place, _ = self._places[number]
        self._file.seek(place)
        content = self._file.read(self._ends[number] - place)
        block: list[Record] = pickle.loads(zlib.decompress(content))  # noqa: S301 - our own bytes
        return block
