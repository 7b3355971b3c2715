"""What the header of a volume file says, before its voxels are read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.errors import VolumeError

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.volume._grid import Grid

__all__ = ["MOST_VOXELS", "Head", "cut_short", "not_three", "wrong_head"]

#: Voxels along an edge at most: a header that says more is broken.
MOST_VOXELS = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Head:
    """Size and place of a volume."""

    grid: Grid
    bytes_each: int  # of a voxel in the file
    files: tuple[Path, ...]  # all that the volume is read from
    form: str  # as `Source` names it
    reader: str  # SimpleITK's name of the format
    cautions: tuple[str, ...] = ()


def wrong_head(found: str, file: Path, remedy: str = "export the volume again") -> VolumeError:
    """An error about a header.

    Parameters
    ----------
    found : str
        What is wrong with it.
    file : Path
        The file.
    remedy : str
        How to mend it.

    Returns
    -------
    VolumeError
    """
    return VolumeError(found, remedy=remedy, file=file)


def cut_short(file: Path, there: int, wanted: int) -> VolumeError:
    """An error about a file that ends too early.

    Parameters
    ----------
    file : Path
        The file.
    there, wanted : int
        Bytes.

    Returns
    -------
    VolumeError
    """
    return wrong_head(
        f"the file is cut short: {there:,} bytes where its header says {wanted:,}",
        file,
        "copy or export it again",
    )


def not_three(count: str, file: Path) -> VolumeError:
    """An error about a volume that is more, or less, than voxels with one value each.

    Parameters
    ----------
    count : str
        What it has, such as ``4 dimensions``.
    file : Path
        The file.

    Returns
    -------
    VolumeError
    """
    return wrong_head(
        f"this is no single volume: it has {count}",
        file,
        "export one volume, three dimensions with one value a voxel",
    )
