"""Fingerprints of everything that a result rests on."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from trajplan.errors import CaseError
from trajplan.outside import is_folder, regular_file

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.files import Case

__all__ = ["fingerprints"]

#: Digests by path, size, and times of change: one mesh serves many cases. A file that was
#: written again has another time of change and is read again.
_KNOWN: dict[tuple[str, int, int, int, int], str] = {}


def fingerprints(case: Case, axes: Path | None) -> dict[str, str]:
    """Hash the case and every file that it names.

    Parameters
    ----------
    case : Case
        The case.
    axes : Path or None
        Table of axes that goes with it.

    Returns
    -------
    dict
        Path as the case names it -> sha256; the case itself stands under "case", the table
        under "axes".

    Raises
    ------
    CaseError
        If a file cannot be read.
    """
    own = case.sha256 or hashlib.sha256(case.model_dump_json().encode()).hexdigest()
    table = {} if axes is None else {"axes": _digest(axes)}
    return {"case": own, **table, **{path: _digest(case.resolve(path)) for path in _paths(case)}}


def _paths(case: Case) -> list[str]:
    named = (
        *case.catalogue,
        *case.bone.paths,
        case.bone.reduction,
        case.fracture.mesh,
        *(joint.mesh for joint in case.joints),
        *(avoid.mesh for avoid in case.avoids),
        *_slices(case),
    )
    return list(dict.fromkeys(path for path in named if path is not None))


def _slices(case: Case) -> list[str]:
    """Files of the case's CT: of a folder every one in it."""
    if case.bone.ct is None:
        return []
    where = case.resolve(case.bone.ct)
    if not is_folder(where):
        return [case.bone.ct]
    return sorted(f"{case.bone.ct}/{file.name}" for file in where.iterdir() if file.is_file())


def _digest(path: Path) -> str:
    about = regular_file(path, CaseError)
    key = (str(path), about.st_ino, about.st_size, about.st_mtime_ns, about.st_ctime_ns)
    try:
        if key not in _KNOWN:
            with path.open("rb") as stream:
                _KNOWN[key] = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise CaseError(
            f"the file cannot be read ({error.strerror})",
            remedy="check its name and rights",
            file=path,
        ) from None
    return _KNOWN[key]
