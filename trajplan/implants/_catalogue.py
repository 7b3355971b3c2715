"""Reading catalogues: the package's own first, then the user's."""

from __future__ import annotations

import hashlib
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from trajplan.errors import CatalogueError
from trajplan.implants._names import kind_key, nearest, shown
from trajplan.implants._plate_rows import read_plate
from trajplan.implants._rows import Row
from trajplan.implants._toml import parse_toml, read_bytes
from trajplan.implants._types import Catalogue, CatalogueFile, Provenance, Screw, Washer, Wire

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from trajplan.implants._plate import Plate

__all__ = ["find_implant", "find_plate", "find_screw", "find_wire", "load_catalogue"]

Found = TypeVar("Found")

OWN = Path(__file__).with_name("catalogue.toml")


def load_catalogue(*paths: Path) -> Catalogue:
    """Read the package's own catalogue, then the user's files.

    Parameters
    ----------
    *paths : Path
        TOML files of the same form as the package's own; a row replaces an earlier one of
        the same kind.

    Returns
    -------
    Catalogue

    Raises
    ------
    CatalogueError
        If a file is missing or wrong; names file, row and key.
    """
    screws: dict[str, tuple[Screw, Row]] = {}
    washers: dict[str, Washer] = {}
    wires: dict[str, Wire] = {}
    plates: dict[str, Plate] = {}
    files: list[CatalogueFile] = []
    for path in (OWN, *paths):
        content = read_bytes(path, CatalogueError)
        data = parse_toml(content, path, CatalogueError)
        files.append(CatalogueFile(path.name, hashlib.sha256(content).hexdigest()))
        file = Row(path, "the file", data)
        file.check_keys(("source", "screw", "washer", "wire", "plate"))
        named = _named_sources(path, data)
        washers |= {kind_key(row.text("id")): _washer(row, named) for row in _rows(file, "washer")}
        wires |= {kind_key(row.text("kind")): _wire(row, named) for row in _rows(file, "wire")}
        plates |= {
            kind_key(row.text("kind")): read_plate(row, named) for row in _rows(file, "plate")
        }
        screws |= {
            kind_key(row.text("kind")): (_screw(row, named), row) for row in _rows(file, "screw")
        }
    by_id = {washer.id: washer for washer in washers.values()}
    for screw, row in screws.values():
        _check_washer(screw, row, by_id)
    return Catalogue(
        screws={screw.kind: screw for screw, _ in screws.values()},
        washers=by_id,
        wires={wire.kind: wire for wire in wires.values()},
        plates={plate.kind: plate for plate in plates.values()},
        files=tuple(files[1:]),
    )


def find_screw(catalogue: Catalogue, kind: str) -> Screw:
    """Find a screw by its kind; spaces and case do not count.

    Parameters
    ----------
    catalogue : Catalogue
        Where to look.
    kind : str
        Such as ``HA4.5`` or ``HA 4.5``.

    Returns
    -------
    Screw

    Raises
    ------
    CatalogueError
        If there is none; offers the names that look most like it.
    """
    return _find(catalogue.screws, kind, "screw")


def find_wire(catalogue: Catalogue, kind: str) -> Wire:
    """Find a wire by its kind; spaces and case do not count.

    Parameters
    ----------
    catalogue : Catalogue
        Where to look.
    kind : str
        Such as ``W1.6``.

    Returns
    -------
    Wire

    Raises
    ------
    CatalogueError
        If there is none; offers the names that look most like it.
    """
    return _find(catalogue.wires, kind, "wire")


def find_plate(catalogue: Catalogue, kind: str) -> Plate:
    """Find a plate by its kind; spaces and case do not count.

    Parameters
    ----------
    catalogue : Catalogue
        Where to look.
    kind : str
        Such as ``Narrow4.5``.

    Returns
    -------
    Plate

    Raises
    ------
    CatalogueError
        If there is none; offers the names that look most like it.
    """
    return _find(catalogue.plates, kind, "plate")


def find_implant(catalogue: Catalogue, kind: str) -> Screw | Plate:
    """Find a screw or a plate by its kind; spaces and case do not count.

    Parameters
    ----------
    catalogue : Catalogue
        Where to look.
    kind : str
        Such as ``HA4.5`` or ``Narrow4.5``.

    Returns
    -------
    Screw or Plate

    Raises
    ------
    CatalogueError
        If there is none; offers the names that look most like it.
    """
    both: dict[str, Screw | Plate] = {**catalogue.plates, **catalogue.screws}
    return _find(both, kind, "screw or plate")


def _find(rows: Mapping[str, Found], kind: str, what: str) -> Found:
    for name, row in rows.items():
        if kind_key(name) == kind_key(kind):
            return row
    raise CatalogueError(
        f'no {what} of the catalogue is of kind "{kind}"',
        remedy=nearest(kind, rows, "name one that is there"),
    )


def _named_sources(path: Path, data: dict[str, Any]) -> dict[str, Provenance]:
    table = data.get("source", {})
    if not isinstance(table, dict):
        Row(path, "the file", data).refuse("source", f"found {shown(table)}", "write [source.NAME]")
    row = Row(path, "source", table)
    return {name: row.provenance(name, {}) for name in table}


