"""A laid plate as a closed solid to true size: bent as planned, its holes open.

The bar is swept along the strip, so that its middle line keeps its length; the holes are cut
from it afterwards, for they are rigid: a plate bends between its holes only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import as_points
from trajplan.implants import ball_height

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.files import PlateRecord
    from trajplan.plate import Laid
    from trajplan.show._items.solids import Solid

__all__ = [
    "BentPlate",
    "PlateSizes",
    "corner_radius",
    "laid_plate",
    "plate_of",
    "plate_solid",
]

#: Radius of a plate's corners as a share of its width; drawn, no source gives it.
CORNER = 0.35
#: Steps of a corner's round, and corners of a hole's round: at 48 flats lie 0.009 mm off a
#: head of 8 mm.
CORNER_STEPS, AROUND = 6, 48
#: Points across a flat plate, and across a hollow one.
FLAT, HOLLOW = 2, 22
#: mm that a sloped or long hole is longer than wide to either side of its middle, where no
#: screw of the plan is drilled further aside; drawn, not measured.
DRAWN_SHIFT = 1.0
#: mm; what the cut solid moves to lose slivers that single precision would fold, as screws do.
SLIVER = 1e-3
#: Degrees that round cutters are turned, tried in turn: corners that nearly meet an edge would
#: leave slivers, which single precision folds.
ASKEW = (1.3, 1.9, 2.6, 3.1, 0.7, 3.7, 0.4, 2.2)
#: mm; an edge no longer than this may fold in single precision, as of screws.
SHORTEST = 1.2e-4
#: mm that a hole's cutter reaches past the faces that it cuts.
PAST = 1.0


@dataclass(frozen=True, slots=True)
class PlateSizes:
    """What a plate's drawing is made from; mm."""

    width: float
    thickness: float
    back: float | None  # radius of a hollow underside; None: flat
    hole: float  # width of a hole: the widest thread that it takes
    half: float  # by how much a hole is longer than wide, to either side
    seat: float | None  # radius of the sphere in a hole; None: not known, and not drawn


@dataclass(frozen=True, slots=True, eq=False)
class BentPlate:
    """One plate as it lies."""

    sizes: PlateSizes
    points: Floats  # (k, 3) mm, middle line of the underside, from end to end
    frames: Floats  # (k, 3, 3) rows along, across and out of the bone
    hole: Ints  # (h,) points that are middles of holes

    @property
    def nodes(self) -> Floats:
        """Place of each point along the plate from its first end, (k,) mm."""
        links = np.linalg.norm(np.diff(self.points, axis=0), axis=1)
        return np.concatenate([[0.0], np.cumsum(links)])

    @property
    def centres(self) -> Floats:
        """Middles of the holes on the underside, (h, 3) mm."""
        centres: Floats = self.points[self.hole]
        return centres

    @property
    def hole_frames(self) -> Floats:
        """Frames of the holes, (h, 3, 3)."""
        frames: Floats = self.frames[self.hole]
        return frames


def laid_plate(laid: Laid, row: int) -> BentPlate:
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
    plate = laid.plate
    known = plate.hole.shift if plate.hole.form == "sloped" else plate.hole.travel
    slack = DRAWN_SHIFT if known is None else known
    sizes = PlateSizes(
        plate.width,
        plate.thickness,
        plate.back,
        plate.hole.thread[-1],
        0.0 if plate.hole.form == "round" else slack,
        plate.hole.seat,
    )
    return BentPlate(sizes, laid.shape.points[row], laid.shape.frames[row], laid.strip.hole)


