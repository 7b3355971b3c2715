"""VTK's own messages."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["quiet"]


@contextmanager
def quiet() -> Iterator[None]:
    """Keep VTK's notes about missing X servers off the standard error stream."""
    from vtkmodules.vtkCommonCore import vtkLogger

    before = vtkLogger.GetCurrentVerbosityCutoff()
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_ERROR)
    try:
        yield
    finally:
        vtkLogger.SetStderrVerbosity(before)
