"""One surface between two fragments under the sum of all that presses it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.mechanics._contact import contact_of
from trajplan.mechanics._friction_limit import friction_limit

if TYPE_CHECKING:
    from trajplan.mechanics._contact import ContactResult
    from trajplan.mechanics._load import Load
    from trajplan.mechanics._region import Region

__all__ = ["Pressed", "press_surface"]


@dataclass(frozen=True, slots=True, eq=False)
class Pressed:
    """How a surface is pressed, and what keeps it from sliding."""

    contact: ContactResult
    limit: float  # factor on shear and torsion at which it slides, for friction 1; NaN unknown
    bends: bool  # the bends of the surface bear part of what pulls sideways


def press_surface(region: Region, load: Load, friction: float) -> Pressed:
    """Press a near fragment on a far one, with all of the surface between them.

    Parameters
    ----------
    region : Region
        The surface.
    load : Load
        On the fragment behind its normals.
    friction : float
        Least coefficient of friction to count on.

    Returns
    -------
    Pressed

    Raises
    ------
    ShapeError, DegenerateError
        As `contact_of`.

    Notes
    -----
    As long as friction bears all that pulls sideways, the fragments only close and tilt: three
    motions, and the answer is Coulomb's. On a plane that is all there is. Where friction does
    not bear it and the surface is curved, the fragments slide until its bends stop them: up to
    six motions, friction bears what is left in those that nothing else resists, and where
    nothing is left the limit is infinite. Where the bends do not hold them either, the first
    answer stands, and it says that they slide (assumption: of the two states a surface is in
    the one that needs no sliding).
    """
    stuck = _pressed(region, load, stuck=True)
    if friction * stuck.limit >= 1.0:
        return stuck
    moved = _pressed(region, load, stuck=False)
    return moved if moved.bends and moved.contact.converged else stuck


def _pressed(region: Region, load: Load, *, stuck: bool) -> Pressed:
    found = contact_of(region.points, region.normals, region.areas, load, stuck=stuck)
    limit = friction_limit(
        region.points,
        found.pressure * region.areas,
        region.normals,
        found.carried,
        found.sliding,
    )
    return Pressed(found, limit, bends=found.sliding.shape[1] < 3)
