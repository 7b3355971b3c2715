"""Steps of the outer walls along the fracture line of two fragments.

A step is the height of one outer wall over the other where both end at the fracture. Of a
fragment whose break runs out flat, samples say wall too early, and a wall's normal at the line is
tilted by the break beside it: measured so, a wedge in place had a step of 3 mm at its tip. So what
faces another fragment is no wall, and what is left is calmed by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.reduction._labels import calm_radius
from trajplan.reduction._near import nearest
from trajplan.reduction._pair import Links, calmed, wall_links, wall_tree
from trajplan.reduction._samples import calm

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.reduction._samples import Samples

__all__ = ["Rim", "heights"]

#: mm from what faces the other fragment within which wall lies at the fracture line: two or
#: three samples, and less than a wall that bends would change its height over.
LINE = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """Outer wall of a fragment along its fracture line with another."""

    points: Vec3s  # (n, 3) mm, as the fragment lies
    normals: Vec3s  # (n, 3) unit, outwards
    areas: Floats  # (n,) mm²

    @classmethod
    def of(cls, samples: Samples, wall: Bools, met: Ints) -> Rim:
        """The wall along the line.

        Parameters
        ----------
        samples : Samples
            Of the fragment.
        wall : (n,) bool array
            Which of them are outer wall: none that faces a fragment.
        met : (k,) int array
            Which of them face the other fragment.
        """
        rows, radius = np.flatnonzero(wall), calm_radius(samples.spacing)
        within = LINE + radius  # what calms the wall at the line lies so far down
        away, _ = nearest(cKDTree(samples.points[met]), samples.points[rows], within)
        near, away = rows[away < within], away[away < within]
        part = replace(
            samples, points=samples.points[near], normals=samples.normals[near],
            areas=samples.areas[near], broken=~wall[near], wall=wall[near],
            calm_points=None, calm_normals=None,
        )  # fmt: skip
        points, normals = calmed(calm(part, radius))
        beside = away < LINE
        return cls(points[beside], normals[beside], part.areas[beside])


def heights(one: Rim, other: Rim, pose: Floats) -> tuple[Vec3s, Floats, Floats]:
    """Steps between two walls.

    Parameters
    ----------
    one, other : Rim
        As the fragments lie.
    pose : (4, 4) float array
        Of the other, beside the one as it lies.

    Returns
    -------
    points : (n, 3) float array, mm
        Halfway between the walls, as the one lies.
    step : (n,) float array, mm
        Height of one over the other, absolute.
    area : (n,) float array, mm²
        That each stands for.
    """
    if not (len(one.points) and len(other.points)):
        return np.zeros((0, 3)), np.zeros(0), np.zeros(0)
    tree = wall_tree(one.points, one.normals)
    walls = (one.points, one.normals), (other.points, other.normals)
    links = Links(*wall_links(tree, *walls, other.areas, pose))
    return 0.5 * (links.moving + links.standing), np.abs(links.height), links.weight
