"""Closed solids of a bone surface, by manifold3d, and the closing of open surfaces."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.bone._edges import three_corners
from trajplan.bone._libigl import apart, turned_alike
from trajplan.bone._read import as_surface
from trajplan.bone._shells import find_shells
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._types import Shells, Surface

__all__ = ["boundary_edges", "manifold_of", "solid_of"]

#: mm by which faces that share a point, but no surface, are drawn apart: well above what
#: single precision loses on a bone (3e-5), well below what a segmentation can resolve.
PARTED = 0.01


def solid_of(surface: Surface) -> tuple[Any, tuple[str, ...]]:
    """Solid that a surface bounds, hollows taken out.

    Parameters
    ----------
    surface : Surface
        A bone surface, closed or not.

    Returns
    -------
    solid : manifold3d.Manifold
        All bodies together.
    cautions : tuple of str
        What was closed or turned round, one sentence each.

    Raises
    ------
    MeshError
        If the surface bounds no volume even after its holes are closed.

    Notes
    -----
    A shell that is open, or whose faces disagree on which side is out, is mended first:
    copies of a face are dropped, neighbours turned to agree, faces that hang together by
    more than two at an edge come apart (by libigl, and are drawn 0.01 mm apart), and every
    hole is closed with a fan of triangles round the mean of its corners.
    """
    shells = find_shells(surface)
    sound = shells.closed & shells.wound
    cautions: tuple[str, ...] = ()
    if not sound.all():
        surface, cautions = _mended(surface, shells)
        shells = find_shells(surface)
    solid = manifold_of(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64))
    for number in np.argsort(shells.nesting, kind="stable"):
        faces = surface.faces[shells.of_face == number]
        shell = manifold_of(surface.vertices, faces[:, :: int(shells.outward[number])])
        solid = solid - shell if shells.nesting[number] % 2 else solid + shell
    if not solid.volume() > 0.0:
        raise MeshError(
            "the surface bounds no volume", remedy="close its holes first", file=surface.name
        )
    return solid, cautions


def manifold_of(vertices: Vec3s, faces: Ints) -> Any:  # noqa: ANN401 (manifold3d ships no types for numpy)
    """Solid of a closed, consistently wound mesh.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions; rows that no face uses are dropped.
    faces : (f, 3) int array
        Rows of `vertices`, normals outwards.

    Returns
    -------
    manifold3d.Manifold

    Raises
    ------
    MeshError
        If an edge has not one face on either side.
    """
    from manifold3d import Error, Manifold, Mesh64

    used, local = np.unique(faces, return_inverse=True)
    # copies: manifold3d takes no read-only arrays
    solid = Manifold(Mesh64(np.array(vertices[used]), local.reshape(-1, 3).astype(np.uint64)))
    if solid.status() != Error.NoError:
        raise MeshError(
            f"the mesh bounds no solid ({solid.status().name})",
            remedy="repair the mesh where faces meet along one edge",
        )
    return solid


def boundary_edges(faces: Ints) -> Ints:
    """Edges with a face on one side only, each in the direction of its face.

    Parameters
    ----------
    faces : (f, 3) int array
        Consistently wound.

    Returns
    -------
    (k, 2) int array
    """
    tail, head = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    base = int(faces.max(initial=0)) + 1
    alone = ~np.isin(tail * base + head, head * base + tail)
    return np.column_stack([tail[alone], head[alone]])


def _mended(surface: Surface, shells: Shells) -> tuple[Surface, tuple[str, ...]]:
    """Close every shell that is open or twisted; the others are kept."""
    parts: list[tuple[Floats, Ints]] = []
    widths: list[float] = []
    edges = parted = 0
    for number in range(len(shells.closed)):
        faces = surface.faces[shells.of_face == number]
        if shells.closed[number] and shells.wound[number]:
            parts.append((surface.vertices, faces))
            continue
        vertices, faces, doubled = _untangled(surface.vertices, faces)
        loops = _loops(boundary_edges(faces))
        edges += sum(len(loop) for loop in loops)
        parted += doubled
        widths += [float(np.ptp(vertices[loop], axis=0).max()) for loop in loops]
        parts.append(_fans(vertices, faces, loops))
    starts = np.cumsum([0, *(len(vertices) for vertices, _ in parts)])
    mesh = (
        np.concatenate([vertices for vertices, _ in parts]),
        np.concatenate([faces + start for (_, faces), start in zip(parts, starts, strict=False)]),
    )
    return as_surface(mesh, name=surface.name), tuple(_mending(edges, widths, parted))


def _mending(edges: int, widths: list[float], parted: int) -> list[str]:
    """Say what was done to the surface."""
    lines = []
    if widths:
        openings = "opening" if len(widths) == 1 else "openings"
        lines.append(
            f"The surface is not closed: {edges} edges round {len(widths)} {openings}, the widest "
            f"{max(widths):.0f} mm, were closed with triangles before it was cut."
        )
    if parted:
        lines.append(
            f"Faces that meet along one edge, or at one point only, were drawn {PARTED} mm apart "
            f"at {parted} vertices before the surface was cut."
        )
    return lines or ["Some faces of the surface were turned round before it was cut."]


def _untangled(vertices: Vec3s, faces: Ints) -> tuple[Floats, Ints, int]:
    """Faces without copies, wound alike, one or two at an edge; and how many vertices moved."""
    _, first = np.unique(np.sort(faces, axis=1), axis=0, return_index=True)
    once = faces[np.sort(first)]
    split, origin = apart(turned_alike(once[three_corners(once)])[0])
    doubled = np.bincount(origin)[origin] > 1
    return _parted(vertices[origin], split, doubled), split, int(np.count_nonzero(doubled))


def _parted(points: Floats, faces: Ints, doubled: Bools) -> Floats:
    """Draw copies of one vertex apart, each towards the faces that it belongs to.

    Otherwise they would be merged again with the next reading of the mesh.
    """
    middles = points[faces].mean(axis=1)
    count = np.bincount(faces.ravel(), minlength=len(points))[:, None]
    target = np.zeros_like(points)
    np.add.at(target, faces, middles[:, None])
    way = target / np.maximum(count, 1) - points
    length = np.linalg.norm(way, axis=1, keepdims=True)
    step: Floats = PARTED * way / np.where(length > 0.0, length, 1.0)
    return np.where(doubled[:, None], points + step, points)


def _loops(edges: Ints) -> list[Ints]:
    """Closed loops of directed edges of which one leaves each vertex."""
    after = dict(edges.tolist())
    loops = []
    while after:
        vertex, following = after.popitem()
        loop = [vertex]
        while following != loop[0]:
            loop.append(following)
            following = after.pop(following)
        loops.append(np.array(loop))
    return loops


def _fans(vertices: Floats, faces: Ints, loops: list[Ints]) -> tuple[Floats, Ints]:
    """Close loops with triangles round their middle."""
    points, fans = [vertices], [faces]
    for number, loop in enumerate(loops, start=len(vertices)):
        points.append(vertices[loop].mean(axis=0, keepdims=True))
        pairs = np.array(list(pairwise([*loop, loop[0]])))
        fans.append(np.column_stack([pairs[:, ::-1], np.full(len(pairs), number)]))
    return np.concatenate(points), np.concatenate(fans)
