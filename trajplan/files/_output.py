"""Files are written whole or not at all, and over nothing that somebody else needs."""

from __future__ import annotations

import secrets
from contextlib import contextmanager
from typing import TYPE_CHECKING, BinaryIO

from trajplan.errors import OutputError
from trajplan.files._claims import a_folder, claim, is_there, no_folder, no_folder_there, reason
from trajplan.files._own import OWN, file_digest, is_own, listed, own_lines
from trajplan.outside import file_id, files_read, is_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trajplan.outside import FileId

__all__ = [
    "make_folder",
    "outdate",
    "staged",
    "together",
    "write_bytes_atomic",
    "write_text_atomic",
    "writing",
]


class _Group:
    """Files that are put in place together, or not at all."""

    def __init__(self, read: set[FileId], *, force: bool) -> None:
        self.files: dict[Path, Path] = {}  # goal -> where it lies until all are whole
        self.folders: list[Path] = []  # made for them
        self.gone: list[Path] = []  # of an earlier call, which these would contradict
        self._read, self._force = read, force

    def check(self, path: Path) -> None:
        """Refuse to write over what is read, or what is not our own."""
        if self._force or path in self.files:
            return
        if file_id(path) in self._read:
            raise OutputError(
                "the same call reads this file", remedy="name another file", file=path
            )
        claim([path])

    def put_in_place(self) -> None:
        """Put every file where it belongs, and list them as ours."""
        for path in self.files:
            no_folder_there(path)
        folders: dict[Path, dict[str, str]] = {}
        for path, temporary in self.files.items():
            digest = file_digest(temporary)
            folders.setdefault(path.parent, {})[path.name] = digest or ""
        for folder, names in folders.items():
            kept = {
                name: digest
                for name, digest in listed(folder).items()
                if (folder / name).exists() and folder / name not in self.gone
            }
            write_text_atomic(folder / OWN, own_lines(kept | names))
        for path, temporary in self.files.items():
            try:
                temporary.replace(path)
            except OSError as error:
                raise _not_written(path, error) from error
        for path in self.gone:
            _drop(path)

    def drop(self) -> None:
        """Leave nothing behind."""
        for temporary in self.files.values():
            _drop(temporary)
        for folder in reversed(self.folders):
            try:
                folder.rmdir()
            except OSError:  # somebody else put something there
                return


#: The group that files are written for now; none: each stands alone.
_GROUPS: list[_Group] = []


@contextmanager
def together(read: set[FileId] | None = None, *, force: bool = False) -> Iterator[None]:
    """Put all files that are written inside in place at the end, or none of them.

    Parameters
    ----------
    read : set of FileId, optional
        Files that are never written over, beside those read inside.
    force : bool
        Write over whatever is there.

    Raises
    ------
    OutputError
        Inside, where a file is to be written over one that is read, or that is not our own.
    """
    with files_read() as noted:
        group = _Group(noted if read is None else read, force=force)
        _GROUPS.append(group)
        try:
            yield
            _GROUPS.remove(group)
            group.put_in_place()
        except BaseException:
            if group in _GROUPS:
                _GROUPS.remove(group)
            group.drop()
            raise


def outdate(path: Path) -> None:
    """Take a file of an earlier call away once all others are in place: it would tell of another.

    Parameters
    ----------
    path : Path
        The file; one that trajplan did not write, or that was changed since, stays.
    """
    if _GROUPS and is_own(path):
        _GROUPS[-1].gone.append(path)


def make_folder(out: Path, option: str = "--out") -> None:
    """Make a folder and those above it.

    Parameters
    ----------
    out : Path
        The folder.
    option : str
        Option of the command that names it, for the error.

    Raises
    ------
    OutputError
        If it cannot be made.
    """
    missing = [folder for folder in (out, *out.parents) if not is_folder(folder)]
    try:
        out.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise no_folder(out, error, option) from None
    if _GROUPS:
        _GROUPS[-1].folders += reversed(missing)


def write_text_atomic(path: Path, text: str) -> None:
    """Write UTF-8 text through a temporary file in the same folder.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    text : str
        Written as it is: line ends are not changed.

    Raises
    ------
    OutputError
        If the file cannot be written, or the text holds a name that is no UTF-8; nothing is left
        behind.
    """
    try:
        content = text.encode()
    except UnicodeEncodeError:
        raise OutputError(
            "it would hold the name of a file that is not UTF-8",
            remedy="give the file another name",
            file=path,
        ) from None
    write_bytes_atomic(path, content)


def write_bytes_atomic(path: Path, content: bytes) -> None:
    """Write bytes through a temporary file in the same folder.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    content : bytes
        What to write.

    Raises
    ------
    OutputError
        If the file cannot be written; nothing is left behind.
    """
    with writing(path) as stream:
        stream.write(content)


@contextmanager
def writing(path: Path) -> Iterator[BinaryIO]:
    """Open a file that is put in place when it is whole.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.

    Yields
    ------
    binary stream
        Of a temporary file in the same folder.

    Raises
    ------
    OutputError
        If the file cannot be written; nothing is left behind.
    """
    group = _GROUPS[-1] if _GROUPS else None
    if group is not None:
        group.check(path)
    # Opened by name, not by `tempfile`, so that the file gets the user's usual permissions.
    temporary = path.parent / f".{secrets.token_hex(6)}.part"
    try:
        is_there(path)  # a name that no system takes is told before anything is put in place
        stream = temporary.open("xb")
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        raise _not_written(path, error) from error
    try:
        with stream:
            yield stream
        if group is None:
            temporary.replace(path)
    except OSError as error:
        _drop(temporary)
        raise _not_written(path, error) from error
    except BaseException:
        _drop(temporary)
        raise
    if group is not None:
        earlier = group.files.get(path)
        if earlier is not None:
            _drop(earlier)
        group.files[path] = temporary


def staged(path: Path) -> Path:
    """Where a file lies that was written: not yet in its place, inside `together`.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Path
    """
    return _GROUPS[-1].files.get(path, path) if _GROUPS else path


def _drop(temporary: Path) -> None:
    try:
        temporary.unlink(missing_ok=True)
    except (OSError, ValueError):  # its folder is no folder, so there is nothing to drop
        return


def _not_written(path: Path, error: Exception) -> OutputError:
    if file_id(path.parent) is None:
        return OutputError(
            f"the folder {path.parent} does not exist",
            remedy="make the folder first, or name another",
            file=path,
        )
    if not is_folder(path.parent):
        return OutputError(
            f"{path.parent} is not a folder",
            remedy="make the folder first, or name another",
            file=path,
        )
    if is_folder(path):
        return a_folder(path)
    return OutputError(
        f"the file cannot be written ({reason(error)})",
        remedy="name a folder that you may write to, on a disk with room",
        file=path,
    )
