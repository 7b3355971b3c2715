"""Simulated fractures whose truth is known: real bones, broken, displaced, imaged piece by piece.

A bone becomes a distance field; rough surfaces part it; each piece loses some bone along its
edge; each is imaged on a grid of its own, with noise, and contoured. No two pieces share a
vertex. The bones of the package myo-sim are smooth and solid: a canal is modelled.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyvista as pv
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.spatial.transform import Rotation

from trajplan.bone import SurfaceDistance, as_surface, point_distance, read_surface
from trajplan.bone._libigl import WindingTree

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["BONES", "ENDS", "END_KINDS", "KINDS", "Broken", "Piece", "break_bone"]

#: File of each bone in the wheel, and the share of its length where the middle of the break lies.
BONES = {
    "femur": ("r_femur.stl", 0.5),
    "tibia": ("r_tibia.stl", 0.5),
    "humerus": ("humerus.stl", 0.5),
    "radius": ("radius.stl", 0.4),
    "fibula": ("r_fibula.stl", 0.5),
    "clavicle": ("clavicle.stl", 0.45),
}
#: A bone's end, with its joint surface: solid, for no canal reaches it.
ENDS = {"tibia end": ("r_tibia.stl", 0.06), "femur end": ("r_femur.stl", 0.06)}
KINDS = ("oblique", "spiral", "transverse", "butterfly", "gentle", "double", "five")
#: Breaks of a bone's end: a split off the joint, a T with two joint pieces, a T with three.
END_KINDS = ("split", "tee", "tee of four")
#: mm: the image ends this far above and below the middle of the break.
HALF = 35.0
#: A piece with fewer points on its break is a crumb: such a draw is no case.
LEAST = 60
#: mm: grid of the distance field.
GRID = 1.0


@dataclass(frozen=True)
class Piece:
    """One piece as it lies, and the movement that lays it back."""

    vertices: Vec3s
    faces: Ints
    back: Floats  # (4, 4) mm, truth


@dataclass(frozen=True)
class Broken:
    """A broken bone."""

    pieces: tuple[Piece, ...]
    fracture: tuple[Vec3s, ...]  # points of each piece's broken surface, reduced
    axis: Floats  # (3,) of the shaft, reduced


@dataclass(frozen=True)
class _Field:
    """Signed distance of a bone, negative inside, on a grid whose z runs along the shaft."""

    values: Floats
    low: Floats
    depth: float  # mm, half the thickness of the shaft

    def at(self, points: Vec3s) -> Floats:
        place = ((points - self.low) / GRID).T
        found: Floats = map_coordinates(self.values, place, order=1, mode="nearest")
        return found


@cache
def _field(bone: str) -> _Field:
    name, share = (BONES | ENDS)[bone]
    folder = find_spec("myo_sim").submodule_search_locations[0]
    surface = read_surface(Path(folder) / "models" / "meshes" / name, unit="m")
    vertices = surface.vertices - surface.vertices.mean(axis=0)
    axes = np.linalg.svd(vertices, full_matrices=False)[2]
    axes[0] = np.cross(axes[1], axes[2])
    local = vertices @ axes[[1, 2, 0]].T
    height = local[:, 2]
    middle = height.min() + share * np.ptp(height)
    local[:, 2] -= middle
    near = np.abs(local[:, 2]) < HALF + 20.0
    local[:, :2] -= local[near, :2].mean(axis=0)
    low = np.append(local[near, :2].min(axis=0) - 6.0, -HALF - 8.0)
    high = np.append(local[near, :2].max(axis=0) + 6.0, HALF + 8.0)
    ranges = [np.arange(a, b, GRID) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*ranges, indexing="ij"), axis=-1)
    points = grid.reshape(-1, 3)
    distance = point_distance(SurfaceDistance.of(as_surface((local, surface.faces))), points)
    inside = WindingTree(local, surface.faces).number(points) > 0.5
    values = np.where(inside, -distance, distance).reshape(grid.shape[:3])
    values = gaussian_filter(values, 1.2)
    middle_slab = values[:, :, values.shape[2] // 2 - 10 : values.shape[2] // 2 + 10]
    return _Field(values, low, float(-middle_slab.min()))


def _rough(rng: np.random.Generator, rms: float) -> Callable[[Floats, Floats], Floats]:
    """Self-affine roughness (Hurst 0.8) of waves of 3 to 30 mm."""
    length = np.geomspace(3.0, 30.0, 24)
    angle, phase = rng.uniform(0.0, 2.0 * np.pi, (2, len(length)))
    height = length**0.8 * rng.normal(size=len(length))
    height *= rms / np.sqrt((height**2).sum() / 2.0)
    kx, ky = np.cos(angle) * 2.0 * np.pi / length, np.sin(angle) * 2.0 * np.pi / length

    def at(u: Floats, v: Floats) -> Floats:
        out = np.zeros_like(u)
        for h, x, y, p in zip(height, kx, ky, phase, strict=True):
            out += h * np.sin(x * u + y * v + p)
        return out

    return at


Sheet = tuple["Callable[[Vec3s], Floats]", ...]


def _sheets(kind: str, rng: np.random.Generator, rms: float, size: float) -> Sheet:
    """Implicit functions of the pieces: negative inside the piece, about mm near the break."""
    rough = _rough(rng, rms)
    turn = rng.uniform(0.0, 2.0 * np.pi)
    c, s = np.cos(turn), np.sin(turn)

    def across(p: Vec3s) -> tuple[Floats, Floats]:
        return c * p[:, 0] + s * p[:, 1], -s * p[:, 0] + c * p[:, 1]

    if kind in ("oblique", "transverse"):
        tilt = np.radians(rng.uniform(35.0, 60.0) if kind == "oblique" else rng.uniform(0.0, 8.0))

        def height(p: Vec3s) -> Floats:
            u, v = across(p)
            off = p[:, 2] * np.cos(tilt) - u * np.sin(tilt)
            return off - rough(u * np.cos(tilt) + p[:, 2] * np.sin(tilt), v)

        return (lambda p: -height(p), height)
    if kind == "spiral":
        rise = rng.uniform(1.6, 2.6) * 2.0 * size
        hand = rng.choice([-1.0, 1.0])

        def spiral(p: Vec3s) -> Floats:
            u, v = across(p)
            share = hand * np.arctan2(v, u) / (2.0 * np.pi)
            lean = rise / (2.0 * np.pi * 0.8 * size)
            off = p[:, 2] - rise * share
            return off / np.sqrt(1.0 + lean**2) - rough(size * 2.0 * np.pi * share, p[:, 2])

        return (lambda p: -spiral(p), spiral)
    if kind in END_KINDS:
        return _end_sheets(kind, rng, rough, across, size)
    if kind in ("double", "five"):
        return _wedged(kind, rng, rms, across, size)
    steep = (20.0, 40.0) if kind == "gentle" else (45.0, 60.0)
    slope, edge = np.tan(np.radians(rng.uniform(*steep))), rng.uniform(-0.35, 0.05) * size
    lower_rough = _rough(rng, rms)

    def upper_edge(p: Vec3s) -> Floats:
        u, v = across(p)
        out = slope * np.maximum(u - edge, 0.0)
        return (p[:, 2] - out) / np.where(u > edge, np.hypot(1.0, slope), 1.0) - rough(
            np.hypot(u, np.minimum(p[:, 2], 2.0 * size)), v
        )

    def lower_edge(p: Vec3s) -> Floats:
        u, v = across(p)
        out = -slope * np.maximum(u - edge, 0.0)
        wedge = (p[:, 2] - out) / np.hypot(1.0, slope) - lower_rough(np.hypot(u, p[:, 2]), v)
        return np.where(u > edge, wedge, upper_edge(p))

    return (
        lambda p: -upper_edge(p),
        lower_edge,
        lambda p: np.maximum(
            np.maximum(upper_edge(p), -lower_edge(p)), -20.0 * (across(p)[0] - edge)
        ),
    )


Across = "Callable[[Vec3s], tuple[Floats, Floats]]"


def _end_sheets(
    kind: str, rng: np.random.Generator, rough: Callable[[Floats, Floats], Floats],
    across: Across, size: float,
) -> Sheet:  # fmt: skip
    """A bone's end: joint pieces parted along the axis, the joint at positive heights."""
    lean, edge = np.radians(rng.uniform(15.0, 30.0)), rng.uniform(-0.1, 0.2) * size

    def beside(p: Vec3s) -> Floats:
        u, v = across(p)
        return (u - edge) * np.cos(lean) + p[:, 2] * np.sin(lean) - rough(v, p[:, 2])

    def level(p: Vec3s) -> Floats:
        u, v = across(p)
        return p[:, 2] + 8.0 - 0.35 * u - rough(u + 40.0, v)

    def halved(p: Vec3s) -> Floats:
        u, v = across(p)
        return v - 0.1 * size - rough(u, p[:, 2] + 40.0)

    if kind == "split":
        return (beside, lambda p: -beside(p))
    shaft = level
    first = lambda p: np.maximum(-level(p), beside(p))  # noqa: E731
    if kind == "tee":
        return (shaft, first, lambda p: np.maximum(-level(p), -beside(p)))
    return (
        shaft, first,
        lambda p: np.maximum(np.maximum(-level(p), -beside(p)), halved(p)),
        lambda p: np.maximum(np.maximum(-level(p), -beside(p)), -halved(p)),
    )  # fmt: skip


