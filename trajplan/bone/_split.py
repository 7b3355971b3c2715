"""Splitting a bone into fragments, to try a plan or to test the planner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, assert_never

import numpy as np

from trajplan.bone._cutter import Rough, rough_cutter, sheet_cutter
from trajplan.bone._libigl import WindingTree
from trajplan.bone._read import as_surface
from trajplan.bone._solid import boundary_edges, solid_of
from trajplan.bone._types import Surface
from trajplan.errors import CaseError
from trajplan.geometry import Plane

if TYPE_CHECKING:
    from trajplan.arrays import Floats

__all__ = ["Rough", "Split", "split_bone"]

#: mm³; smaller pieces are crumbs of a rough cut along the surface.
CRUMB = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """Fragments of a bone."""

    pieces: tuple[Surface, ...]  # closed, from low to high along the normal of the cut
    cautions: tuple[str, ...]  # one sentence each


def split_bone(surface: Surface, by: Plane | Rough | Surface) -> Split:
    """Cut a bone into closed fragments.

    Parameters
    ----------
    surface : Surface
        The bone. Where it is open its holes are closed first, see Notes.
    by : Plane, Rough or Surface
        What cuts: a plane, a plane roughened by seeded noise, or an open patch. A patch
        that does not reach the bone's surface is continued past its rim, and this is said.

    Returns
    -------
    Split
        One piece for each part that hangs together. A canal is open at the cut. The same
        input gives the same pieces.

    Raises
    ------
    MeshError
        If the surface bounds no volume.
    CaseError
        If the cut misses the bone, or the patch folds over.

    Notes
    -----
    Copies of faces of an open surface are dropped, neighbours turned to agree, and each
    hole is closed with triangles round the mean of its corners; a caution tells how many.
    Solids are cut by manifold3d in float64.
    """
    solid, cautions = solid_of(surface)
    plane, (above, below), said = _cut(solid, surface, by)
    if above.volume() < CRUMB or below.volume() < CRUMB:
        raise CaseError(
            "the cut misses the bone, which would stay in one piece",
            remedy="move the cut so that it passes through the bone, and check the unit",
            file=surface.name,
        )
    solids = [*below.decompose(), *above.decompose()]
    kept = [piece for piece in solids if piece.volume() >= CRUMB]
    meshes = sorted((_arrays(piece) for piece in kept), key=lambda mesh: _height(plane, *mesh))
    pieces = tuple(
        as_surface(mesh, name=f"{surface.name}, fragment {number}")
        for number, mesh in enumerate(meshes, start=1)
    )
    crumbs = len(solids) - len(kept)
    left = (f"Crumbs of less than {CRUMB:.0f} mm³ were left out: {crumbs}.",) if crumbs else ()
    return Split(pieces, (*cautions, *said, *left))


def _cut(
    solid: Any,  # noqa: ANN401 (manifold3d ships no types)
    surface: Surface,
    by: Plane | Rough | Surface,
) -> tuple[Plane, tuple[Any, Any], tuple[str, ...]]:
    """Parts beyond and before the cut, and what is to be said."""
    match by:
        case Plane():
            offset = float(by.point @ by.normal)
            return by, solid.split_by_plane(by.normal.tolist(), offset), ()
        case Rough():
            return by.plane, solid.split(rough_cutter(surface.vertices, by)), ()
        case Surface():
            plane, cutter = sheet_cutter(surface.vertices, by)
            return plane, solid.split(cutter), _short_of_surface(solid, by)
        case _:
            assert_never(by)


def _short_of_surface(solid: Any, patch: Surface) -> tuple[str, ...]:  # noqa: ANN401
    """Say how much of a patch's rim ends within the bone; refuse a patch outside of it."""
    vertices, faces = _arrays(solid)
    inside = WindingTree(vertices, faces).number(patch.vertices) > 0.5
    if not inside.any():
        raise CaseError(
            "the patch lies outside the bone",
            remedy="check that unit and frame of both are the same",
            file=patch.name,
        )
    within = inside[boundary_edges(patch.faces)].all(axis=1)
    if not within.any():
        return ()
    share = 100.0 * float(within.mean())
    caution = (
        f"{share:.0f} % of the rim of {patch.name} ends within the bone; the cut was continued "
        "from there in straight lines."
    )
    return (caution,)


def _arrays(solid: Any) -> tuple[Floats, Any]:  # noqa: ANN401
    mesh = solid.to_mesh64()
    vertices: Floats = np.array(mesh.vert_properties[:, :3])
    return vertices, np.array(mesh.tri_verts, dtype=np.int64)


def _height(plane: Plane, vertices: Floats, faces: Any) -> tuple[float, ...]:  # noqa: ANN401
    """Sort key: height of the centre of volume, then its place."""
    a, b, c = vertices[faces].transpose(1, 0, 2)
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    centre = ((a + b + c) * volume[:, None]).sum(axis=0) / (4.0 * volume.sum())
    return float(plane.height(centre)), *centre.tolist()
