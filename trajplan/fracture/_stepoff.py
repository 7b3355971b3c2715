"""Step-off: how far the outer surfaces of two fragments stand apart at their rim."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from trajplan.bone import Surface, SurfaceDistance
from trajplan.fracture._facing import nearest_crossing
from trajplan.fracture._normals import units

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.fracture._facing import Facing
    from trajplan.fracture._midsurface import MidSurface

__all__ = ["Rim", "measure_rim"]

#: mm from the rim, half the gap added, within which both outer surfaces must lie for the rim
#: to be found: about where a step is called displaced (assumption).
RIM_NEAR = 2.0
#: Distances from the rim, mm, half the gap added, at which the outer surfaces are sounded.
SOUNDINGS = np.arange(0.5, 2.01, 0.25)
#: Fewest soundings that a line is drawn through.
FEWEST = 3
#: mm up to which an outer surface is looked for above and below the rim.
HIGHEST = 5.0
#: Cosine of the angle (20 degrees) to the fracture normal within which a face near the rim is
#: taken for fracture surface that faces nothing, not for outer surface (assumption: fractures
#: steeper against the surface than that are scarce).
STEEP = float(np.cos(np.radians(20.0)))
#: Sine of the least angle between outer surface and fracture surface: where they run nearly
#: alike, half the gap reaches far along the outside.
LEAST_SINE = 0.3
#: mm of rim on either side over which steps are averaged, against the noise of a mesh.
AVERAGED = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """The edges of a mid-surface that should lie at the outside of the bone."""

    points: Vec3s  # (k, 3) mm, middles
    length: Floats  # (k,) mm
    found: Bools  # (k,) the outer surfaces of both fragments are near
    step: Floats  # (k,) mm, height of the second fragment over the first; NaN: not measured
    outward: Vec3s  # (k, 3) unit, along which the step is measured


def measure_rim(bone: Bone, facing: Facing, middle: MidSurface) -> Rim:
    """Find the rim of a mid-surface on both fragments, and sound the step between them.

    Parameters
    ----------
    bone : Bone
        The bone.
    facing : Facing
        The faces near the fracture.
    middle : MidSurface
        Surface between two of its fragments.

    Returns
    -------
    Rim
        Of the outer border of each connected piece; borders of holes (the canal) are none
        of it, nor what lies at a third fragment.

    Notes
    -----
    At the middle of each rim edge, ``u`` is the mean outward normal of the two outer
    surfaces nearest to it, and ``w`` the normal between the fragments less its part along
    ``u``: it runs in the outer surface, straight away from the rim into a fragment. The
    height of the fragment's outer surface along ``u`` is sounded at 0.5 to 2 mm along ``w``
    (past half the gap), and a least-squares line through the soundings gives its height at
    the rim. The step is the height of the second fragment less that of the first: the
    distance between their tangent planes, across the surface. A curvature that both share
    cancels.
    """
    edge = _outer_border(middle)
    points = middle.surface.vertices[edge].mean(axis=1)
    others = np.flatnonzero(~np.isin(facing.body, middle.fragments))
    near = RIM_NEAR + 0.5 * np.abs(middle.gap[edge].mean(axis=1))
    edge = edge[_nearest(facing, others, points)[0] > near]
    ends, normal = middle.surface.vertices[edge], middle.normals[edge].mean(axis=1)
    gap = middle.gap[edge].mean(axis=1)
    points, length = ends.mean(axis=1), np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    outers = [_outer_faces(bone, facing, middle, body) for body in middle.fragments]
    away, face = zip(*(_nearest(facing, faces, points) for faces in outers), strict=True)
    outward = units(facing.normals[face[0]] + facing.normals[face[1]])
    along = normal - np.einsum("ij,ij->i", normal, outward)[:, None] * outward
    steep = np.linalg.norm(along, axis=1)
    found = np.maximum(*away) <= 0.5 * np.abs(gap) + RIM_NEAR
    start = 0.5 * np.abs(gap) / np.maximum(steep, LEAST_SINE)
    aside = -units(along)
    low, high = (
        _height(facing.triangles(faces), facing.normals[faces], points, outward, way, start)
        for faces, way in zip(outers, (aside, -aside), strict=True)
    )
    # a step is looked for farther off than a rim that fits: else the large ones were missed
    near_by = np.maximum(*away) <= 0.5 * np.abs(gap) + HIGHEST
    step = np.where(near_by, high - low, np.nan)
    return Rim(points, length, found, _averaged(points, length, step), outward)


def _outer_border(middle: MidSurface) -> Ints:
    """Edges of the longest border of each connected piece."""
    faces = middle.surface.faces
    edges = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    unique, count = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
    border = unique[count == 1]
    piece = _components(edges, len(middle.gap))
    ring = _components(border, len(middle.gap))[border[:, 0]]
    points = middle.surface.vertices
    length = np.linalg.norm(points[border[:, 0]] - points[border[:, 1]], axis=1)
    total = np.bincount(ring, length)
    longest = {}
    for number in np.argsort(total):
        on = np.flatnonzero(ring == number)
        if len(on):
            longest[int(piece[border[on[0], 0]])] = on
    kept: Ints = border[np.concatenate(list(longest.values()))]
    return kept


def _components(edges: Ints, count: int) -> Ints:
    links = coo_array((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    return connected_components(links, directed=False)[1].astype(np.int64)


def _outer_faces(bone: Bone, facing: Facing, middle: MidSurface, body: int) -> Ints:
    """Faces of a fragment that face nothing and do not run along the fracture surface."""
    outermost = (bone.shells.nesting == 0)[bone.shells.of_face[facing.source]]
    rows = np.flatnonzero((facing.body == body) & outermost & ~middle.facing)
    middles = facing.triangles(rows).mean(axis=1)
    nearest = cKDTree(middle.surface.vertices).query(middles)[1]
    cosine = np.einsum("ij,ij->i", facing.normals[rows], middle.normals[nearest])
    kept: Ints = rows[np.abs(cosine) < STEEP]
    return kept


def _nearest(facing: Facing, rows: Ints, points: Vec3s) -> tuple[Floats, Ints]:
    """Distance to some faces, and which is nearest."""
    if len(rows) == 0 or len(points) == 0:
        return np.full(len(points), np.inf), np.zeros(len(points), dtype=np.int64)
    tree = SurfaceDistance.of(Surface(facing.vertices, facing.faces[rows], {}, "", "", 0))
    square, face, _ = tree.tree.nearest(points)
    return np.sqrt(square), rows[face]


def _height(
    triangles: Floats,
    normals: Vec3s,
    points: Vec3s,
    outward: Vec3s,
    aside: Vec3s,
    start: Floats,
) -> Floats:
    """Height of an outer surface at the rim, from soundings beside it; NaN where too few."""
    reach = start[:, None] + SOUNDINGS
    origin = (points[:, None] + reach[..., None] * aside[:, None]).reshape(-1, 3)
    direction = np.repeat(outward, len(SOUNDINGS), axis=0)
    height = nearest_crossing(triangles, normals, origin, direction)
    height[~(np.abs(height) <= HIGHEST)] = np.nan
    return _at_rim(reach, height.reshape(reach.shape))


def _at_rim(reach: Floats, height: Floats) -> Floats:
    """Least-squares lines through soundings, row by row, taken back to the rim."""
    known = np.isfinite(height)
    count = known.sum(axis=1)
    enough = count >= FEWEST
    share = known / np.maximum(count, 1)[:, None]
    height = np.where(known, height, 0.0)
    mean_reach, mean_height = (share * reach).sum(axis=1), (share * height).sum(axis=1)
    apart = reach - mean_reach[:, None]
    square = (share * apart**2).sum(axis=1)
    slope = (share * apart * height).sum(axis=1) / np.where(enough, square, 1.0)
    return np.where(enough, mean_height - slope * mean_reach, np.nan)


def _averaged(points: Vec3s, length: Floats, step: Floats) -> Floats:
    """Steps averaged over the rim nearby, by length."""
    known = np.flatnonzero(np.isfinite(step))
    smooth = np.full(len(step), np.nan)
    if len(known) == 0:
        return smooth
    tree = cKDTree(points[known])
    near, itself = tree.query_pairs(AVERAGED, output_type="ndarray"), np.arange(len(known))
    one = np.concatenate([near[:, 0], near[:, 1], itself])
    other = np.concatenate([near[:, 1], near[:, 0], itself])
    weight = length[known][other]
    total = np.bincount(one, weight, len(known))
    smooth[known] = np.bincount(one, weight * step[known][other], len(known)) / total
    return smooth
