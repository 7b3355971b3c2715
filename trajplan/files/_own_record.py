"""Records with a digest in files of their own: written piece by piece, refused where edited."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from pydantic import ValidationError, computed_field

from trajplan.errors import PlanFileError
from trajplan.files._digest import (
    APART,
    ListDigest,
    Pieces,
    content_digest,
    of_keys,
    value_digest,
)
from trajplan.files._indented import indented
from trajplan.files._output import writing
from trajplan.files._own_json import own_json, refuse_edited
from trajplan.files._records import Record
from trajplan.files._sentences import sentence
from trajplan.implants import read_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["OwnRecord", "RecordFile"]


class OwnRecord(Record):
    """A record that stands in a file of its own and carries a digest of its content."""

    #: Key whose records are written one by one, for they may be many.
    PIECES: ClassVar[str] = ""

    @computed_field(  # type: ignore[prop-decorator]  # pydantic's own way, as its manual has it
        description="sha256 of all the rest but `created`: a file that was edited is refused"
    )
    @property
    def digest(self) -> str:
        """The sha256 of the content, by which a reader knows whether it was edited."""
        return content_digest({key: part for key, part in dumped(self) if key not in APART})


def dumped(record: OwnRecord) -> Iterator[tuple[str, object]]:
    """Keys of a record but its digest, and what JSON can write of them."""
    rest = record.model_dump(mode="json", by_alias=True, exclude={record.PIECES, "digest"})
    for key in type(record).model_fields:
        yield key, Pieces(getattr(record, key)) if key == record.PIECES else rest[key]


T = TypeVar("T", bound=OwnRecord)


@dataclass(frozen=True, slots=True)
class RecordFile(Generic[T]):
    """Writes and reads files of one kind of record."""

    model: type[T]
    name: str  # what such a file is called, for errors: "a plan file"
    again: str  # how to make a new one where it was edited

    def write(self, path: str | Path, record: T) -> None:
        """Write a record into its file, whole or not at all.

        Parameters
        ----------
        path : str or Path
            The file; its folder must exist.
        record : OwnRecord
            What to write.

        Raises
        ------
        OutputError
            If the folder is missing or cannot be written.
        """
        with writing(Path(path)) as stream:
            stream.writelines(line.encode() for line in self.lines(record))

    def text(self, record: T) -> str:
        """A record as the text of its file.

        Parameters
        ----------
        record : OwnRecord
            The record.

        Returns
        -------
        str
        """
        return "".join(self.lines(record))

    def lines(self, record: T) -> Iterator[str]:
        """A record as the text of its file, piece by piece: a long one is never held as a whole.

        Parameters
        ----------
        record : OwnRecord
            The record.

        Yields
        ------
        str
        """
        before, digests = "{", {}
        for key, value in dumped(record):
            yield f'{before}\n "{key}": '
            before = ","
            if isinstance(value, Pieces):
                found = ListDigest()
                yield from _listed(value, found)
                digests[key] = found.value()
            else:
                yield indented(value, 1)
                digests[key] = value_digest(value)
        yield f',\n "digest": {indented(of_keys(digests), 1)}\n}}\n'

    def read(self, path: str | Path) -> T:
        """Read a file that was written here.

        Parameters
        ----------
        path : str or Path
            The file.

        Returns
        -------
        OwnRecord

        Raises
        ------
        PlanFileError
            If it is missing, of another kind, damaged, edited, or written by a newer version.
        """
        path = Path(path)
        return self.parse(read_bytes(path, PlanFileError), path)

    def parse(self, content: bytes, path: Path) -> T:
        """A record out of the bytes of its file.

        Parameters
        ----------
        content : bytes
            The bytes.
        path : Path
            Where they come from, for errors.

        Returns
        -------
        OwnRecord

        Raises
        ------
        PlanFileError
            See `read`.
        """
        kind, version = (self.model.model_fields[key].default for key in ("format", "version"))
        data = own_json(content, path, kind, version, self.name)
        said = data.pop("digest", None)
        try:
            record = self.model.model_validate(data)
        except ValidationError as error:
            where, found, remedy = sentence(error, self.model)
            raise PlanFileError(found, remedy=remedy, file=path, where=where) from None
        refuse_edited(data, said, path, self.again)
        return record

    def schema(self) -> dict[str, Any]:
        """JSON Schema of such a file, as it ships in the package.

        Returns
        -------
        dict
        """
        schema = self.model.model_json_schema(by_alias=True, mode="serialization")
        return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _listed(pieces: Pieces, found: ListDigest) -> Iterator[str]:
    """A list of records, each turned to JSON once, for the text and for the digest."""
    if not pieces:
        yield "[]"
        return
    before = "["
    for piece in pieces:
        found.take(piece)
        yield f"{before}\n  {indented(piece, 2)}"
        before = ","
    yield "\n ]"
