"""The demo shaft broken in other ways: two fragments, three with a wedge, and a spiral.

A break is a height over x and y, so a fragment is one stack of rings: along the outside to
the break, across the broken wall, and back along the canal.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from mesh_parts import angles, band, combine, stack
from mesh_shaft import (
    CANAL_ENDS,
    SHAFT_ENDS,
    SHAFT_MIDDLE,
    SHAFT_PLANE,
    canal_centre,
    canal_radius,
    shaft_centre,
    shaft_radius,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from mesh_parts import Centre, Floats, Ints, Mesh, Radius

    Height: TypeAlias = Callable[[Floats, Floats], Floats]

AROUND = 48  # corners of a ring
ACROSS = 5  # rows over the broken wall

#: The upper fragment of `oblique` is moved off: 0.6 mm along the fracture normal, and 0.8 mm
#: across the shaft.
OBLIQUE_SHIFT = 0.6 * SHAFT_PLANE[1] / np.linalg.norm(SHAFT_PLANE[1]) + [0.0, 0.8, 0.0]

#: The wedge tapers to an edge at this x. So steeply its faces rise and fall beyond, and so
#: steeply the fracture rises on the other side.
RIDGE, STEEP, SLANT = 1.5, 1.9, 1.2
#: How far the wedge and the fragment above it are moved off, mm.
WEDGE_SHIFT, ABOVE_SHIFT = np.array([0.7, 0.0, 0.0]), np.array([0.27, 0.0, 0.3])

#: The spiral: height of its middle, length, how far its helix turns, and the bearing of the
#: straight line along the shaft.
SPIRAL_MIDDLE, SPIRAL_LENGTH = 112.0, 80.0
SPIRAL_TURN, SPIRAL_LINE = np.radians(240.0), np.radians(90.0)


# Two fragments


def oblique() -> dict[str, Mesh]:
    """The shaft in two fragments, the upper one moved by `OBLIQUE_SHIFT`."""
    upper, faces = above(oblique_height)
    return {
        "oblique_lower": combine({"lower": below(oblique_height)}),
        "oblique_upper": combine({"upper": (upper + OBLIQUE_SHIFT, faces)}),
    }


def oblique_height(x: Floats, y: Floats) -> Floats:
    """The shaft's fracture plane, with teeth."""
    point, normal = SHAFT_PLANE
    return point[2] - (x - point[0]) * normal[0] / normal[2] + teeth(x, y)


def teeth(x: Floats, y: Floats) -> Floats:
    """Teeth of a few tenths of a millimetre."""
    return 0.3 * np.sin(0.9 * x + 0.3 * y) * np.cos(0.6 * y) + 0.15 * np.sin(1.4 * y - 1.1 * x)


def below(height: Height) -> tuple[Floats, Ints]:
    """The fragment from the shaft's lower end up to a break."""
    outer, pole = _bore(shaft_radius, shaft_centre, SHAFT_ENDS[0], -8.0, height)
    canal, hollow = _bore(canal_radius, canal_centre, CANAL_ENDS[0], -5.0, height)
    wall = _wall(outer[-1], canal[-1], height)
    return stack(np.concatenate([outer, wall, canal[::-1]]), pole, hollow)


def above(height: Height) -> tuple[Floats, Ints]:
    """The fragment from a break up to the shaft's upper end."""
    outer, pole = _bore(shaft_radius, shaft_centre, SHAFT_ENDS[1], 8.0, height)
    canal, hollow = _bore(canal_radius, canal_centre, CANAL_ENDS[1], 5.0, height)
    wall = _wall(canal[-1], outer[-1], height)
    return stack(np.concatenate([canal, wall, outer[::-1]]), hollow, pole)


def _bore(
    radius: Radius, centre: Centre, end: float, dome: float, height: Height
) -> tuple[Floats, Floats]:
    """Rings from a domed end of the shaft to a break, and the dome's pole."""
    theta = angles(AROUND)
    share = np.sin(np.linspace(0, np.pi / 2, 5)[1:])[:, None]
    cap = _skin(radius, centre, theta, np.full((len(share), AROUND), end), share)
    cap[..., 2] += dome * np.sqrt(1 - share**2)
    break_at = _meet(radius, centre, theta, height)
    along = np.linspace(0, 1, 26)[1:, None]
    side = _skin(radius, centre, theta, end + along * (break_at - end))
    pole = np.array([*centre(np.array([end]))[0], end + dome])
    return np.concatenate([cap, side]), pole


def _skin(
    radius: Radius, centre: Centre, theta: Floats, z: Floats, scale: Floats | float = 1.0
) -> Floats:
    r, middle = scale * radius(theta, z), centre(z)
    return np.stack(
        [middle[..., 0] + r * np.cos(theta), middle[..., 1] + r * np.sin(theta), z], axis=-1
    )


