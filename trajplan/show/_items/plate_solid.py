"""A laid plate as a closed solid to true size: bent as planned, its holes open.

The bar is swept along the strip, so that its middle line keeps its length; the holes are cut
from it afterwards, for they are rigid: a plate bends between its holes only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import freeze
from trajplan.plate import bent, make_strip

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints
    from trajplan.implants import Plate
    from trajplan.plate import Laid, Strip
    from trajplan.show._items.solids import Solid

__all__ = ["BentPlate", "bent_plate", "half_length", "plate_at", "plate_solid"]

#: mm, longest link, and points across, of a plate's drawing; as plates are laid.
STEP, ACROSS = 3.0, 5
#: Radius of a plate's corners as a share of its width; drawn, no source gives it.
CORNER = 0.35
#: Steps of a corner's round, and corners of a hole's round: at 48 flats lie 0.009 mm off a
#: head of 8 mm.
CORNER_STEPS, AROUND = 6, 48
#: mm that a hole is longer than wide to either side of its middle, where the catalogue does
#: not tell by how much a head moves in it; drawn, not measured.
DRAWN_SHIFT = 1.0
#: mm that a hole's cutter reaches past the faces that it cuts.
PAST = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class BentPlate:
    """One plate as it lies."""

    plate: Plate
    strip: Strip
    points: Floats  # (k, 3) mm, middle line of the underside
    frames: Floats  # (k, 3, 3) rows along, across and out of the bone

    @property
    def centres(self) -> Floats:
        """Middles of the holes on the underside, (h, 3) mm."""
        centres: Floats = self.points[self.strip.hole]
        return centres

    @property
    def hole_frames(self) -> Floats:
        """Frames of the holes, (h, 3, 3)."""
        frames: Floats = self.frames[self.strip.hole]
        return frames


def bent_plate(laid: Laid, row: int) -> BentPlate:
    """Take one plate of those that were laid.

    Parameters
    ----------
    laid : Laid
        Plates.
    row : int
        The plate.

    Returns
    -------
    BentPlate
    """
    return BentPlate(laid.plate, laid.strip, laid.shape.points[row], laid.shape.frames[row])


def plate_at(
    plate: Plate, flatwise: ArrayLike, twist: ArrayLike, centres: ArrayLike, axes: ArrayLike
) -> BentPlate:
    """Bend a plate anew and put its holes where a plan has them.

    Parameters
    ----------
    plate : Plate
        The plate.
    flatwise, twist : (h - 1,) array_like, degrees
        Of each bridge, as in `Laid`.
    centres : (h, 3) array_like, mm
        Middles of the holes on the underside.
    axes : (h, 3) array_like
        Axes of the holes, unit, into the bone.

    Returns
    -------
    BentPlate

    Notes
    -----
    The bends alone tell the plate's form; the rigid motion that brings its holes to those of
    the plan is that of least squares (Kabsch 1976, Acta Crystallogr A 32:922, from memory).
    """
    middles, into = (np.asarray(a, dtype=np.float64) for a in (centres, axes))
    strip = make_strip(plate, len(middles), STEP, ACROSS)
    flat, turn = (np.radians(np.asarray(a, dtype=np.float64))[None] for a in (flatwise, twist))
    shape = bent(strip, np.zeros((1, 3)), np.eye(3)[None], flat, turn)
    lever = plate.width  # from each hole up its axis: the second point that fixes the plate's roll
    own, out = shape.points[0, strip.hole], shape.frames[0, strip.hole, 2]
    start = np.vstack([own, own + lever * out])
    goal = np.vstack([middles, middles - lever * into])
    rotation = _kabsch(start - start.mean(axis=0), goal - goal.mean(axis=0))
    points = (shape.points[0] - start.mean(axis=0)) @ rotation.T + goal.mean(axis=0)
    frames = shape.frames[0] @ rotation.T
    freeze(points, frames)
    return BentPlate(plate, strip, points, frames)


def _kabsch(start: Floats, goal: Floats) -> Floats:
    """Rotation that brings centred points nearest to others, (3, 3)."""
    left, _, right = np.linalg.svd(goal.T @ start)
    sign = np.sign(np.linalg.det(left @ right))
    rotation: Floats = left @ np.diag([1.0, 1.0, sign]) @ right
    return rotation


def half_length(plate: Plate) -> float:
    """How much longer than wide a hole is to either side of its middle.

    Parameters
    ----------
    plate : Plate
        The plate.

    Returns
    -------
    float, mm
        0 for round holes. Of a sloped hole the shift of an eccentric screw, of a long one the
        way of a head in it; where no source gives it, 1 mm, which is drawn and not measured.
    """
    hole = plate.hole
    if hole.form == "round":
        return 0.0
    known = hole.shift if hole.form == "sloped" else hole.travel
    return DRAWN_SHIFT if known is None else known


def plate_solid(bent: BentPlate, *, holes: bool = True) -> Solid:
    """Closed solid of a plate as it lies.

    Parameters
    ----------
    bent : BentPlate
        The plate.
    holes : bool
        Whether its holes are cut; without them it takes a tenth of the time.

    Returns
    -------
    vertices : (v, 3) float array, mm
    faces : (f, 3) int array
        Wound outwards.

    Notes
    -----
    The hole is as wide as the thickest thread that it takes, and sunk by the sphere of the
    head, whose middle lies where `Plate.seat_height` has it. Slopes and undercuts of real
    holes, and grooves of the underside, are not drawn: no source gives them.
    """
    bar = _bar(bent)
    return _bored(bent, bar) if holes else bar


def _stations(bent: BentPlate) -> tuple[Floats, Floats, Floats]:
    """Points of the middle line, frames, and share of the width there: the ends are rounded."""
    strip, plate = bent.strip, bent.plate
    radius = min(CORNER * plate.width, plate.end / 2.0)
    arc = np.linspace(0.0, np.pi / 2.0, CORNER_STEPS + 1)
    inset = radius * (1.0 - np.sin(arc))  # from where the round ends to the plate's end
    low, high = strip.nodes[0], strip.nodes[-1]
    rounds = np.concatenate([low + inset, high - inset])
    inner = strip.nodes[(strip.nodes > low + radius) & (strip.nodes < high - radius)]
    along = np.unique(np.round(np.concatenate([rounds, inner]), 9))
    link = np.clip(np.searchsorted(strip.nodes, along, side="right") - 1, 0, len(strip.nodes) - 2)
    share = (along - strip.nodes[link]) / np.diff(strip.nodes)[link]
    points = bent.points[link] + share[:, None] * (bent.points[link + 1] - bent.points[link])
    near = np.where(share > 0.5, link + 1, link)
    from_end = np.minimum(along - low, high - along)
    lost = radius - np.sqrt(np.maximum(radius**2 - np.maximum(radius - from_end, 0.0) ** 2, 0.0))
    return points, bent.frames[near], 1.0 - 2.0 * lost / plate.width


def _bar(bent: BentPlate) -> Solid:
    """The plate without holes: its section at every station, joined by triangles."""
    points, frames, wide = _stations(bent)
    under, over = _section(bent, wide)
    rows = [
        points[:, None] + part[..., 0, None] * frames[:, None, 1]
        + part[..., 1, None] * frames[:, None, 2]
        for part in (under, over)
    ]  # fmt: skip
    grid = np.stack(rows, axis=1)  # (stations, under and over, across, 3)
    faces = _skin(*grid.shape[:3])
    return grid.reshape(-1, 3), faces


def _section(bent: BentPlate, wide: Floats) -> tuple[Floats, Floats]:
    """Sideways place and height of underside and top, each (stations, across, 2) mm."""
    plate, side = bent.plate, bent.strip.across
    if plate.back is None:
        flat = wide[:, None] * side
        return (
            np.stack([flat, np.zeros_like(flat)], axis=-1),
            np.stack([flat, np.full_like(flat, plate.thickness)], axis=-1),
        )
    half = np.arcsin(side[-1] / plate.back)
    angle = wide[:, None] * np.linspace(-half, half, 4 * len(side) + 1)
    return tuple(  # type: ignore[return-value]
        np.stack([radius * np.sin(angle), radius * np.cos(angle) - plate.back], axis=-1)
        for radius in (plate.back, plate.back + plate.thickness)
    )


def _skin(stations: int, layers: int, across: int) -> Ints:
    """Triangles round a grid of stations, two layers and points across, wound outwards."""
    at = np.arange(stations * layers * across).reshape(stations, layers, across)
    under, over = at[:, 0], at[:, 1]
    quads = [
        _quads(under),
        _quads(over[:, ::-1]),
        _quads(np.stack([over[:, 0], under[:, 0]], axis=1)),
        _quads(np.stack([under[:, -1], over[:, -1]], axis=1)),
        _quads(np.stack([over[0], under[0]])),
        _quads(np.stack([under[-1], over[-1]])),
    ]
    return np.vstack(quads)


def _quads(grid: Ints) -> Ints:
    """Two triangles for each cell of a grid of vertices."""
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    faces: Ints = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    return faces


def _bored(bent: BentPlate, bar: Solid) -> Solid:
    from manifold3d import Manifold, Mesh64

    solid = Manifold(Mesh64(np.ascontiguousarray(bar[0]), bar[1].astype(np.uint64)))
    cutter = _cutter(bent.plate)
    cutters = [
        cutter.transform(np.column_stack([frame.T, centre]))
        for frame, centre in zip(bent.hole_frames, bent.centres, strict=True)
    ]
    mesh = (solid - Manifold.batch_boolean(cutters, _add())).to_mesh64()
    return mesh.vert_properties[:, :3], mesh.tri_verts.astype(np.int64)


def _add() -> Any:  # noqa: ANN401 - manifold3d has no types here
    from manifold3d import OpType

    return OpType.Add


def _cutter(plate: Plate) -> Any:  # noqa: ANN401 - manifold3d has no types here
    """What a hole takes out of the plate: a bore and a sunk ball, both drawn out along it."""
    from manifold3d import Manifold

    thread = plate.hole.thread[-1]
    low, high = -PAST - _sag(plate), plate.thickness + PAST
    bore = Manifold.cylinder(high - low, thread / 2.0, circular_segments=AROUND)
    parts = [bore.translate((0.0, 0.0, low))]
    if plate.hole.seat is not None:
        ball = Manifold.sphere(plate.hole.seat, circular_segments=AROUND)
        height = plate.seat_height(plate.hole.seat, thread)
        parts.append(ball.translate((0.0, 0.0, height)))
    half = half_length(plate)
    if half > 0.0:
        parts = [
            Manifold.batch_hull([p.translate((-half, 0.0, 0.0)), p.translate((half, 0.0, 0.0))])
            for p in parts
        ]
    return Manifold.batch_boolean(parts, _add())


def _sag(plate: Plate) -> float:
    """How far the edges of a hole reach below the middle line of a hollow underside, mm."""
    if plate.back is None:
        return 0.0
    half = min(plate.hole.thread[-1] / 2.0, plate.back)
    return float(plate.back - np.sqrt(plate.back**2 - half**2))
