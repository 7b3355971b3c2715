"""A plate as a bent strip: its middle line, its frames, its underside.

A plate bends flatwise and twists between its holes, never at a hole, and never edgewise: a
strip that only bends about its weak axis follows a geodesic of the surface that it lies on
(Pottmann et al. 2010, Geodesic Patterns, ACM Transactions on Graphics). So its shape is told
by its pose and by two angles for each bridge between holes.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.implants import Plate

__all__ = ["Shape", "Strip", "bent", "cross_matrices", "make_strip", "rotations", "underside"]


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """One plate with one number of holes, cut into links; lengths in mm, 0 at its middle."""

    nodes: Floats  # (k,) along the plate, rising; every hole and the middle are nodes
    hole: Ints  # (h,) node of each hole
    middle: int  # node at the middle of the plate's length
    bridge: Floats  # (b,) length of plate between two holes that bends, b = h - 1
    share: Floats  # (k - 1, b) part of each bridge's bend that lies in each link
    across: Floats  # (w,) sideways places of the underside's points, odd, the middle one 0
    rise: Floats  # (w,) how far the underside lies above its lowest line there, negated: <= 0


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """``m`` bent plates: rows of a frame are along, across and out of the bone."""

    points: Floats  # (m, k, 3) mm, middle line of the underside
    frames: Floats  # (m, k, 3, 3)


def make_strip(plate: Plate, holes: int, step: float, across: int) -> Strip:
    """Cut a plate into links.

    Parameters
    ----------
    plate : Plate
        The plate.
    holes : int
        Its number of holes, at least 2.
    step : float, mm
        Greatest length of a link.
    across : int
        Points across the underside, odd and at least 3.

    Returns
    -------
    Strip

    Notes
    -----
    A bridge reaches from the rim of a hole to that of the next; how long the hole is nobody
    prints, and the widest thread that it takes stands for it (assumption).
    """
    places = plate.places(holes)
    length = plate.length(holes)
    middle = length / 2.0
    marks = np.unique(np.round([0.0, *places, middle, length], 9))
    parts = [
        np.linspace(a, b, 1 + max(1, int(np.ceil((b - a) / step))))[:-1] for a, b in pairwise(marks)
    ]
    nodes = np.concatenate([*parts, marks[-1:]])
    rim = plate.hole.thread[-1] / 2.0
    low, high = places[:-1] + rim, places[1:] - rim
    inside = np.minimum(nodes[1:, None], high) - np.maximum(nodes[:-1, None], low)
    side = np.linspace(-0.5, 0.5, across) * plate.width
    drop = np.zeros(across)
    if plate.back is not None:
        drop = np.sqrt(plate.back**2 - side**2) - plate.back
    strip = Strip(
        nodes=nodes - middle,
        hole=np.searchsorted(nodes, places - 1e-6),
        middle=int(np.searchsorted(nodes, middle - 1e-6)),
        bridge=high - low,
        share=np.maximum(inside, 0.0) / (high - low),
        across=side,
        rise=drop,
    )
    freeze(strip.nodes, strip.hole, strip.bridge, strip.share, strip.across, strip.rise)
    return strip


def cross_matrices(vectors: Floats) -> Floats:
    """Matrices that take a vector to its cross product with others.

    Parameters
    ----------
    vectors : (..., 3) float array
        Vectors.

    Returns
    -------
    (..., 3, 3) float array
    """
    x, y, z = np.moveaxis(vectors, -1, 0)
    zero = np.zeros_like(x)
    entries = [zero, -z, y, z, zero, -x, -y, x, zero]
    matrices: Floats = np.stack(entries, axis=-1).reshape(*x.shape, 3, 3)
    return matrices


def rotations(vectors: Floats) -> Floats:
    """Rotation matrices of rotation vectors (Rodrigues).

    Parameters
    ----------
    vectors : (..., 3) float array, radians
        Axis times angle.

    Returns
    -------
    (..., 3, 3) float array
    """
    angle = np.linalg.norm(vectors, axis=-1)[..., None, None]
    cross = cross_matrices(vectors)
    turn = np.sinc(angle / np.pi)
    half = np.sinc(angle / (2.0 * np.pi))
    matrices: Floats = np.eye(3) + turn * cross + 0.5 * half**2 * (cross @ cross)
    return matrices


def bent(strip: Strip, point: Floats, frame: Floats, flatwise: Floats, twist: Floats) -> Shape:
    """Bend plates.

    Parameters
    ----------
    strip : Strip
        The plate.
    point : (m, 3) float array, mm
        Middle of each plate, on its underside.
    frame : (m, 3, 3) float array
        Rows: along the plate, across it, and out of the bone.
    flatwise, twist : (m, b) float arrays, radians
        For each bridge; flatwise is positive where the plate's ends bend towards the bone.

    Returns
    -------
    Shape

    Notes
    -----
    Each link turns half of its angle before it runs and half after, so that a bend or a
    twist spread evenly is followed to the second order of the link's length.
    """
    bend, turn = flatwise @ strip.share.T, twist @ strip.share.T  # (m, k - 1)
    # local axes: along, across, out; out to along is a bend that lifts, so ends sink by plus
    half = rotations(0.5 * np.stack([turn, bend, np.zeros_like(bend)], axis=-1))
    length = np.diff(strip.nodes)
    count, m = len(strip.nodes), len(point)
    points, frames = np.empty((m, count, 3)), np.empty((m, count, 3, 3))
    points[:, strip.middle], frames[:, strip.middle] = point, frame
    for i in range(strip.middle, count - 1):
        between = half[:, i].transpose(0, 2, 1) @ frames[:, i]
        points[:, i + 1] = points[:, i] + length[i] * between[:, 0]
        frames[:, i + 1] = half[:, i].transpose(0, 2, 1) @ between
    for i in range(strip.middle, 0, -1):
        between = half[:, i - 1] @ frames[:, i]
        points[:, i - 1] = points[:, i] - length[i - 1] * between[:, 0]
        frames[:, i - 1] = half[:, i - 1] @ between
    return Shape(points, frames)


def underside(strip: Strip, shape: Shape) -> Floats:
    """Points of the underside.

    Parameters
    ----------
    strip : Strip
        The plate.
    shape : Shape
        ``m`` bent plates.

    Returns
    -------
    (m, k, w, 3) float array, mm
        A hollow underside reaches down to its edges.
    """
    over, out = shape.frames[:, :, None, 1], shape.frames[:, :, None, 2]
    points: Floats = (
        shape.points[:, :, None] + strip.across[:, None] * over + strip.rise[:, None] * out
    )
    return points
