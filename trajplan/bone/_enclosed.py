"""Places in no bone that are walled in by bone, like a canal that opens at an end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.geometry import ring_offsets

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.bone._cast import Caster

__all__ = ["enclosed", "walled_share"]

#: Lines through each place, both ways: 48 directions.
LINES = 24
#: Share of directions that must meet bone for a place to count as walled in. In the middle
#: of a canal cut off at both ends it is above 0.95, one radius from an open end 0.85; beside
#: a bone or in a shallow notch it stays below 0.7.
WALLED_SHARE = 0.75
#: Lines through a place in the plane across the canal: one every 7.5 degrees.
ROUND_LINES = 24
#: Share of directions in that plane that must meet bone. A canal is walled in all round. From
#: a notch or a joint space, however deep, open directions reach round half a circle or more,
#: so that every plane has some.
ROUND_SHARE = 0.93


def walled_share(caster: Caster, points: Vec3s) -> Floats:
    """Share of all directions in which bone lies.

    Parameters
    ----------
    caster : Caster
        Engine over the bone's triangles.
    points : (n, 3) float array, mm
        Places outside bone.

    Returns
    -------
    (n,) float array
        0 far from bone in the open, 1 in a closed hollow; to about 1 / 48.
    """
    rays = np.broadcast_to(_all_round(), (len(points), LINES, 3))
    share: Floats = _meets(caster, points, rays).mean(axis=1)
    return share


def _all_round() -> Vec3s:
    """Upper half of a spherical spiral with the golden angle; each line looks both ways."""
    step = np.arange(LINES)
    height = (step + 0.5) / LINES
    angle = step * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - height**2)
    return np.stack([flat * np.cos(angle), flat * np.sin(angle), height], axis=1)


def _meets(caster: Caster, points: Vec3s, rays: Floats) -> Floats:
    """Share of the two ways of each line that meet bone, (n, lines): 0, a half or 1."""
    n, lines, _ = rays.shape
    hits = caster.crossings(np.repeat(points, lines, axis=0), rays.reshape(-1, 3))
    line = rows_of(hits.offsets)
    ways = np.zeros((2, n * lines))
    ways[0, line[hits.depth > 0.0]] = 0.5
    ways[1, line[hits.depth < 0.0]] = 0.5
    share: Floats = ways.sum(axis=0).reshape(n, lines)
    return share


def enclosed(caster: Caster, points: Vec3s, *, slit: Bools) -> Bools:
    """Whether places outside bone are walled in by it: canal, not air.

    Parameters
    ----------
    caster : Caster
        Engine over the bone's triangles.
    points : (n, 3) float array, mm
        Places outside bone.
    slit : (n,) bool array
        Where the slit of a fracture is known to open the canal: there only the share over
        all directions counts.

    Returns
    -------
    (n,) bool array
    """
    rays = _all_round()
    met = _meets(caster, points, np.broadcast_to(rays, (len(points), LINES, 3)))
    walled: Bools = met.mean(axis=1) >= WALLED_SHARE
    ask = np.flatnonzero(walled & ~slit & (met < 1.0).any(axis=1))
    # The canal runs where most of the open directions point.
    spread = np.einsum("nk,ki,kj->nij", 1.0 - met[ask], rays, rays)
    along = np.linalg.eigh(spread)[1][:, :, 2]
    across = ring_offsets(along, np.ones(len(ask)), 2 * ROUND_LINES)[:, :ROUND_LINES]
    walled[ask] = _meets(caster, points[ask], across).mean(axis=1) >= ROUND_SHARE
    return walled
