"""The normal of a fracture surface round a point of it."""

import numpy as np
import pytest
from builders import grid
from specimens import box

from trajplan.bone import Surface, as_surface
from trajplan.fracture import LOCAL_REACH, local_normals, zones_from_patch
from trajplan.fracture._local import CELLS
from trajplan.geometry import Plane

THREAD = 4.5
REACH = LOCAL_REACH * THREAD
SLANTED = Plane.through([0.0, 0.0, 0.0], [0.3, -0.2, 1.0]).normal


def flat(x, y):
    return 0.0 * x


def slanted(x, y):
    return -(SLANTED[0] * x + SLANTED[1] * y) / SLANTED[2]


def fold(x, y):
    """Two planes that meet along x = 0, each 10 degrees off the level."""
    return -np.abs(x) * np.tan(np.radians(10.0))


def normals_of(surface, points, thread=THREAD):
    (zone,), _ = zones_from_patch(None, surface, most=1)
    points = np.atleast_2d(np.asarray(points, float))
    return zone, local_normals(zone.pieces, points, np.full(len(points), thread))


def degrees(one, other):
    return np.degrees(np.arccos(np.clip(np.abs(one @ np.asarray(other)), 0.0, 1.0)))


def spread(count, half=12.0, seed=1):
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.uniform(-half, half, (count, 2)), np.zeros(count)])


@pytest.mark.parametrize("size", [2, 25])
def test_of_a_plane_it_is_the_planes(size):
    """Whether two large triangles or many small ones describe it."""
    zone, normal = normals_of(grid(slanted, size), spread(200))
    assert degrees(normal, SLANTED).max() < 1e-5
    assert degrees(normal, zone.plane.normal).max() < 1e-5


def test_off_a_fold_it_is_that_of_its_own_side():
    """Past the reach nothing of the other side counts; on the fold both do alike."""
    _, normal = normals_of(grid(fold, 57, 56.0), [[-REACH - 1, 0, 0], [0, 0, 0], [REACH + 1, 0, 0]])
    side = np.radians(10.0)
    assert degrees(normal[:1], [-np.sin(side), 0, np.cos(side)]) < 1e-5
    assert degrees(normal[1:2], [0, 0, 1]) < 0.3
    assert degrees(normal[2:], [np.sin(side), 0, np.cos(side)]) < 1e-5


@pytest.mark.parametrize(("jitter", "size"), [(0.3, 29), (0.5, 29), (0.5, 57)])
def test_noise_turns_it_little(jitter, size):
    """By the note in the module: s sqrt(c / pi) / R^1.5 with c the 0.5 to 1 mm between points
    is half a degree for 0.5 mm; three times that bounds 400 places, some at the rim."""
    _, normal = normals_of(grid(flat, size, jitter=jitter), spread(400, half=10.0))
    assert degrees(normal, [0, 0, 1]).max() < 1.5


def test_a_small_shift_moves_it_little():
    line = np.column_stack([np.arange(-8.0, 8.0, 0.1), np.zeros((160, 2))])
    _, normal = normals_of(grid(flat, 29, jitter=0.5), line)
    step = np.degrees(np.linalg.norm(np.diff(normal, axis=0), axis=1))
    assert step.max() < 0.15


def test_triangles_wound_either_way_count_alike():
    surface = grid(fold, 29)
    disorder = surface.faces.copy()
    disorder[::3] = disorder[::3, ::-1]
    _, normal = normals_of(surface, spread(50))
    _, other = normals_of(Surface(surface.vertices, disorder, {}, "", "", 0), spread(50))
    assert np.einsum("ij,ij->i", normal, other) == pytest.approx(np.ones(50))


def test_the_reach_grows_over_a_canal_and_ends():
    """A ring of surface from 10 to 14 mm: out of reach of 9 mm, not of twice that; a thread
    of 2 mm reaches 8 mm at the most."""
    ring = grid(flat, 57, skip=lambda x, y: np.hypot(x, y) < 10.0)
    assert degrees(normals_of(ring, [[0, 0, 0]])[1], [0, 0, 1]) < 1e-5
    assert np.isnan(normals_of(ring, [[0, 0, 0]], thread=2.0)[1]).all()


def test_a_patch_in_the_wrong_unit_fills_no_memory():
    (zone,), _ = zones_from_patch(None, grid(slanted, 2, 28e3), most=1)
    assert len(zone.pieces.areas) < 4 * CELLS
    normal = local_normals(zone.pieces, np.zeros((1, 3)), np.array([THREAD]))
    assert np.isnan(normal).all() or degrees(normal, SLANTED) < 1e-5


def test_no_crossing_no_normal():
    _, normal = normals_of(grid(flat, 9), [[np.nan, np.nan, np.nan], [0, 0, 0]])
    assert np.isnan(normal).all(axis=1).tolist() == [True, False]
    assert normals_of(grid(flat, 9), np.empty((0, 3)))[1].shape == (0, 3)


def test_a_thin_closed_sheet_has_none():
    """Its two sides look opposite ways: nothing is made of a sum that cancels."""
    _, normal = normals_of(as_surface(box((-15, -15, 0), (15, 15, 0.01))), [[0, 0, 0]])
    assert np.isnan(normal).all()
