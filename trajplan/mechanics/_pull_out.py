"""Pull-out of a thread: the shear of the material between its turns."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import DegenerateError
from trajplan.mechanics._range import not_negative, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats

__all__ = ["pull_out", "shear_area", "thread_shape_factor"]

#: tan 30°, the constant of the formula as it is printed.
TAN_30 = 0.57735


def thread_shape_factor(thread: ArrayLike, core: ArrayLike, pitch: ArrayLike) -> Floats:
    """Thread shape factor: how much of the cylinder over the thread is sheared.

    Parameters
    ----------
    thread, core, pitch : (n,) float arrays, mm
        Major diameter, minor diameter and pitch.

    Returns
    -------
    (n,) float array

    Raises
    ------
    DegenerateError
        If a dimension is not finite and above zero, or a core not below its thread.

    Notes
    -----
    ``0.5 + 0.57735 d / p`` with the thread depth ``d = (thread - core) / 2``.

    References
    ----------
    .. [1] Chapman et al. 1996, J Biomech Eng 118:391-398: the quantities are published in
       its abstract, the constants are from memory.
    """
    thread, core, pitch = (
        positive("thread", thread),
        positive("core", core),
        positive("pitch", pitch),
    )
    if (core >= thread).any():
        raise DegenerateError("core must be below the thread diameter")
    factor: Floats = 0.5 + TAN_30 * (thread - core) / (2.0 * pitch)
    return factor


def shear_area(thread: ArrayLike, core: ArrayLike, pitch: ArrayLike) -> Floats:
    """Material sheared in pulling a thread out, for each mm of thread that bites.

    Parameters
    ----------
    thread, core, pitch : (n,) float arrays, mm
        Major diameter, minor diameter and pitch.

    Returns
    -------
    (n,) float array, mm²/mm

    Raises
    ------
    DegenerateError
        As `thread_shape_factor`.
    """
    area: Floats = np.pi * np.asarray(thread) * thread_shape_factor(thread, core, pitch)
    return area


def pull_out(
    shear_strength: ArrayLike,
    length: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    pitch: ArrayLike,
) -> Floats:
    """Force that pulls a thread out of a material.

    Parameters
    ----------
    shear_strength : (n,) float array, MPa
        Shear strength of the material.
    length : (n,) float array, mm
        Thread that bites it.
    thread, core, pitch : (n,) float arrays, mm
        Major diameter, minor diameter and pitch.

    Returns
    -------
    (n,) float array, N
        NaN where the length is unknown, and where it is zero: a thread with no bone has
        no holding strength to name.

    Raises
    ------
    DegenerateError
        If a strength or a dimension is not above zero, or a length is negative.

    Notes
    -----
    ``F = S · π · L · D · (0.5 + 0.57735 d / p)``. The formula leaves out pilot hole, tapping
    and compaction by tapered cores (Weidling et al. 2022, Sci Rep, doi
    10.1038/s41598-022-11824-2), and promises fine pitches more than tests show in weak foam
    (Ricci et al. 2010, J Orthop Trauma, abstract).

    References
    ----------
    .. [1] Chapman et al. 1996, J Biomech Eng 118:391-398; ASTM F543 uses the same geometry.
    """
    length = not_negative("length", length)
    force = positive("shear strength", shear_strength) * length * shear_area(thread, core, pitch)
    return np.where(length > 0.0, force, np.nan)
