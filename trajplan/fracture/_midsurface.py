"""The surface midway between two fragments, and how wide the gap is at each of its points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from trajplan.arrays import freeze
from trajplan.bone import Surface, SurfaceDistance
from trajplan.fracture._facing import LONGEST, nearest_crossing
from trajplan.fracture._normals import areas, neighbours, units

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.fracture._facing import Facing

__all__ = ["MidSurface", "mid_surface"]

#: mm by which a line from the rim may miss the other fragment and still count, the gap then
#: being taken to its nearest point: half of the finest edge.
RIM_SLACK = 0.5 * LONGEST
#: Rounds of averaging that make neighbouring lines nearly parallel.
ROUNDS = 2
#: Cosine of the angle (60 degrees) by which a face may turn from the lines at its corners.
TURN = 0.5
#: Area below which a connected piece is an island, as mm² and as a share of the largest
#: (assumption: no screw could cross it).
LEAST_AREA, LEAST_SHARE = 5.0, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class MidSurface:
    """The open surface midway between two fragments."""

    fragments: tuple[int, int]  # the normals run from the first to the second
    surface: Surface
    normals: Vec3s  # (v, 3) unit, along which the gap is measured
    gap: Floats  # (v,) mm, negative where the fragments overlap
    area: Floats  # (v,) mm², a third of the faces round each vertex
    facing: Bools  # (k,) faces of `Facing` that look at the other fragment of the two
    islands: int  # pieces that were left out


def mid_surface(
    bone: Bone, facing: Facing, first: int, second: int, reach: float
) -> MidSurface | None:
    """Average the facing surfaces of two fragments into one.

    Parameters
    ----------
    bone : Bone
        The bone.
    facing : Facing
        What looks at what.
    first, second : int
        The two fragments.
    reach : float, mm
        Greatest gap or overlap.

    Returns
    -------
    MidSurface or None
        None where they do not face each other.

    Notes
    -----
    The fragment with more facing faces carries the triangles. At each vertex a line along
    the mean of the two facing normals, ``(n1 - n2) / |n1 - n2|``, area-weighted and
    averaged over neighbours, meets the other fragment at the gap; the vertex moves
    half-way. The other fragment is met only where it looks back: both must face each other.
    Lines that pass the other's rim by up to 0.75 mm take its nearest point.
    """
    rows = ((facing.body == first) & (facing.other == second)) | (
        (facing.body == second) & (facing.other == first)
    )
    if not rows.any():
        return None
    fine, coarse = _by_fineness(facing, rows, (first, second))
    normals = _line_normals(facing, rows & (facing.body == fine))
    target = np.flatnonzero(rows & (facing.body == coarse))
    gap = _gaps(facing, target, normals)
    kept = np.flatnonzero((facing.body == fine) & (np.abs(gap) <= reach)[facing.faces].all(axis=1))
    kept = kept[_turned_alike(facing, normals, kept)]
    points = facing.vertices + 0.5 * np.nan_to_num(gap)[:, None] * normals
    faces, islands = _large_pieces(points, facing.faces[kept])
    if len(faces) == 0:
        return None
    used, faces = np.unique(faces, return_inverse=True)
    points, faces = points[used], faces.reshape(-1, 3)
    label = f"surface between fragments {first + 1} and {second + 1}"
    freeze(points, faces)
    return MidSurface(
        fragments=(first, second),
        surface=Surface(points, faces, {}, label, bone.surface.sha256, 0),
        normals=(1.0 if fine == first else -1.0) * normals[used],
        gap=gap[used],
        area=_areas_round(points, faces),
        facing=rows,
        islands=islands,
    )


def _areas_round(points: Vec3s, faces: Ints) -> Floats:
    """A third of the area of the faces round each vertex."""
    shares = np.repeat(areas(points[faces]) / 3.0, 3)
    return np.bincount(faces.ravel(), shares, len(points)).astype(np.float64)


def _by_fineness(facing: Facing, rows: Bools, pair: tuple[int, int]) -> tuple[int, int]:
    """The fragment whose facing surface has more faces of its own, and the other."""
    count = [len(np.unique(facing.source[rows & (facing.body == body)])) for body in pair]
    return pair if count[0] >= count[1] else (pair[1], pair[0])


def _line_normals(facing: Facing, own: Bools) -> Vec3s:
    """Direction of the line at each vertex that a facing face has, zero at the others."""
    faces = facing.faces[own]
    middle = facing.normals[own] - facing.normals[facing.hit[own]]
    weighted = middle * areas(facing.vertices[faces])[:, None]
    normals = np.zeros_like(facing.vertices)
    np.add.at(normals, faces, weighted[:, None])
    tail, head = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    for _ in range(ROUNDS):
        unit = units(normals)
        normals = unit.copy()
        np.add.at(normals, tail, unit[head])
        np.add.at(normals, head, unit[tail])
    return units(normals)


def _gaps(facing: Facing, target: Ints, normals: Vec3s) -> Floats:
    """Signed distance along each line to the faces of the other fragment, NaN where missed."""
    gap = np.full(len(normals), np.nan)
    lines = np.flatnonzero(normals.any(axis=1))
    triangles, turned = facing.triangles(target), -facing.normals[target]
    gap[lines] = nearest_crossing(triangles, turned, facing.vertices[lines], normals[lines])
    missed = lines[np.isnan(gap[lines])]
    gap[missed] = _past_the_rim(facing, target, facing.vertices[missed], normals[missed])
    return gap


def _past_the_rim(facing: Facing, target: Ints, points: Vec3s, normals: Vec3s) -> Floats:
    """Distance along the lines to the nearest point of the target, NaN where it lies aside."""
    if len(points) == 0 or len(target) == 0:
        return np.full(len(points), np.nan)
    tree = SurfaceDistance.of(Surface(facing.vertices, facing.faces[target], {}, "", "", 0))
    nearest = tree.tree.nearest(points)[2]
    way = nearest - points
    depth: Floats = np.einsum("ij,ij->i", way, normals)
    aside = np.linalg.norm(way - depth[:, None] * normals, axis=1)
    return np.where(aside <= RIM_SLACK, depth, np.nan)


def _turned_alike(facing: Facing, normals: Vec3s, rows: Ints) -> Bools:
    """Faces that do not turn away from the lines at their corners, as outer faces do."""
    lines = normals[facing.faces[rows]].mean(axis=1)
    alike: Bools = np.einsum("ij,ij->i", lines, facing.normals[rows]) > TURN
    return alike


def _large_pieces(points: Vec3s, faces: Ints) -> tuple[Ints, int]:
    """Faces of the connected pieces that are no islands, and the number of islands."""
    if len(faces) == 0:
        return faces, 0
    one, other = neighbours(faces)
    links = coo_array((np.ones(len(one)), (one, other)), shape=(len(faces), len(faces)))
    pieces, label = connected_components(links, directed=False)
    area = np.bincount(label, areas(points[faces]), pieces)
    large = area >= max(LEAST_AREA, LEAST_SHARE * float(area.max()))
    return faces[large[label]], int(np.count_nonzero(~large))
