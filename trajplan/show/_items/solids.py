"""Turned parts and thread ridges as triangles, built along +z and then set on an axis."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from trajplan.geometry import frames

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3, Vec3s

__all__ = ["Solid", "join", "onto_axis", "ridge", "turned"]

Solid: TypeAlias = "tuple[Vec3s, Ints]"  # vertices (v, 3) mm, faces (f, 3)

#: Corners of every circle: at 32 the flats of an 8 mm head are 0.02 mm off the round.
AROUND = 32


def turned(profile: Floats) -> Solid:
    """Turn a profile about the z axis.

    Parameters
    ----------
    profile : (k, 2) float array, mm
        Height z and radius of each point, in order; a radius of 0 closes the part.

    Returns
    -------
    vertices : (k * AROUND, 3) float array, mm
    faces : (f, 3) int array
    """
    angle = 2.0 * np.pi * np.arange(AROUND) / AROUND
    vertices = _rings(profile[:, 1, None], profile[:, 0, None], angle).reshape(-1, 3)
    faces = _quads(len(profile), AROUND, closed=True)
    corners = vertices[faces]
    shut = (corners == np.roll(corners, 1, axis=1)).all(axis=2).any(axis=1)  # at a pole
    return vertices, faces[~shut]


def ridge(low: float, high: float, root: float, crest: float, pitch: float) -> Solid:
    """Raise the ridge of a right-handed thread, without the core that it winds round.

    Parameters
    ----------
    low, high : float, mm
        Where the thread begins and ends along z; ``high > low``.
    root, crest : float, mm
        Radius at the foot and at the crest of the ridge.
    pitch : float, mm
        Rise of one turn.

    Returns
    -------
    vertices : (v, 3) float array, mm
    faces : (f, 3) int array

    Notes
    -----
    The ridge is asymmetric, as on bone screws: the flank towards the head, which carries
    the load, is the steeper one. Its exact flank angles are not drawn.
    """
    width = min(0.55 * pitch, high - low)
    offset = np.array([0.0, 0.10, 0.30, 1.0]) * width
    radius = np.array([root, crest, crest, root])
    turns = max((high - low - width) / pitch, 1e-3)
    angle = np.linspace(0.0, 2.0 * np.pi * turns, max(2, round(turns * AROUND) + 1))
    z = low + offset[:, None] + (pitch / (2.0 * np.pi)) * angle
    rings = _rings(radius[:, None], z, angle)
    return rings.reshape(-1, 3), _quads(len(offset), len(angle), closed=False)


def onto_axis(solid: Solid, origin: Vec3, direction: Vec3) -> Solid:
    """Move a part so that its z axis becomes an axis in space.

    Parameters
    ----------
    solid : Solid
        The part, built along +z.
    origin, direction : (3,) float array
        Where z = 0 goes (mm), and the unit direction that +z takes.

    Returns
    -------
    Solid
    """
    vertices, faces = solid
    return origin + vertices @ frames(direction[None])[0], faces


def join(*solids: Solid) -> Solid:
    """Put several parts into one, without uniting their volumes.

    Parameters
    ----------
    *solids : Solid
        The parts.

    Returns
    -------
    Solid
    """
    starts = np.cumsum([0, *(len(vertices) for vertices, _ in solids)])
    faces = [f + start for (_, f), start in zip(solids, starts[:-1], strict=True)]
    return np.vstack([vertices for vertices, _ in solids]), np.vstack(faces)


def _rings(radius: Floats, z: Floats, angle: Floats) -> Floats:
    x, y, height = np.broadcast_arrays(radius * np.cos(angle), radius * np.sin(angle), z)
    out: Floats = np.stack([x, y, height], axis=-1)
    return out


def _quads(rows: int, columns: int, *, closed: bool) -> Ints:
    """Triangles between neighbouring rows of a grid of vertices."""
    grid = np.arange(rows * columns).reshape(rows, columns)
    if closed:
        grid = np.column_stack([grid, grid[:, 0]])
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    faces: Ints = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    return faces