def plate_of(record: PlateRecord) -> BentPlate:
    """Take a plate from a plan.

    Parameters
    ----------
    record : PlateRecord
        The plate as planned.

    Returns
    -------
    BentPlate
    """
    size = record.size
    points, across, out = (as_points(rows) for rows in (record.line, record.across, record.out))
    aside = max((abs(hole.offset) for hole in record.hole), default=0.0)
    sizes = PlateSizes(
        size.width,
        size.thickness,
        size.back,
        size.hole,
        0.0 if size.form == "round" else max(DRAWN_SHIFT, aside),
        size.seat,
    )
    centres = as_points([hole.centre for hole in record.hole])
    apart = np.linalg.norm(points[None] - centres[:, None], axis=2)
    frames = np.stack([np.cross(across, out), across, out], axis=1)
    return BentPlate(sizes, points, frames, apart.argmin(axis=1))


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
    head, whose middle lies where `ball_height` has it. Slopes and undercuts of real
    holes, and grooves of the underside, are not drawn: no source gives them.
    """
    bar = _bar(bent)
    return _bored(bent, bar) if holes else bar


def corner_radius(bent: BentPlate) -> float:
    """Radius of the corners that a plate is drawn with.

    Parameters
    ----------
    bent : BentPlate
        The plate.

    Returns
    -------
    float, mm
    """
    return min(CORNER * bent.sizes.width, float(bent.nodes[bent.hole[0]]) / 2.0)


def _stations(bent: BentPlate) -> tuple[Floats, Floats, Floats]:
    """Points of the middle line, frames, and share of the width there: the ends are rounded."""
    width, nodes = bent.sizes.width, bent.nodes
    radius = corner_radius(bent)
    arc = np.linspace(0.0, np.pi / 2.0, CORNER_STEPS + 1)
    inset = radius * (1.0 - np.sin(arc))  # from where the round ends to the plate's end
    low, high = nodes[0], nodes[-1]
    rounds = np.concatenate([low + inset, high - inset])
    inner = nodes[(nodes > low + radius) & (nodes < high - radius)]
    along = np.unique(np.round(np.concatenate([rounds, inner]), 9))
    link = np.clip(np.searchsorted(nodes, along, side="right") - 1, 0, len(nodes) - 2)
    share = (along - nodes[link]) / np.diff(nodes)[link]
    points = bent.points[link] + share[:, None] * (bent.points[link + 1] - bent.points[link])
    near = np.where(share > 0.5, link + 1, link)
    from_end = np.minimum(along - low, high - along)
    lost = radius - np.sqrt(np.maximum(radius**2 - np.maximum(radius - from_end, 0.0) ** 2, 0.0))
    return points, bent.frames[near], 1.0 - 2.0 * lost / width


def _bar(bent: BentPlate) -> Solid:
    """The plate without holes: its section at every station, joined by triangles."""
    points, frames, wide = _stations(bent)
    under, over = _section(bent.sizes, wide)
    rows = [
        points[:, None] + part[..., 0, None] * frames[:, None, 1]
        + part[..., 1, None] * frames[:, None, 2]
        for part in (under, over)
    ]  # fmt: skip
    grid = np.stack(rows, axis=1)  # (stations, under and over, across, 3)
    faces = _skin(*grid.shape[:3])
    return grid.reshape(-1, 3), faces


def _section(sizes: PlateSizes, wide: Floats) -> tuple[Floats, Floats]:
    """Sideways place and height of underside and top, each (stations, across, 2) mm."""
    if sizes.back is None:
        flat = wide[:, None] * np.linspace(-0.5, 0.5, FLAT) * sizes.width
        return (
            np.stack([flat, np.zeros_like(flat)], axis=-1),
            np.stack([flat, np.full_like(flat, sizes.thickness)], axis=-1),
        )
    half = np.arcsin(sizes.width / 2.0 / sizes.back)
    angle = wide[:, None] * np.linspace(-half, half, HOLLOW)
    under, over = (
        np.stack([radius * np.sin(angle), radius * np.cos(angle) - sizes.back], axis=-1)
        for radius in (sizes.back, sizes.back + sizes.thickness)
    )
    return under, over


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
    for turn in ASKEW:
        cutter = _cutter(bent.sizes, turn)
        cutters = [
            cutter.transform(np.column_stack([frame.T, centre]))
            for frame, centre in zip(bent.hole_frames, bent.centres, strict=True)
        ]
        cut = (solid - Manifold.batch_boolean(cutters, _add())).simplify(SLIVER).to_mesh64()
        vertices, faces = cut.vert_properties[:, :3], cut.tri_verts.astype(np.int64)
        corners = vertices[faces]
        edges = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
        if edges.min() > SHORTEST:
            break
    return vertices, faces


def _add() -> Any:  # noqa: ANN401 - manifold3d has no types here
    from manifold3d import OpType

    return OpType.Add


def _cutter(sizes: PlateSizes, turn: float) -> Any:  # noqa: ANN401 - manifold3d has no types here
    """What a hole takes out of the plate: a bore and a sunk ball, both drawn out along it."""
    from manifold3d import Manifold

    low, high = -PAST - _sag(sizes), sizes.thickness + PAST
    bore = Manifold.cylinder(high - low, sizes.hole / 2.0, circular_segments=AROUND)
    parts = [bore.rotate((0.0, 0.0, turn)).translate((0.0, 0.0, low))]
    if sizes.seat is not None:
        ball = Manifold.sphere(sizes.seat, circular_segments=AROUND)
        height = ball_height(sizes.thickness, sizes.seat, sizes.hole)
        parts.append(ball.rotate((turn, 2.0 * turn, 3.0 * turn)).translate((0.0, 0.0, height)))
    if sizes.half > 0.0:
        ends = [(-sizes.half, 0.0, 0.0), (sizes.half, 0.0, 0.0)]
        parts = [Manifold.batch_hull([part.translate(end) for end in ends]) for part in parts]
    return Manifold.batch_boolean(parts, _add())


def _sag(sizes: PlateSizes) -> float:
    """How far the edges of a hole reach below the middle line of a hollow underside, mm."""
    if sizes.back is None:
        return 0.0
    half = min(sizes.hole / 2.0, sizes.back)
    return float(sizes.back - np.sqrt(sizes.back**2 - half**2))