def _meet(radius: Radius, centre: Centre, theta: Floats, height: Height) -> Floats:
    """Height at which the skin meets a break on each bearing, by bisection."""
    low, high = np.full(theta.shape, SHAFT_MIDDLE - 60.0), np.full(theta.shape, SHAFT_MIDDLE + 60.0)
    for _ in range(50):
        middle = (low + high) / 2
        x, y, z = np.moveaxis(_skin(radius, centre, theta, middle), -1, 0)
        under = z < height(x, y)
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return low


def _wall(start: Floats, end: Floats, height: Height) -> Floats:
    """Rows across the broken wall, from a ring of one surface to that of another."""
    share = np.linspace(0, 1, ACROSS + 1)[1:-1, None, None]
    rows = start + share * (end - start)
    rows[..., 2] = height(rows[..., 0], rows[..., 1])
    return rows


# A wedge


def wedge() -> dict[str, Mesh]:
    """The shaft in three: a fragment below, one above, and a wedge on the +x side."""
    upper, faces = above(upper_height)
    piece, piece_faces = wedge_between(lower_height, upper_height)
    return {
        "wedge_lower": combine({"lower": below(lower_height)}),
        "wedge_upper": combine({"upper": (upper + ABOVE_SHIFT, faces)}),
        "wedge_piece": combine({"wedge": (piece + WEDGE_SHIFT, piece_faces)}),
    }


def lower_height(x: Floats, y: Floats) -> Floats:
    """Where the lower fragment ends: on the upper one, and beyond the ridge on the wedge."""
    beyond = x - RIDGE
    return SHAFT_MIDDLE - np.where(beyond < 0, SLANT, STEEP) * beyond + teeth(x, y)


def upper_height(x: Floats, y: Floats) -> Floats:
    """Where the upper fragment ends."""
    beyond = x - RIDGE
    return SHAFT_MIDDLE + np.where(beyond < 0, -SLANT, STEEP) * beyond + teeth(x, y)


def wedge_between(lower: Height, upper: Height) -> tuple[Floats, Ints]:
    """Sections through the wedge, from where it tapers to an edge round to the other edge."""
    outer = _column(shaft_radius, shaft_centre, (lower, upper), rows=14)
    canal = _column(canal_radius, canal_centre, (lower, upper), rows=14)
    top, bottom = (_wall(outer[i], canal[i], height) for i, height in ((-1, upper), (0, lower)))
    for rows in (top, bottom):  # both faces end in the same edge
        rows[:, [0, -1], 2] = (top + bottom)[:, [0, -1], 2] / 2
    loops = np.concatenate([outer, top, canal[::-1], bottom[::-1]]).swapaxes(0, 1)
    return loops.reshape(-1, 3), band(np.arange(loops[..., 0].size).reshape(AROUND, -1))


def _column(radius: Radius, centre: Centre, faces: tuple[Height, Height], rows: int) -> Floats:
    """Skin of the wedge (rows, AROUND, 3), from its lower face up, from edge to edge."""
    edges = [_edge(radius, centre, faces[0], side) for side in (-1.0, 1.0)]
    theta = np.linspace(*edges, AROUND)
    low, high = (_meet(radius, centre, theta, h) for h in faces)
    low[[0, -1]] = high[[0, -1]] = (low + high)[[0, -1]] / 2
    return _skin(radius, centre, theta, low + np.linspace(0, 1, rows)[:, None] * (high - low))


def _edge(radius: Radius, centre: Centre, lower: Height, side: float) -> float:
    """Bearing at which the skin passes the ridge, by bisection."""
    low, high = 0.0, np.pi
    for _ in range(50):
        middle = (low + high) / 2
        theta = np.array([side * middle])
        z = _meet(radius, centre, theta, lower)
        beyond = _skin(radius, centre, theta, z)[0, 0] > RIDGE
        low, high = (middle, high) if beyond else (low, middle)
    return side * low


# A spiral


def spiral() -> dict[str, Mesh]:
    """A spiral fracture: straight lines through the bone from a helix to a line along it.

    A bone that is twisted breaks along a helix on its skin whose ends a straight line joins
    (from memory). The canal is spanned, as by a surface that somebody draws through a scan.
    """
    turn = np.linspace(-0.5, 0.5, 101)
    height = SPIRAL_MIDDLE + SPIRAL_LENGTH * turn
    helix = SPIRAL_LINE + np.pi + SPIRAL_TURN * turn
    along = _skin(shaft_radius, shaft_centre, np.full_like(turn, SPIRAL_LINE), height)
    around = _skin(shaft_radius, shaft_centre, helix, height)
    share = np.linspace(0, 1, 17)[:, None, None]
    sheet = along + share * (around - along)
    k, m = sheet.shape[:2]
    point = np.arange(k * m).reshape(k, m)
    a, b, c, d = point[:-1, :-1], point[:-1, 1:], point[1:, 1:], point[1:, :-1]
    faces = np.stack([a, c, b, a, d, c], axis=-1).reshape(-1, 3)
    return {"spiral_fracture": combine({"fracture": (sheet.reshape(-1, 3), faces)})}
