"""One row of a catalogue file: typed values out of TOML, or an error that names the key."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar, get_args

from trajplan.errors import CatalogueError
from trajplan.implants._names import nearest, shown
from trajplan.implants._types import Provenance, Status

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

__all__ = ["Row"]

T = TypeVar("T", bound=str)

#: mm; longer than any screw, and than any bone that one is put into.
TOO_LONG = 1000

STATUSES: tuple[Status, ...] = get_args(Status)
#: How catalogues used to say one of them.
OLD_STATUS = ("from memory", "not verified against the standard")


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """A table of a catalogue file, such as the third ``[[screw]]``."""

    file: Path
    label: str  # "screw 3 (HA4.5)"
    table: Mapping[str, Any]

    def refuse(self, key: str | None, found: str, remedy: str) -> NoReturn:
        """Raise the error that names this row.

        Parameters
        ----------
        key : str or None
            The key that is wrong, if it is one.
        found, remedy : str
            As in `trajplan.errors.InputError`.

        Raises
        ------
        CatalogueError
            Always.
        """
        where = self.label if key is None else f"{self.label}, key {key}"
        raise CatalogueError(found, remedy=remedy, file=self.file, where=where)

    def check_keys(self, known: Iterable[str]) -> None:
        """Refuse keys that the row may not have."""
        names = [*known]
        for key in self.table:
            if key not in names:
                self.refuse(key, "the key is not known", nearest(key, names))

    def text(self, key: str) -> str:
        """Read a text that is not empty."""
        value = self._given(key, "a text")
        if not isinstance(value, str) or not value.strip():
            self.refuse(key, f"found {shown(value)}", "give a text that is not empty")
        return value

    def word(self, key: str, choices: tuple[T, ...]) -> T:
        """One of a few words."""
        value = self._given(key, " or ".join(choices))
        found = next((choice for choice in choices if choice == value), None)
        if found is None:
            self.refuse(key, f"found {shown(value)}", f"give {' or '.join(choices)}")
        return found

    def length(self, key: str) -> float:
        """Read a length in mm, above zero."""
        return self._length(key, self._given(key, "a length in mm"))

    def length_if_given(self, key: str) -> float | None:
        """Read a length in mm, above zero, or nothing."""
        return self.length(key) if key in self.table else None

    def number(self, key: str, most: float, unit: str) -> float:
        """Read a number above zero, and no more than the most that can be."""
        value = self._given(key, f"a number in {unit}")
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 < value <= most:
            self.refuse(key, f"found {shown(value)}", f"give {unit} above 0 and up to {most:g}")
        return float(value)

    def number_if_given(self, key: str, most: float, unit: str) -> float | None:
        """Read a number above zero, or nothing."""
        return self.number(key, most, unit) if key in self.table else None

    def share_if_given(self, key: str) -> float | None:
        """Read a share, above 0 and below 1, or nothing."""
        share = self.length_if_given(key)
        if share is not None and share >= 1.0:
            self.refuse(key, f"{share:g} is no share of a whole", "give a number below 1")
        return share

    def lengths(self, key: str) -> tuple[float, ...]:
        """Lengths in mm, each above the one before."""
        values = self._given(key, "a list of lengths in mm")
        if not isinstance(values, list) or not values:
            self.refuse(key, f"found {values!r}", "give a list of lengths in mm")
        lengths = tuple(self._length(key, value) for value in values)
        for before, after in pairwise(lengths):
            if after <= before:
                self.refuse(
                    key, f"{after:g} stands after {before:g}", "sort the lengths, each one once"
                )
        return lengths

    def lengths_if_given(self, key: str) -> tuple[float, ...]:
        """Lengths in mm, each above the one before, or none."""
        return self.lengths(key) if key in self.table else ()

    def counts(self, key: str, least: int) -> tuple[int, ...]:
        """Whole numbers, each above the one before."""
        values = self.lengths(key)
        for value in values:
            if value != int(value) or value < least:
                self.refuse(key, f"found {value:g}", f"give whole numbers from {least} on")
        return tuple(map(int, values))

    def part(self, key: str) -> Row:
        """Read a table within the row, as a row of its own."""
        return Row(self.file, f"{self.label}, {key}", self._table(key, "a table"))

    def sources(self, named: Mapping[str, Provenance]) -> dict[str, Provenance]:
        """Where the value of every field of this row comes from.

        Parameters
        ----------
        named : mapping of str to Provenance
            Sources that the file gives a name.

        Returns
        -------
        dict
            One entry for each field of the row but its name.
        """
        row = Row(self.file, f"{self.label}, sources", self._table("sources"))
        fields = [key for key in self.table if key not in ("sources", "kind", "id")]
        row.check_keys(["default", *fields])
        for key in fields:
            if key not in row.table and "default" not in row.table:
                self.refuse(key, "it has no source", f'name one in "sources": {key} or default')
        given = {key: row.provenance(key, named) for key in row.table}
        return {key: given[key if key in given else "default"] for key in fields}

    def provenance(self, key: str, named: Mapping[str, Provenance]) -> Provenance:
        """Read a source: the name of one, or a table of status, source and note."""
        value = self.table[key]
        if isinstance(value, str):
            if value not in named:
                self.refuse(key, f'no source is named "{value}"', nearest(value, named))
            return named[value]
        table = dict(self._table(key))
        if table.get("status") == OLD_STATUS[0]:
            table["status"] = OLD_STATUS[1]
        row = Row(self.file, f"{self.label}, key {key}", table)
        row.check_keys(("status", "source", "note"))
        return Provenance(
            status=row.word("status", STATUSES),
            source=row.text("source"),
            note=row.text("note") if "note" in row.table else "",
        )

    def _given(self, key: str, wanted: str) -> Any:  # noqa: ANN401 - TOML holds any type
        if key not in self.table:
            self.refuse(key, "the key is missing", f"give {wanted}")
        return self.table[key]

    def _table(
        self, key: str, wanted: str = "a table that says where the values come from"
    ) -> Mapping[str, Any]:
        value = self._given(key, wanted)
        if not isinstance(value, dict) or not value:
            self.refuse(key, f"found {shown(value)}", "give a table of keys and values")
        return value

    def _length(self, key: str, value: Any) -> float:  # noqa: ANN401 - TOML holds any type
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 < value < TOO_LONG:
            self.refuse(key, f"found {shown(value)}", f"give mm above 0 and below {TOO_LONG}")
        return float(value)
