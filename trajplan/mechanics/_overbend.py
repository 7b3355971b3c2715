"""How much more a compressing plate is bent than the bone, so that the far side closes too.

Rigid fragments, and a plate that bends between its two inner screws; all the overbend lies
there. With a force F along the plate and a moment M in it, the fracture's resultant lies M / F
from the plate's axis: the whole fracture is pressed where that is within the core of the
bone's section, evenly where it is at its centroid. No give of the bone, no crushing, and the
holes are left out: for comparing, and for the size of a stand-off.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_vector
from trajplan.mechanics._load import Load
from trajplan.mechanics._range import Range, not_negative, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats
    from trajplan.mechanics._plate_section import PlateSection, ShaftSection

__all__ = ["Overbend", "overbend", "plate_pull", "resultant"]


@dataclass(frozen=True, slots=True, eq=False)
class Overbend:
    """Overbend of ``n`` plates. Low: below it the far side gapes; high: past it the near one.

    Both are NaN where no one overbend serves the whole range of the force.
    """

    angle: Range  # degrees, between the two inner screws
    stand_off: Range  # mm, of the middle of the whole plate when it rests on its ends
    elastic: Floats  # (n,) mm, stand-off past which a greater one adds no force; NaN: unknown
    straight_gap: Floats  # (n,) mm that the far side gapes under a plate without overbend


def overbend(
    plate: PlateSection, bone: ShaftSection, force: Range, *, between: float, length: float
) -> Overbend:
    """Overbend that closes both sides of a fracture under a plate's pull.

    Parameters
    ----------
    plate : PlateSection
        The plate.
    bone : ShaftSection
        The bone at the fracture.
    force : Range
        Compression, (n,) N; NaN is unknown.
    between : float, mm
        Between the two inner screws.
    length : float, mm
        Of the whole plate.

    Returns
    -------
    Overbend
        The gap under a straight plate is that of the greatest force.

    Raises
    ------
    DegenerateError
        If a length is not above zero, or a force is below it.
    """
    positive("distance of the inner screws and length of the plate", [between, length])
    lever = bone.radius + plate.height
    low, middle, high = (
        np.atleast_1d(not_negative("force", f)) for f in (force.low, force.estimate, force.high)
    )
    per_force = between / plate.stiffness  # radians for each N mm
    least, most = high * (lever - bone.core) * per_force, low * (lever + bone.core) * per_force
    serves = least <= most * (1.0 + 1e-12)
    angle = Range(
        np.where(serves, least, np.nan), middle * lever * per_force, np.where(serves, most, np.nan)
    )
    raised = length / 4.0
    limit = plate.yield_moment * per_force * raised
    return Overbend(
        angle=Range(*(np.degrees(a) for a in (angle.low, angle.estimate, angle.high))),
        stand_off=Range(*(raised * a for a in (angle.low, angle.estimate, angle.high))),
        elastic=np.full(len(middle), limit),
        straight_gap=high * plate.height * per_force * 2.0 * bone.radius,
    )


def resultant(
    plate: PlateSection,
    stand_off: ArrayLike,
    force: ArrayLike,
    *,
    between: float,
    length: float,
) -> Floats:
    """Where the fracture's resultant lies under an overbent plate.

    Parameters
    ----------
    plate : PlateSection
        The plate.
    stand_off : (n,) array_like, mm
        Of the middle of the whole plate when it rests on its ends.
    force : (n,) array_like, N
        Compression.
    between, length : float, mm
        As for `overbend`.

    Returns
    -------
    (n,) float array, mm
        From the plate's axis into the bone. Nearer than the bone's core the far side gapes,
        further than it the near side.
    """
    angle = 4.0 * not_negative("stand-off", stand_off) / length
    moment = np.minimum(
        plate.stiffness * angle / between, np.nan_to_num(plate.yield_moment, nan=np.inf)
    )
    found: Floats = moment / positive("force", force)
    return found


def plate_pull(
    force: float, moment: float, point: ArrayLike, normal: ArrayLike, out: ArrayLike
) -> Load:
    """Pull and moment of a plate, as a load on the near fragment.

    Parameters
    ----------
    force : float, N
        Compression along the fracture's normal.
    moment : float, N mm
        In the plate; plus closes the side away from it.
    point : array_like, (3,), mm
        On the plate's axis over the fracture.
    normal : array_like, (3,)
        Of the fracture, from the near fragment to the far one.
    out : array_like, (3,)
        From the bone to the plate.

    Returns
    -------
    Load
        For `contact_of`, with the loads of lag screws or without.
    """
    along, up = as_directions(normal, "normal")[0], as_directions(out, "out")[0]
    return Load(force * along, moment * np.cross(along, up), as_vector(point, "point"))