def _wedged(kind: str, rng: np.random.Generator, rms: float, across: Across, size: float) -> Sheet:
    """A shaft with a wedge on either side; of five pieces, the first wedge is halved."""
    roughs = [_rough(rng, rms) for _ in range(5)]
    slopes = np.tan(np.radians(rng.uniform(35.0, 55.0, 4)))
    right, left = rng.uniform(0.0, 0.25, 2) * size

    def upper(p: Vec3s) -> Floats:
        u, v = across(p)
        rise = slopes[0] * np.maximum(u - right, 0.0) + slopes[1] * np.maximum(-u - left, 0.0)
        lean = np.where(u > right, slopes[0], np.where(-u > left, slopes[1], 0.0))
        return (p[:, 2] - rise) / np.hypot(1.0, lean) - roughs[0](u, v)

    def lower(p: Vec3s) -> Floats:
        u, v = across(p)
        fall = slopes[2] * np.maximum(u - right, 0.0) + slopes[3] * np.maximum(-u - left, 0.0)
        lean = np.where(u > right, slopes[2], np.where(-u > left, slopes[3], 0.0))
        strip = (u <= right) & (-u <= left)
        off = (p[:, 2] + fall) / np.hypot(1.0, lean) - roughs[1](u, v)
        return np.where(strip, upper(p), off)

    def wedge(p: Vec3s, side: float, edge: float) -> Floats:
        off = -20.0 * (side * across(p)[0] - edge)
        return np.maximum(np.maximum(upper(p), -lower(p)), off)

    def halved(p: Vec3s) -> Floats:
        u, v = across(p)
        return v - roughs[2](u, p[:, 2])

    ends = (lambda p: -upper(p), lower)
    other = lambda p: wedge(p, -1.0, left)  # noqa: E731
    if kind == "double":
        return (*ends, lambda p: wedge(p, 1.0, right), other)
    return (
        *ends,
        lambda p: np.maximum(wedge(p, 1.0, right), halved(p)),
        lambda p: np.maximum(wedge(p, 1.0, right), -halved(p)),
        other,
    )


