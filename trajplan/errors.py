"""Every exception that trajplan raises on purpose.

::

    TrajplanError
    ├── InputError            the user can mend it; exit status 2
    │   ├── MeshError         a mesh file or mesh object
    │   ├── VolumeError       a CT or a label map
    │   ├── CaseError         a case file, or the case that it describes
    │   ├── AxesFileError     a table of axes
    │   ├── CatalogueError    an implant catalogue
    │   ├── PlanFileError     a plan file
    │   ├── ManifestError     a list of many cases
    │   ├── WorkerError       worker processes or a cluster that do not answer
    │   └── OutputError       a place that cannot be written
    └── GeometryError         arrays handed to a function do not fit
        ├── ShapeError        wrong shape
        ├── DegenerateError   right shape, but no answer exists
        └── PoseError         a movement that no bone can make

Each keeps what it knows as attributes and composes one sentence from them.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = [
    "AxesFileError",
    "CaseError",
    "CatalogueError",
    "DegenerateError",
    "GeometryError",
    "InputError",
    "ManifestError",
    "MeshError",
    "OutputError",
    "PlanFileError",
    "PoseError",
    "ShapeError",
    "TrajplanError",
    "VolumeError",
    "WorkerError",
    "install",
]


class TrajplanError(Exception):
    """Root of all errors of this package."""


class InputError(TrajplanError):
    """Something that the user handed in is wrong and can be mended.

    Parameters
    ----------
    found : str
        What was found, as the middle of a sentence ("the file is empty").
    remedy : str
        How to mend it, as an imperative ("export the mesh again").
    file : str or Path, optional
        The file that is wrong.
    where : str, optional
        Key, row or face inside the file.
    """

    def __init__(
        self,
        found: str,
        *,
        remedy: str,
        file: str | Path | None = None,
        where: str | None = None,
    ) -> None:
        self.file = None if file is None else str(file)
        self.where = where
        self.found = found
        self.remedy = remedy
        place = ", ".join(part for part in (self.file, where) if part)
        sentence = f"{found}; {remedy}"
        super().__init__(f"{place}: {sentence}" if place else sentence)

    def __reduce__(self) -> tuple[object, ...]:
        """Survive pickling, so that a worker process can hand the error back."""
        return _rebuild, (type(self), self.found, self.remedy, self.file, self.where)


def _rebuild(
    kind: type[InputError], found: str, remedy: str, file: str | None, where: str | None
) -> InputError:
    return kind(found, remedy=remedy, file=file, where=where)


class MeshError(InputError):
    """A mesh cannot be used as it is."""


class VolumeError(InputError):
    """A CT or a label map cannot be used as it is."""


class CaseError(InputError):
    """A case file, or the case that it describes, cannot be planned."""


class AxesFileError(InputError):
    """A table of axes cannot be read."""


class CatalogueError(InputError):
    """An implant catalogue is wrong, or does not hold what was asked for."""


class PlanFileError(InputError):
    """A plan file cannot be read."""


class ManifestError(InputError):
    """A manifest, which lists many cases, cannot be read."""


class WorkerError(InputError):
    """Worker processes or a cluster cannot be had, or were lost."""


class OutputError(InputError):
    """A result cannot be written."""


class GeometryError(TrajplanError):
    """Arrays handed to a geometric function do not fit it."""


class ShapeError(GeometryError):
    """An array has the wrong shape.

    Parameters
    ----------
    name : str
        Name of the argument.
    expected : str
        The shape that was expected, such as ``(n, 3)``.
    got : tuple of int
        The shape received.
    """

    def __init__(self, name: str, expected: str, got: tuple[int, ...]) -> None:
        self.name = name
        self.expected = expected
        self.got = got
        super().__init__(f"{name} must have shape {expected}, got {got}")


class DegenerateError(GeometryError):
    """Arrays have the right shape, but no answer exists for them."""


class PoseError(GeometryError):
    """A matrix is no rigid movement: it mirrors, stretches or bends."""


@contextmanager
def about(file: Path) -> Iterator[None]:
    """Name the file in errors of floors that work on its content and do not know the file.

    Parameters
    ----------
    file : Path
        The file that is worked on.

    Raises
    ------
    InputError
        The error that was raised inside, with the file where it named none.
    """
    try:
        yield
    except InputError as error:
        if error.file is not None:
            raise
        raise type(error)(error.found, remedy=error.remedy, file=file, where=error.where) from None


def install(extra: str) -> str:
    """How an extra is installed, in the words of README.md.

    Parameters
    ----------
    extra : str
        Its name in ``pyproject.toml``.

    Returns
    -------
    str
        A remedy, see `InputError`.
    """
    return f"in the folder of trajplan, install it with: pip install -e '.[{extra}]'"
