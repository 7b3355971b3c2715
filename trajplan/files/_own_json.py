"""JSON files that trajplan itself wrote: parsed, and refused where they are of another kind."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from trajplan.errors import PlanFileError
from trajplan.files._digest import content_digest

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["own_json", "refuse_edited"]


def own_json(content: bytes, path: Path, kind: str, version: int, name: str) -> dict[str, Any]:
    """The content of a JSON file of one format.

    Parameters
    ----------
    content : bytes
        Its bytes.
    path : Path
        Where they come from, for errors.
    kind : str
        What its key ``format`` must say.
    version : int
        The newest version that is read here.
    name : str
        What such a file is called, for errors: "a plan file".

    Returns
    -------
    dict

    Raises
    ------
    PlanFileError
        If it is no JSON, of another format, or of a newer version.
    """
    try:
        data = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise PlanFileError(
            f"this is not JSON ({error})", remedy=f"give {name} that trajplan wrote", file=path
        ) from None
    if not isinstance(data, dict) or data.get("format") != kind:
        raise PlanFileError(
            f'there is no "format": "{kind}"',
            remedy=f"give {name} that trajplan wrote",
            file=path,
        )
    said = data.get("version")
    if isinstance(said, int) and not isinstance(said, bool) and said > version:
        raise PlanFileError(
            f"version {said} was written by a newer trajplan",
            remedy=f"update trajplan, which here reads version {version}",
            file=path,
            where="version",
        )
    return data


def refuse_edited(data: dict[str, Any], said: str | None, path: Path, remedy: str) -> None:
    """Refuse a file whose digest is not that of its content.

    Parameters
    ----------
    data : dict
        Its content, without the digest.
    said : str or None
        The digest that it carries.
    path : Path
        The file.
    remedy : str
        How to make a new one.

    Raises
    ------
    PlanFileError
        If it was edited, or carries no digest.
    """
    if said != content_digest(data):
        raise PlanFileError(
            "its content is not what was written: the digest does not fit"
            if said is not None
            else "it carries no digest of its content",
            remedy=remedy,
            file=path,
            where="digest",
        )


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is no number of JSON")
