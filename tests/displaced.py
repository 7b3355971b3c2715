"""Demonstration fragments, displaced by known movements, and their reductions, made once."""

from functools import cache
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from trajplan.bone import read_surface
from trajplan.reduction import Fragment, Matcher, Pose, Settings, reduce_fragments

MESHES = Path(__file__).parents[1] / "meshes"
OBLIQUE = ("oblique_lower", "oblique_upper")
WEDGE = ("wedge_lower", "wedge_upper", "wedge_piece")


@cache
def lying(name):
    """Arrays of a demonstration mesh, where it belongs."""
    surface = read_surface(MESHES / f"{name}.stl")
    return surface.vertices, surface.faces


def movement(seed, turn, shift, about):
    """A displacement: turn about a random axis through a point, and a shift, (4, 4)."""
    axis, way = np.random.default_rng(seed).normal(size=(2, 3))
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_rotvec(
        np.radians(turn) * axis / np.linalg.norm(axis)
    ).as_matrix()
    matrix[:3, 3] = about + shift * way / np.linalg.norm(way) - matrix[:3, :3] @ about
    return matrix


def moved(matrix, points):
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def displaced(names, turn=20.0, shift=15.0, seed=1):
    """Fragments of which all but the first are displaced, and the displacements."""
    moves = [np.eye(4)]
    moves += [
        movement(seed + k, turn, shift, lying(name)[0].mean(axis=0))
        for k, name in enumerate(names[1:])
    ]
    return [
        Fragment(name, moved(move, lying(name)[0]), lying(name)[1])
        for name, move in zip(names, moves, strict=True)
    ], moves


@cache
def oblique():
    """Fragments, displacements, matcher and reduction of the oblique shaft."""
    fragments, moves = displaced(OBLIQUE)
    matcher = Matcher.of(fragments)
    return fragments, moves, matcher, reduce_fragments(fragments, Settings(fixed=0), None, matcher)


def left(reduction, moves, number):
    """What a reduction leaves of a fragment's displacement, against the first, (4, 4)."""
    first = reduction.poses[0].back().matrix
    return moves[0] @ first @ reduction.poses[number].matrix @ moves[number]


def misplaced(remains, points):
    """Root mean square of how far points lie from where they belong, mm, and the turn, degrees."""
    way = moved(remains, points) - points
    turn = Rotation.from_matrix(remains[:3, :3]).magnitude()
    return float(np.sqrt((way**2).sum(axis=1).mean())), float(np.degrees(turn))


def in_place(count):
    return (Pose.still(),) * count
