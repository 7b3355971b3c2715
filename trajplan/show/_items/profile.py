"""Outline of a screw that every drawing of it shares: its head, and where its tip lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.files import ScrewRecord
    from trajplan.implants import Screw

__all__ = ["TIP_SHARE", "head_profile", "tip_depth"]

#: Points on the curve of a head's under-surface.
HEAD_STEPS = 12
#: Radius of the blunt tip as a share of the core's; drawn, not measured.
TIP_SHARE = 0.3


def head_profile(screw: Screw, seat: float) -> Floats:
    """Profile of a head: spherical under-surface with its lowest point at the seat, flat top.

    Parameters
    ----------
    screw : Screw
        The screw.
    seat : float, mm
        Depth of the seat.

    Returns
    -------
    (k, 2) float array, mm
        Depth and radius of each point, from the middle of the top to the seat.
    """
    rise = screw.head_height * (1 - np.linspace(0, 1, HEAD_STEPS)) ** 2  # finest at the seat
    below = np.minimum(rise, screw.head_radius)
    radius = np.sqrt(screw.head_radius**2 - (screw.head_radius - below) ** 2)
    radius = np.minimum(radius, screw.head_diameter / 2)
    profile = np.column_stack([seat - rise, radius])
    return np.vstack([[seat - screw.head_height, 0.0], profile])


def tip_depth(record: ScrewRecord, screw: Screw) -> float | None:
    """Depth of the tip: the stocked length, counted from where the catalogue counts it.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    screw : Screw
        Its kind in the catalogue.

    Returns
    -------
    float or None, mm
        None where no seat or no length was found.
    """
    if record.seat is None or record.length is None:
        return None
    above = screw.head_height if screw.length_from == "top" else 0.0
    return record.seat - above + record.length