def break_bone(
    bone: str, kind: str, seed: int, *, noise: float = 0.2, rms: float = 0.7,
    voxel: float = 0.8, slab: float = 0.0, turn: tuple[float, float] = (5.0, 40.0),
    shift: tuple[float, float] = (5.0, 40.0),
) -> Broken:  # fmt: skip
    """Break a bone, lose some of it, displace and image the pieces.

    Parameters
    ----------
    bone, kind : str
        Of `BONES` and `KINDS`.
    seed : int
        Same seed, same pieces.
    noise : float, mm
        Noise of the surface, correlated over a voxel or two.
    rms : float, mm
        Roughness of the break.
    voxel : float, mm
        Grid of the image.
    slab : float, mm
        Bone lost evenly over the whole break.
    turn, shift : (float, float)
        Degrees and mm: range of the movement of all pieces but the first.
    """
    rng = np.random.default_rng([seed, *bone.encode(), *kind.encode()])
    field = _field(bone)
    wall = 99.0 if bone in ENDS else float(np.clip(0.45 * field.depth, 1.8, 5.0))
    sheets = _sheets(kind, rng, rms, field.depth)
    pieces, fractures = [], []
    for number, sheet in enumerate(sheets):
        loss = rng.uniform(0.15, 0.5)
        patchy = _rough(rng, 0.5)

        def solid(p: Vec3s, sheet=sheet, loss=loss, patchy=patchy) -> Floats:  # noqa: ANN001
            out = field.at(p)
            tube = np.maximum(out, -wall - out)
            edge = loss * np.clip(1.0 + patchy(p[:, 0] + p[:, 2], p[:, 1]), 0.0, 2.0)
            # more is lost towards the outer edge
            cut = sheet(p) + 0.05 + 0.5 * slab + edge * np.clip(1.0 + out / 1.5, 0.0, 1.0)
            return np.maximum(tube, cut)

        vertices, faces = _imaged(solid, sheet, field, rng, noise, voxel)
        off = sheet(vertices)
        fractures.append(vertices[np.abs(off + 0.3 + 0.5 * slab) < 0.8])
        if len(fractures[-1]) < LEAST:
            raise ValueError(f"{bone}, {kind}, {seed}: piece {number + 1} is a crumb")
        back = np.eye(4) if number == 0 else _movement(rng, turn, shift, fractures[-1])
        there = np.linalg.inv(back)
        pieces.append(Piece(vertices @ there[:3, :3].T + there[:3, 3], faces, back))
    return Broken(tuple(pieces), tuple(fractures), np.array([0.0, 0.0, 1.0]))