def _rows(file: Row, what: str) -> Iterator[Row]:
    tables = file.table.get(what, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        file.refuse(what, f"found {shown(tables)}", f"write [[{what}]] above each row")
    seen: set[str] = set()
    for number, table in enumerate(tables, start=1):
        name = table.get("kind", table.get("id"))
        row = Row(file.file, f"{what} {number}" + (f" ({name})" if name else ""), table)
        if isinstance(name, str) and kind_key(name) in seen:
            row.refuse(None, f"{name} stands in this file already", "keep one of the two rows")
        seen |= {kind_key(name)} if isinstance(name, str) else set()
        yield row


def _screw(row: Row, named: dict[str, Provenance]) -> Screw:
    row.check_keys(field.name for field in fields(Screw))
    screw = Screw(
        kind="".join(row.text("kind").split()),
        thread=row.word("thread", ("shallow", "deep")),
        bone=row.word("bone", ("cortical", "cancellous")),
        thread_diameter=row.length("thread_diameter"),
        core_diameter=row.length("core_diameter"),
        pitch=row.length("pitch"),
        head_diameter=row.length("head_diameter"),
        head_height=row.length("head_height"),
        head_radius=row.length("head_radius"),
        shank_diameter=row.length_if_given("shank_diameter"),
        thread_lengths=row.lengths_if_given("thread_lengths"),
        thread_share=row.share_if_given("thread_share"),
        lengths=row.lengths("lengths"),
        length_from=row.word("length_from", ("seat", "top")),
        thread_hole=row.length_if_given("thread_hole"),
        gliding_hole=row.length_if_given("gliding_hole"),
        shank_hole=row.length_if_given("shank_hole"),
        tap=row.length_if_given("tap"),
        countersink=row.length_if_given("countersink"),
        washer=row.text("washer") if "washer" in row.table else None,
        sources=row.sources(named),
    )
    _check_sizes(screw, row)
    return screw


def _check_sizes(screw: Screw, row: Row) -> None:
    """Refuse parts that cannot be one screw."""
    thread = screw.thread_diameter
    for key, value in (("core_diameter", screw.core_diameter), ("thread_hole", screw.thread_hole)):
        if value is not None and value >= thread:
            row.refuse(key, f"{value:g} is not below the thread diameter {thread:g}", "check both")
    if screw.shank_diameter is not None and screw.shank_diameter > thread:
        row.refuse(
            "shank_diameter",
            f"{screw.shank_diameter:g} is above the thread diameter {thread:g}",
            "check both",
        )
    shank = screw.shank_diameter or 0.0
    for key, hole, part in (
        ("gliding_hole", screw.gliding_hole, thread),
        ("shank_hole", screw.shank_hole, shank),
    ):
        if hole is not None and hole < part:
            row.refuse(
                key,
                f"{hole:g} is narrower than the {part:g} that must slide through it",
                "check both",
            )
    if screw.head_diameter <= thread:
        row.refuse(
            "head_diameter",
            f"{screw.head_diameter:g} is not above the thread diameter {thread:g}",
            "check both",
        )
    if screw.thread_share is not None and not screw.thread_lengths:
        row.refuse("thread_share", "the screw has no partial thread", "name thread_lengths too")
    if screw.thread_lengths and screw.thread_lengths[-1] > screw.lengths[-1]:
        row.refuse(
            "thread_lengths",
            f"{screw.thread_lengths[-1]:g} is longer than every stocked length",
            "check both lists",
        )


def _check_washer(screw: Screw, row: Row, washers: dict[str, Washer]) -> None:
    if screw.washer is None:
        return
    washer = washers.get(screw.washer)
    if washer is None:
        row.refuse(
            "washer", f'no washer has the id "{screw.washer}"', nearest(screw.washer, washers)
        )
    if not screw.thread_diameter < washer.inner_diameter < screw.head_diameter:
        row.refuse(
            "washer",
            f"washer {washer.id} with a hole of {washer.inner_diameter:g} does not go over the "
            f"thread {screw.thread_diameter:g} and under the head {screw.head_diameter:g}",
            "name a washer that does",
        )


def _washer(row: Row, named: dict[str, Provenance]) -> Washer:
    row.check_keys(field.name for field in fields(Washer))
    washer = Washer(
        id=row.text("id"),
        outer_diameter=row.length("outer_diameter"),
        inner_diameter=row.length("inner_diameter"),
        thickness=row.length("thickness"),
        sources=row.sources(named),
    )
    if washer.inner_diameter >= washer.outer_diameter:
        row.refuse(
            "inner_diameter",
            f"{washer.inner_diameter:g} is not below the outer {washer.outer_diameter:g}",
            "check both",
        )
    return washer


def _wire(row: Row, named: dict[str, Provenance]) -> Wire:
    row.check_keys(field.name for field in fields(Wire))
    return Wire(
        kind="".join(row.text("kind").split()),
        diameter=row.length("diameter"),
        sources=row.sources(named),
    )
