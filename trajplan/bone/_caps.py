"""Caps over the holes of open shells, so that lines through a hole are counted too.

The edges at which an odd number of faces meet form closed loops. A fan of triangles from
each loop to its middle makes every line pass the shell, caps included, an even number of
times, whatever the winding of its faces. A cap tells that a line runs through a hole and
about where; bone that begins or ends at one is never known. Faces that are missing between
vertices of the loop lay somewhere in its convex hull, so within that nothing is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._cast import make_caster
from trajplan.bone._edges import edge_table
from trajplan.bone._nesting import faces_of_shells
from trajplan.bone._orient import copies_of_faces
from trajplan.bone._weld import NEAR, weld_borders

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._cast import Caster, Engine
    from trajplan.bone._types import Shells, Surface

__all__ = ["Caps", "boundary_loops", "fan", "hull", "make_caps"]

#: mm by which the corners of a hole may stand off its plane for it to count as flat: they
#: are known no better than that (`trajplan.bone._weld`).
FLAT = NEAR


@dataclass(frozen=True, slots=True, eq=False)
class Caps:
    """What stands in for the missing faces of open shells."""

    caster: Caster
    shell: Ints  # (t,) shell that each triangle of the caster belongs to
    hull: Ints  # (t,) running number, 0.., of the hull of a hole; -1 the triangle is of a cap
    spare: Bools  # (f,) faces of open shells that lie on an earlier one and do not count


def make_caps(surface: Surface, shells: Shells, engine: Engine = "auto") -> Caps | None:
    """Cap every hole of every open shell.

    Parameters
    ----------
    surface : Surface
        The surface; it is not changed.
    shells : Shells
        Its pieces.
    engine : {"auto", "compiled", "plain"}
        See `make_caster`.

    Returns
    -------
    Caps or None
        None where all shells are closed.
    """
    is_open = ~shells.closed[shells.of_face]
    if not is_open.any():
        return None
    spare = np.zeros(len(is_open), dtype=bool)
    fans, fan_shell, hulls, hull_shell = [], [], [], []
    for number, rows in enumerate(faces_of_shells(shells.of_face)):
        if shells.closed[number]:
            continue
        faces = weld_borders(surface.vertices, surface.faces[rows])
        spare[rows] = copies_of_faces(faces)
        for loop in boundary_loops(faces[~spare[rows]]):
            fans.append(fan(surface.vertices[loop]))
            fan_shell.append(number)
            hulls.append(hull(surface.vertices[loop]))
            hull_shell.append(number)
    parts = fans + [hull for hull in hulls if len(hull)]
    sizes = [len(part) for part in fans + hulls]
    which = np.concatenate([np.full(len(fans), -1), np.arange(len(hulls))])
    triangles = np.concatenate(parts) if parts else np.empty((0, 3, 3))
    return Caps(
        caster=make_caster(triangles, engine),
        shell=np.repeat(np.array(fan_shell + hull_shell, dtype=np.int64), sizes),
        hull=np.repeat(which, sizes),
        spare=spare,
    )


def boundary_loops(faces: Ints) -> list[Ints]:
    """Loops of the edges at which an odd number of faces meet.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    list of (k,) int array
        Vertices of each loop, none of them twice.
    """
    edges = edge_table(faces)
    odd = edges.counts() % 2 == 1
    return _loops(np.column_stack([edges.low[odd], edges.high[odd]]))


def _loops(edges: Ints) -> list[Ints]:
    """Take edges apart into loops; every vertex has an even number of them."""
    around: dict[int, set[int]] = {}
    for low, high in edges.tolist():
        around.setdefault(low, set()).add(high)
        around.setdefault(high, set()).add(low)
    loops = []
    for start in around:
        path = [start]
        place = {start: 0}
        while around[path[-1]]:
            here = path[-1]
            there = around[here].pop()
            around[there].remove(here)
            if there in place:
                loop = path[place[there] :]
                loops.append(np.array(loop))
                for vertex in loop[1:]:
                    del place[vertex]
                del path[place[there] + 1 :]
            else:
                place[there] = len(path)
                path.append(there)
    return loops


def fan(points: Vec3s) -> Floats:
    """Cover a loop with triangles from its sides to its middle.

    Parameters
    ----------
    points : (k, 3) float array, mm
        The loop.

    Returns
    -------
    (k, 3, 3) float array, mm
    """
    middle = np.broadcast_to(points.mean(axis=0), points.shape)
    return np.stack([points, np.roll(points, -1, axis=0), middle], axis=1)


def hull(points: Vec3s, *, flat: bool = False) -> Floats:
    """Triangles of the convex hull of points.

    Parameters
    ----------
    points : (k, 3) float array, mm
        The points.
    flat : bool
        Whether a hull without thickness is wanted too, with both its sides.

    Returns
    -------
    (t, 3, 3) float array, mm
        None where the points lie in a plane within `FLAT`, unless that is wanted.
    """
    from scipy.spatial import ConvexHull

    spread = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[1]
    thin = len(points) == 3 or spread[2] <= FLAT
    if thin and not flat:
        return np.empty((0, 3, 3))
    found: Floats = points[ConvexHull(points, qhull_options="QJ" if thin else None).simplices]
    return found
