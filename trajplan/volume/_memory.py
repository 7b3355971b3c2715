"""How much memory is free, asked before a volume is read."""

from __future__ import annotations

import os
import re
from pathlib import Path

from trajplan.errors import VolumeError

__all__ = ["free_memory", "need_memory"]

#: Room beside the volume itself, as a share of it: a second copy in another type, or the mesh.
BESIDE = 1.5


def need_memory(voxels: int, bytes_each: int, file: Path) -> None:
    """Refuse a volume that would not fit.

    Parameters
    ----------
    voxels : int
        Of the volume.
    bytes_each : int
        Of a voxel.
    file : Path
        For the error.

    Raises
    ------
    VolumeError
        If it needs more than is free.
    """
    wanted, free = voxels * bytes_each * (1.0 + BESIDE), free_memory()
    if free is not None and wanted > free:
        raise VolumeError(
            f"the volume needs {wanted / 1e9:.1f} GB of memory, and {free / 1e9:.1f} GB are free",
            remedy="crop it to the bone, or use a machine with more memory",
            file=file,
        )


def free_memory() -> int | None:
    """Memory that is free for this process.

    Returns
    -------
    int or None
        Bytes; None where the system does not say.
    """
    try:
        told = re.search(r"MemAvailable:\s+(\d+) kB", Path("/proc/meminfo").read_text())
    except OSError:
        told = None
    if told is not None:
        return int(told[1]) * 1024
    try:
        return os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return None
