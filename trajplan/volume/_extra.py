"""Packages that only this floor needs."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from trajplan.errors import VolumeError, install

__all__ = ["need"]


def need(package: str) -> Any:  # noqa: ANN401 - a module without types
    """Load a package of the extra ``ct``.

    Parameters
    ----------
    package : str
        Its name, such as ``pydicom``.

    Returns
    -------
    module

    Raises
    ------
    VolumeError
        If it is missing, with what to install.
    """
    try:
        return import_module(package)
    except ImportError as error:
        raise VolumeError(
            f"volumes need {package}, which cannot be loaded ({error})",
            remedy=install("ct"),
        ) from None
