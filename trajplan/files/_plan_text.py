"""The plan file as text: written piece by piece, read back and refused where it was edited."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from trajplan.errors import PlanFileError
from trajplan.files._digest import Pieces
from trajplan.files._output import writing
from trajplan.files._own_json import own_json, refuse_edited
from trajplan.files._plan import FORMAT, VERSION, PlanFile, dumped
from trajplan.files._sentences import sentence
from trajplan.implants import read_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["parse_plan", "plan_json", "plan_lines", "read_plan", "write_plan"]


def write_plan(path: str | Path, plan: PlanFile) -> None:
    """Write a plan file, whole or not at all.

    Parameters
    ----------
    path : str or Path
        The file; its folder must exist.
    plan : PlanFile
        What to write.

    Raises
    ------
    OutputError
        If the folder is missing or cannot be written.
    """
    with writing(Path(path)) as stream:
        stream.writelines(line.encode() for line in plan_lines(plan))


def plan_json(plan: PlanFile) -> str:
    """A plan as the text of its file.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
    """
    return "".join(plan_lines(plan))


def plan_lines(plan: PlanFile) -> Iterator[str]:
    """A plan as the text of its file, piece by piece: a long check is never held as a whole.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Yields
    ------
    str
    """
    yield "{"
    before = ""
    for key, value in (*dumped(plan), ("digest", plan.digest)):
        yield f'{before}\n "{key}": '
        before = ","
        if isinstance(value, Pieces) and value:
            yield from _listed(value)
        else:
            yield _text([] if isinstance(value, Pieces) else value, 1)
    yield "\n}\n"


def _listed(pieces: Pieces) -> Iterator[str]:
    before = "["
    for piece in pieces:
        yield f"{before}\n  {_text(piece, 2)}"
        before = ","
    yield "\n ]"


def _text(value: object, depth: int) -> str:
    """JSON at a depth of indents; no text in it holds a line end, so lines can be moved."""
    text = json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False)
    return text.replace("\n", "\n" + depth * " ")


def read_plan(path: str | Path) -> PlanFile:
    """Read a plan file.

    Parameters
    ----------
    path : str or Path
        File written by `write_plan`.

    Returns
    -------
    PlanFile

    Raises
    ------
    PlanFileError
        If it is missing, not a plan, damaged, edited, or written by a newer version.
    """
    path = Path(path)
    return parse_plan(read_bytes(path, PlanFileError), path)


def parse_plan(content: bytes, path: Path) -> PlanFile:
    """A plan out of the bytes of its file.

    Parameters
    ----------
    content : bytes
        The bytes.
    path : Path
        Where they come from, for errors.

    Returns
    -------
    PlanFile

    Raises
    ------
    PlanFileError
        See `read_plan`.
    """
    data = own_json(content, path, FORMAT, VERSION, "a plan file")
    said = data.pop("digest", None)
    try:
        plan = PlanFile.model_validate(data)
    except ValidationError as error:
        where, found, remedy = sentence(error, PlanFile)
        raise PlanFileError(found, remedy=remedy, file=path, where=where) from None
    refuse_edited(data, said, path, AGAIN)
    return plan


#: What to do where a plan was edited.
AGAIN = "plan the case again, or move screws in the window of `trajplan view` and save"
