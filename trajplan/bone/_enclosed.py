"""Places in no bone that are walled in by bone, like a canal that opens at an end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.bone._cast import Caster

__all__ = ["enclosed", "walled_share"]

#: Lines through each place, both ways: 48 directions.
LINES = 24
#: Share of directions that must meet bone for a place to count as walled in. In the middle
#: of a canal cut off at both ends it is above 0.95, one radius from an open end 0.85; in a
#: notch with upright walls, or beside a bone, it stays below 0.7.
WALLED_SHARE = 0.75


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
    # Upper half of a spherical spiral with the golden angle; each line looks both ways.
    step = np.arange(LINES)
    height = (step + 0.5) / LINES
    angle = step * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - height**2)
    rays = np.stack([flat * np.cos(angle), flat * np.sin(angle), height], axis=1)
    hits = caster.crossings(np.repeat(points, LINES, axis=0), np.tile(rays, (len(points), 1)))
    line = np.repeat(np.arange(len(hits.offsets) - 1), np.diff(hits.offsets))
    ahead = np.zeros(len(points) * LINES, dtype=np.bool_)
    behind = np.zeros_like(ahead)
    ahead[line[hits.depth > 0.0]] = True
    behind[line[hits.depth < 0.0]] = True
    seen = (ahead.astype(np.float64) + behind).reshape(len(points), LINES)
    share: Floats = seen.mean(axis=1) / 2.0
    return share


def enclosed(caster: Caster, points: Vec3s) -> Bools:
    """Whether places outside bone are walled in by it: canal, not air.

    Parameters
    ----------
    caster : Caster
        Engine over the bone's triangles.
    points : (n, 3) float array, mm
        Places outside bone.

    Returns
    -------
    (n,) bool array
    """
    return walled_share(caster, points) >= WALLED_SHARE