def _movement(
    rng: np.random.Generator, turn: tuple[float, float], shift: tuple[float, float], about: Vec3s
) -> Floats:
    """Truth: back from a random displacement, turned about the break's own middle."""
    axis, way = rng.normal(size=(2, 3))
    rotation = Rotation.from_rotvec(
        np.radians(rng.uniform(*turn)) * axis / np.linalg.norm(axis)
    ).as_matrix()
    matrix = np.eye(4)
    middle = about.mean(axis=0)
    matrix[:3, :3] = rotation
    matrix[:3, 3] = middle + rng.uniform(*shift) * way / np.linalg.norm(way) - rotation @ middle
    return np.linalg.inv(matrix)


def _imaged(
    solid: Callable[[Vec3s], Floats], sheet: Callable[[Vec3s], Floats], field: _Field,
    rng: np.random.Generator, noise: float, voxel: float,
) -> tuple[Vec3s, Ints]:  # fmt: skip
    """Surface of a piece, contoured on a turned grid of its own."""
    coarse = np.stack(
        np.meshgrid(
            *[
                low + 2.0 * np.arange(n // 2 + 1)
                for low, n in zip(field.low, field.values.shape, strict=True)
            ],
            indexing="ij",
        ),
        axis=-1,
    ).reshape(-1, 3)
    coarse = coarse[(np.abs(coarse[:, 2]) < HALF + 3.0) & (field.at(coarse) < 3.0)]
    coarse = coarse[sheet(coarse) < 5.0]
    rotation = Rotation.random(random_state=int(rng.integers(2**31))).as_matrix()
    # a small turn keeps the box round the piece small
    rotation = Rotation.from_rotvec(0.35 * Rotation.from_matrix(rotation).as_rotvec()).as_matrix()
    turned = coarse @ rotation
    low, high = turned.min(axis=0) - 3.0, turned.max(axis=0) + 3.0
    size = np.ceil((high - low) / voxel).astype(int) + 1
    grid = np.stack(np.meshgrid(*[np.arange(n) for n in size], indexing="ij"), axis=-1)
    points = (low + voxel * grid.reshape(-1, 3)) @ rotation.T
    near = field.at(points) < 3.0
    values = np.full(len(points), 3.0)
    values[near] = np.clip(
        np.maximum(solid(points[near]), np.abs(points[near, 2]) - HALF), -3.0, 3.0
    )
    image = gaussian_filter(values.reshape(size), 0.6)
    grain = gaussian_filter(rng.normal(size=tuple(size)), 1.2)
    image += noise * grain / grain.std()
    volume = pv.ImageData(dimensions=tuple(size), spacing=(voxel,) * 3, origin=tuple(low))
    volume.point_data["image"] = image.ravel(order="F")
    mesh = volume.contour([0.0], scalars="image", method="flying_edges").connectivity("largest")
    vertices, faces = np.array(mesh.points, dtype=float), mesh.faces.reshape(-1, 4)[:, 1:]
    # normals outwards
    corners = vertices[faces]
    if np.einsum("fi,fi->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) < 0.0:
        faces = faces[:, ::-1]
    return vertices @ rotation.T, np.ascontiguousarray(faces, dtype=np.int64)
