"""Solids that cut a bone: all that lies beyond a rough plane or a given patch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.bone._solid import boundary_edges, manifold_of
from trajplan.errors import CaseError
from trajplan.geometry import Plane, fit_plane, to_plane

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone._types import Surface

__all__ = ["Rough", "patch_plane", "rough_cutter", "sheet_cutter"]

#: mm by which a cutting sheet reaches beyond the bone on every side.
MARGIN = 5.0
#: Waves that make a rough surface.
WAVES = 48
#: Longest wave over the shortest: breaks are rough on several scales (assumption).
WAVE_RANGE = 3.0
#: Grid steps to the shortest wave.
STEPS = 6.0
#: Nodes of a grid at most, so that a short wave on a long bone cannot fill the memory.
NODES = 1_000_000
#: Share of a patch that may lie over another part of it: rounding.
FOLD_SHARE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Rough:
    """A plane roughened by seeded, smooth noise."""

    plane: Plane
    amplitude: float  # mm, greatest departure from the plane over the whole sheet
    seed: int = 0
    wavelength: float = 8.0  # mm, shortest wave


def rough_cutter(vertices: Vec3s, rough: Rough) -> Any:  # noqa: ANN401 (manifold3d ships no types)
    """Solid beyond a rough plane, wide enough for a bone.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        The bone's.
    rough : Rough
        The cutting surface.

    Returns
    -------
    manifold3d.Manifold

    Raises
    ------
    CaseError
        If the amplitude is negative, the wavelength not above zero or too short for the bone.
    """
    if not (rough.amplitude >= 0.0 and rough.wavelength > 0.0):
        raise CaseError(
            f"amplitude {rough.amplitude} mm and wavelength {rough.wavelength} mm make no surface",
            remedy="give an amplitude of zero or more and a wavelength above zero",
        )
    flat = to_plane(rough.plane, vertices)
    low, high = flat.min(axis=0) - MARGIN, flat.max(axis=0) + MARGIN
    count = np.ceil((high - low) * STEPS / rough.wavelength).astype(int) + 1
    if count.prod() > NODES:
        raise CaseError(
            f"waves of {rough.wavelength} mm over this bone need {count.prod()} points",
            remedy="give a longer wavelength",
        )
    x, y = np.meshgrid(*map(np.linspace, low, high, count), indexing="ij")
    sheet = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    sheet[:, 2] = _waves(sheet[:, :2], rough)
    return _beyond(rough.plane, vertices, sheet, _grid_faces(*count))


def sheet_cutter(vertices: Vec3s, patch: Surface) -> tuple[Plane, Any]:
    """Solid beyond a patch that is continued, past its rim, to beyond the bone.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        The bone's.
    patch : Surface
        An open surface without folds as seen along the normal of its best plane.

    Returns
    -------
    plane : Plane
        The patch's best plane, on whose normal's side the solid lies.
    solid : manifold3d.Manifold

    Raises
    ------
    CaseError
        If the patch folds over, or stands on edge.

    Notes
    -----
    The patch's own triangles are kept. Its rim and its holes are continued by triangles
    (constrained Delaunay, in the plane) to the corners, on the plane, of a box round
    patch and bone.
    """
    plane = patch_plane(patch)
    used, faces = np.unique(patch.faces, return_inverse=True)
    points = patch.vertices[used]
    sheet = np.column_stack([to_plane(plane, points), plane.height(points)])
    faces = _seen_from_above(sheet[:, :2], faces.reshape(-1, 3), patch.name)
    both = np.concatenate([to_plane(plane, vertices), sheet[:, :2]])
    low, high = both.min(axis=0) - MARGIN, both.max(axis=0) + MARGIN
    x, y = np.meshgrid(*zip(low, high, strict=True), indexing="ij")
    box = np.column_stack([x.ravel(), y.ravel(), np.zeros(4)])
    sheet = np.concatenate([sheet, box])
    faces = np.concatenate([faces, _continuation(sheet[:, :2], faces)])
    return plane, _beyond(plane, vertices, sheet, faces)


def patch_plane(patch: Surface) -> Plane:
    """Best plane of a patch, its triangles counting by area.

    Parameters
    ----------
    patch : Surface
        An open surface.

    Returns
    -------
    Plane
    """
    a, b, c = patch.triangles().transpose(1, 0, 2)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return fit_plane((a + b + c) / 3.0, area).plane


def _waves(flat: Floats, rough: Rough) -> Floats:
    """Heights of a sum of waves of random direction and phase, longer ones higher."""
    random = np.random.default_rng(rough.seed)
    length = rough.wavelength * WAVE_RANGE ** random.uniform(size=WAVES)
    turn, phase = random.uniform(0.0, 2.0 * np.pi, (2, WAVES))
    heights = np.zeros(len(flat))
    for one, angle, shift in zip(length, turn, phase, strict=True):
        along = flat @ np.array([np.cos(angle), np.sin(angle)])
        heights += one * np.cos(2.0 * np.pi * along / one + shift)
    scaled: Floats = heights * (rough.amplitude / np.abs(heights).max())
    return scaled


def _grid_faces(rows: int, columns: int) -> Ints:
    """Triangles of a grid, counter-clockwise."""
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    corner = (i * columns + j).ravel()
    right, up, far = corner + columns, corner + 1, corner + columns + 1
    return np.concatenate(
        [np.column_stack([corner, right, far]), np.column_stack([corner, far, up])]
    )


def _seen_from_above(flat: Floats, faces: Ints, name: str) -> Ints:
    """Turn all faces counter-clockwise; none may hide another."""
    import shapely

    a, b, c = flat[faces].transpose(1, 0, 2)
    area = 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    shadows = shapely.polygons(np.stack([a, b, c, a], axis=1))
    covered = shapely.area(shapely.union_all(shadows[area != 0.0]))
    if not np.abs(area).sum() <= covered * (1.0 + FOLD_SHARE):
        raise CaseError(
            "the patch folds over, seen along the normal of its best plane, so it does not "
            "divide the bone in two",
            remedy="cut with a flatter patch",
            file=name,
        )
    return np.where((area > 0.0)[:, None], faces, faces[:, ::-1])


def _continuation(flat: Floats, faces: Ints) -> Ints:
    """Triangles between the rims of a patch and the box whose corners are the last points."""
    import shapely
    from scipy.spatial import cKDTree

    box = shapely.box(*flat[-4], *flat[-1])
    rims = shapely.linestrings(flat[boundary_edges(faces)])
    cells = shapely.get_parts(shapely.polygonize([*rims, box.boundary]))
    middles = cKDTree(flat[faces].mean(axis=1))
    own = shapely.STRtree(cells).query(shapely.points(middles.data), predicate="within")[1]
    empty = np.setdiff1d(np.arange(len(cells)), own)
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(cells[empty]))
    corners = shapely.get_coordinates(shapely.get_parts(parts)).reshape(-1, 4, 2)[:, :3]
    found: Ints = cKDTree(flat).query(corners.reshape(-1, 2))[1].reshape(-1, 3)
    return _counter_clockwise(flat, found)


def _counter_clockwise(flat: Floats, faces: Ints) -> Ints:
    a, b, c = flat[faces].transpose(1, 0, 2)
    area = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    return np.where((area > 0.0)[:, None], faces, faces[:, ::-1])


def _beyond(plane: Plane, vertices: Vec3s, sheet: Floats, faces: Ints) -> Any:  # noqa: ANN401
    """Solid between a sheet, in the plane's frame, and a lid beyond the bone."""
    lid = max(float(plane.height(vertices).max()), float(sheet[:, 2].max())) + MARGIN
    rim = boundary_edges(faces)
    ring = np.unique(rim)
    top = np.column_stack([sheet[ring, :2], np.full(len(ring), lid)])
    middle = np.array([[*top[:, :2].mean(axis=0), lid]])
    above = len(sheet) + np.searchsorted(ring, rim)
    centre = np.full(len(rim), len(sheet) + len(ring))
    (tail, head), (tail_top, head_top) = rim.T, above.T
    mesh = np.concatenate([
        faces[:, ::-1],
        np.column_stack([tail, head, head_top]),
        np.column_stack([tail, head_top, tail_top]),
        np.column_stack([tail_top, head_top, centre]),
    ])  # fmt: skip
    local = np.concatenate([sheet, top, middle])
    return manifold_of(
        plane.point + local[:, :2] @ plane.basis() + local[:, 2:] * plane.normal, mesh
    )
