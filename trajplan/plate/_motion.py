"""How the points of a bent plate move as the numbers that tell its shape change.

A plate is a chain: a change of one bend turns all that lies beyond it, as a rigid body. So the
motion of every point attached to a node is told by a turn and a shift for each number.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.plate._strip import cross_matrices

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.plate._strip import Shape, Strip

__all__ = ["motions", "slopes"]

#: Radians below which the closed form loses digits and its series is used.
SMALL = 1e-3


def motions(
    strip: Strip, frame: Floats, shape: Shape, x: Floats, *, rigid: bool = False
) -> tuple[Floats, Floats]:
    """Turn and shift of every node for a change of each number of a shape.

    Parameters
    ----------
    strip : Strip
        The plate.
    frame : (m, 3, 3) float array
        Frames that the plates start with.
    shape : Shape
        The plates as they are now.
    x : (m, 6 + 2 b) float array
        Their numbers: shift along, across and out; turn about the same; flatwise bend of each
        bridge; twist of each.
    rigid : bool
        Whether no bend may change: then nothing moves for those numbers.

    Returns
    -------
    turn, shift : (m, k, 6 + 2 b, 3) float arrays
        A point ``p`` attached to node ``k`` moves by ``turn x p + shift``.
    """
    bridges, count, middle = len(strip.bridge), len(strip.nodes), strip.middle
    turn = np.zeros((len(x), count, x.shape[1], 3))
    shift = np.zeros_like(turn)
    shift[:, :, :3] = frame[:, None]
    # columns of the turned unit steps, as rows in the world
    whole = np.einsum("mji,mjk->mik", _left(x[:, 3:6]), frame)
    turn[:, :, 3:6] = whole[:, None]
    shift[:, :, 3:6] = -_cross(whole, shape.points[:, middle, None])[:, None]
    if rigid:
        return turn, shift
    way = np.where(np.arange(count - 1) >= middle, 1.0, -1.0)  # outwards from the middle
    inner = np.where(way > 0.0, np.arange(count - 1), np.arange(1, count))
    outer = np.where(way > 0.0, np.arange(1, count), np.arange(count - 1))
    bend = x[:, 6 : 6 + bridges] @ strip.share.T
    twist = x[:, 6 + bridges :] @ strip.share.T
    half = 0.5 * way[:, None] * np.stack([twist, bend, np.zeros_like(bend)], axis=-1)
    base = shape.frames[:, inner]
    run = shape.points[:, outer] - shape.points[:, inner]
    for first, axis in ((6, 1), (6 + bridges, 0)):
        # turns of the half and of the whole link for a change of this axis' angle, in the world
        halfway, full = (
            scale * way[:, None] * np.einsum("mnj,mnjk->mnk", _left(many * half)[..., axis], base)
            for scale, many in ((0.5, 1.0), (1.0, 2.0))
        )
        moved = _cross(halfway, run) - _cross(full, shape.points[:, outer])
        part = slice(first, first + bridges)
        for values, into in ((full, turn), (moved, shift)):
            each = values[:, :, None] * strip.share[:, :, None]
            into[:, middle + 1 :, part] = np.cumsum(each[:, middle:], axis=1)
            into[:, :middle, part] = np.cumsum(each[:, :middle][:, ::-1], axis=1)[:, ::-1]
    return turn, shift


def slopes(turn: Floats, shift: Floats, points: Floats, gradient: Floats) -> Floats:
    """How the gap at points attached to nodes changes with each number of a shape.

    Parameters
    ----------
    turn, shift : (m, k, p, 3) float arrays
        As from `motions`.
    points, gradient : (m, k, w, 3) float arrays
        Points at each node, and the gradients of the gap there.

    Returns
    -------
    (m, k, w, p) float array
    """
    moment = _cross(points, gradient)
    found: Floats = moment @ turn.swapaxes(2, 3) + gradient @ shift.swapaxes(2, 3)
    return found


def _cross(a: Floats, b: Floats) -> Floats:
    """Cross products of the last axes; NumPy's own takes three times as long."""
    ax, ay, az = np.moveaxis(a, -1, 0)
    bx, by, bz = np.moveaxis(b, -1, 0)
    product: Floats = np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=-1)
    return product


def _left(vectors: Floats) -> Floats:
    """What takes a change of a rotation vector to the turn that it makes (left Jacobian).

    `vectors` is (..., 3); the answer (..., 3, 3). Chirikjian 2012, Stochastic Models, Information
    Theory, and Lie Groups 2, section 10.6 (from memory); a test holds it against differences.
    """
    angle = np.linalg.norm(vectors, axis=-1)[..., None, None]
    cross = cross_matrices(vectors)
    once = 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2
    near = angle < SMALL
    safe = np.where(near, 1.0, angle)
    twice = np.where(near, 1.0 / 6.0 - angle**2 / 120.0, (safe - np.sin(safe)) / safe**3)
    matrices: Floats = np.eye(3) + once * cross + twice * (cross @ cross)
    return matrices
