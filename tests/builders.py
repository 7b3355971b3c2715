"""Bones, zones and screws worked out in one call, as the tests of the upper floors need them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from trajplan.bone import SurfaceDistance, as_surface, make_bone
from trajplan.checks import Obstacle, Verdict
from trajplan.fracture import fracture_from_plane
from trajplan.implants import find_screw, load_catalogue
from trajplan.trajectory import Axes, Settings, dimensions, plan_trajectories, techniques


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
    """Screws of one kind along axes through a bone; ``zones`` may be one zone."""
    axes = Axes.along(origin, direction)
    n = len(axes)
    wanted = screw(kind) if isinstance(kind, str) else kind
    dims = dimensions([wanted], np.zeros(n, dtype=np.int64))
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


def changed(screws, **fields):
    """Screws with some of their arrays replaced, to set a measure exactly."""
    n = len(screws)
    return replace(
        screws, **{name: np.broadcast_to(value, (n,)).copy() for name, value in fields.items()}
    )


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
