"""Bones, zones and screws worked out in one call, as the tests of the upper floors need them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import trimesh
from shapely import Polygon
from specimens import box, tube

from trajplan.bone import SurfaceDistance, as_surface, make_bone
from trajplan.checks import Obstacle, Verdict
from trajplan.files import Case
from trajplan.fracture import fracture_from_plane
from trajplan.implants import find_screw, load_catalogue
from trajplan.trajectory import (
    Axes,
    Settings,
    Within,
    dimensions,
    everywhere,
    plan_trajectories,
    plan_wires,
    techniques,
)


@cache
def catalogue():
    return load_catalogue()


def screw(kind="HA4.5", **changes):
    """A screw of the catalogue, or one that differs from it in a few fields."""
    return replace(find_screw(catalogue(), kind), **changes)


def bone_of(mesh):
    """A bone of ``(vertices, faces)``."""
    return make_bone(as_surface(mesh))


def zone_of(bone, point, normal):
    """The zone of a plane."""
    return fracture_from_plane(bone, point, normal).zones[0]


@cache
def slab(thickness=20.0, half=40.0):
    """A plate without a canal, its upper face at z = 0."""
    return bone_of(box((-half, -half, -thickness), (half, half, 0.0)))


@cache
def shaft(outer=14.0, inner=9.0, sides=64):
    """A shaft along z with a closed canal, from z = 0 to 100."""
    return bone_of(tube(outer, inner, sides=sides))


@cache
def notched():
    """A block 60 wide and 60 high with a notch 20 wide and 30 deep along its 50 mm, at y < 30."""
    rim = [(-30, 0), (-10, 0), (-10, 30), (10, 30), (10, 0), (30, 0), (30, 60), (-30, 60)]
    mesh = trimesh.creation.extrude_polygon(Polygon(rim), 50.0)
    return bone_of((np.array(mesh.vertices), np.array(mesh.faces)))


def level(bone, depth):
    """The zone of a level plane at a depth below z = 0."""
    return zone_of(bone, [0.0, 0.0, -depth], [0.0, 0.0, 1.0])


def in_slab(thickness=20.0, fracture=8.0, *, x=(0.0,), angle=0.0, **options):
    """Screws that enter a slab at (x, 0, 0), ``angle`` degrees off its normal."""
    bone = slab(thickness)
    x = np.atleast_1d(np.asarray(x, dtype=np.float64))
    entry = np.column_stack([x, np.zeros((len(x), 2))])
    direction = np.broadcast_to(tilted(angle), (len(x), 3))
    start = entry - 30.0 * direction
    zones = options.pop("zones", None) or level(bone, fracture)
    return screws_in(bone, start, direction, zones=zones, **options)


def screws_in(
    bone,
    origin,
    direction,
    *,
    zones,
    kind="HA4.5",
    zone=None,
    technique="lag",
    hold="by thread",
    washers=(),
    **settings,
):
    """Screws of one kind along axes through a bone, of the kind that they are made for unless
    told; ``zones`` may be one zone.
    """
    axes = Axes.along(origin, direction)
    n = len(axes)
    wanted = screw(kind) if isinstance(kind, str) else kind
    dims = dimensions([wanted], np.zeros(n, dtype=np.int64))
    made_for = Within.CANCELLOUS if dims.deep.all() else Within.MARROW
    settings = {"inside": everywhere(made_for), **settings}
    return plan_trajectories(
        bone,
        axes,
        dims,
        zones if isinstance(zones, tuple) else (zones,),
        zone=np.zeros(n, dtype=np.int64) if zone is None else np.asarray(zone),
        technique=techniques(technique, dims),
        bicortical=~dims.deep if hold == "by thread" else np.full(n, hold == "bicortical"),
        settings=Settings(washer=bool(washers), **settings),
        washers=washers,
    )


def wires(x=(0.0,), angle=0.0, fracture=8.0, diameter=1.6):
    """Wires down through a slab 20 mm thick, tilted in the xz plane, entering at (x, 0, 0)."""
    bone = slab(20.0)
    lean = np.radians(angle)
    direction = np.tile([np.sin(lean), 0.0, -np.cos(lean)], (len(x), 1))
    start = np.column_stack([x, np.zeros((len(x), 2))]) - 30.0 * direction
    zones = (level(bone, fracture),)
    n = len(x)
    return plan_wires(
        bone, Axes.along(start, direction), np.full(n, diameter), zones, np.zeros(n, dtype=int)
    )


def case_of(**tables):
    """A case in memory: an oblique fracture of a shaft, few candidates; tables are merged."""
    case = {
        "unit": "mm",
        "bone": {"mesh": "shaft.stl"},
        "fracture": {"plane": {"point": [0, 0, 50], "normal": [0.866, 0, 0.5]}},
        "screws": {"count": 2, "kinds": ["HA4.5"], "candidates": 300, "ring": 8},
        "placement": {"draws": 0},
    }
    for name, value in tables.items():
        both = isinstance(value, dict) and name in case and name != "fracture"
        case[name] = case[name] | value if both else value
    return Case.model_validate(case)


def grid(height, size=25, wide=28.0, skip=None, jitter=0.0, seed=0):
    """A square of triangles over z = 0, raised by ``height(x, y)`` and by noise."""
    x, y = (a.ravel() for a in np.meshgrid(*[np.linspace(-wide / 2, wide / 2, size)] * 2))
    noise = jitter * np.random.default_rng(seed).normal(size=len(x))
    vertices = np.column_stack([x, y, height(x, y) + noise])
    i, j = np.meshgrid(np.arange(size - 1), np.arange(size - 1), indexing="ij")
    p = (i * size + j).ravel()
    faces = np.concatenate(
        [np.stack([p, p + 1, p + size], 1), np.stack([p + 1, p + size + 1, p + size], 1)]
    )
    if skip is not None:
        faces = faces[~skip(*vertices[faces].mean(axis=1).T[:2])]
    return as_surface((vertices, faces), name="fracture.stl")


def changed(screws, part=None, **fields):
    """Screws with some arrays of their own, or of one part, replaced to set a measure exactly."""
    whole = screws if part is None else getattr(screws, part)
    spread = {name: np.broadcast_to(value, (len(screws),)).copy() for name, value in fields.items()}
    whole = replace(whole, **spread)
    return whole if part is None else replace(screws, **{part: whole})


def obstacle(mesh, *, name="joint", role="joint", clearance=5.0):
    """A surface to stay clear of."""
    surface = as_surface(mesh)
    return Obstacle(name, role, surface, SurfaceDistance.of(surface), clearance)


def words(ruling):
    """Verdicts in words; None where the rule does not apply."""
    return [None if value < 0 else Verdict(int(value)).word for value in ruling.verdict]


def tilted(angle, azimuth=0.0, about=(0.0, 0.0, -1.0)):
    """A unit vector ``angle`` degrees off a vertical one, towards ``azimuth`` degrees."""
    a, b = np.radians(angle), np.radians(azimuth)
    side = np.array([np.cos(b), np.sin(b), 0.0])
    return np.cos(a) * np.asarray(about, float) + np.sin(a) * side
