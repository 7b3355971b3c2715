"""Shells: what hangs together, what is closed, and what lies in what."""

import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose, assert_array_equal
from scipy.spatial.transform import Rotation
from specimens import (
    box,
    cube,
    cylinder,
    flipped,
    flipped_cube,
    joined,
    lathe,
    nested_cubes,
    open_box,
    pipe,
    real_bone,
    sphere,
    tetra,
    touching_boxes,
    tube,
)

from trajplan.bone._read import as_surface, read_surface
from trajplan.bone._shells import find_shells


def shells_of(mesh):
    return find_shells(as_surface(mesh))


def turned(mesh, seed):
    """Moved and turned so that no coordinate is round any more, equal vertices kept equal."""
    vertices, faces = mesh
    distinct, row = np.unique(vertices, axis=0, return_inverse=True)
    moved = Rotation.random(rng=seed).apply(distinct) + np.array([31.7, -120.3, 55.1])
    return moved[row.ravel()], faces


@pytest.mark.parametrize(
    ("mesh", "volume"),
    [
        (cube(), 1000.0),  # a³
        (tetra(), 1000.0 / 6.0),  # a³ / 6
        (flipped_cube(), 1000.0),
        # prism on a regular n-gon: n/2 r² sin(2 pi / n) h
        (cylinder(10.0, 100.0, 32), 16 * 100 * np.sin(np.pi / 16) * 100),
        (pipe(14.0, 9.0, 50.0, 24), 12 * (14**2 - 9**2) * np.sin(np.pi / 12) * 50),
    ],
)
def test_one_closed_shell(mesh, volume):
    shells = shells_of(mesh)
    assert shells.closed.tolist() == [True]
    assert shells.wound.tolist() == [True]
    assert shells.nesting.tolist() == [0]
    assert shells.body.tolist() == [0]
    assert_allclose(shells.volume, [volume], rtol=1e-12)
    assert not shells.of_face.any()


def test_outward_tells_which_way_normals_point():
    assert shells_of(cube()).outward.tolist() == [1]
    assert shells_of(flipped_cube()).outward.tolist() == [-1]
    far = cube(centre=(1000.0, -2000.0, 500.0))
    assert shells_of(joined(far, flipped(cube()))).outward.tolist() == [1, -1]


def test_open_shell():
    shells = shells_of(open_box())
    assert shells.closed.tolist() == [False]
    assert shells.wound.tolist() == [True]


def test_one_face_turned_over_is_closed_but_not_wound():
    vertices, faces = cube()
    faces[4] = faces[4, ::-1]
    shells = shells_of((vertices, faces))
    assert shells.closed.tolist() == [True]
    assert shells.wound.tolist() == [False]


def test_shells_are_numbered_by_their_first_face():
    vertices, faces = joined(cube(), cube(centre=(50, 0, 0)), cube(centre=(100, 0, 0)))
    faces = faces.reshape(3, 12, 3)[[2, 0, 1]].reshape(-1, 3)
    mixed = np.random.default_rng(3).permutation(36)
    shells = shells_of((vertices, faces[mixed]))
    _, first = np.unique(shells.of_face, return_index=True)
    assert (np.diff(first) > 0).all()
    assert_array_equal(shells.of_face[0], 0)
    assert np.bincount(shells.of_face).tolist() == [12, 12, 12]


# --- touching solids ------------------------------------------------------------------


def three_steps():
    """Blocks round a common edge, each with a face on the next."""
    quarters = [((0, 0), (10, 10)), ((-10, 0), (0, 10)), ((-10, -10), (0, 0))]
    return joined(*(box((*low, 0), (*high, 10)) for low, high in quarters))


def other_diagonal():
    """Two boxes that share a square, but not the triangles that it is cut into."""
    vertices, faces = touching_boxes()
    faces[12], faces[13] = [8, 9, 10], [9, 11, 10]
    return vertices, faces


TOUCHING = {
    "a face": (touching_boxes(), [12, 12]),
    "a face, cut along the other diagonal": (other_diagonal(), [12, 12]),
    "an edge": (joined(box(), box((10, 10, 0), (20, 20, 10))), [12, 12]),
    "a vertex": (joined(box(), box((10, 10, 10), (20, 20, 20))), [12, 12]),
    "three round one edge": (three_steps(), [12, 12, 12]),
    "four round one edge": (joined(three_steps(), box((0, -10, 0), (10, 0, 10))), [12] * 4),
    "a face of a shell with a canal": (
        joined(nested_cubes(30, 10), cube(30, (30, 0, 0))),
        [12, 12, 12],
    ),
}  # fmt: skip


@pytest.mark.parametrize("over", [False, True], ids=["outwards", "inwards"])
@pytest.mark.parametrize("seed", [None, 1, 2, 3, 4, 5])
@pytest.mark.parametrize("name", TOUCHING)
def test_touching_solids_come_apart(name, seed, over):
    mesh, sizes = TOUCHING[name]
    mesh = mesh if seed is None else turned(mesh, seed)
    mesh = flipped(mesh) if over else mesh
    surface = as_surface(mesh)
    assert surface.merged > 0  # else they would not touch
    shells = find_shells(surface)
    assert np.bincount(shells.of_face).tolist() == sizes
    assert shells.closed.all()
    assert shells.wound.all()
    first_of_each = np.cumsum([0, *sizes[:-1]])
    assert_array_equal(shells.of_face, np.repeat(np.arange(len(sizes)), sizes))
    hollow = first_of_each == 12 if "canal" in name else np.zeros(len(sizes), dtype=bool)
    assert_array_equal(shells.nesting, hollow.astype(int))


def test_touching_with_contrary_normals_stays_joined_and_open():
    vertices, faces = touching_boxes()
    faces[12:] = faces[12:, ::-1]
    shells = shells_of((vertices, faces))
    assert shells.closed.tolist() == [False]


def test_same_order_of_faces_does_not_matter_where_solids_touch():
    vertices, faces = turned(TOUCHING["four round one edge"][0], seed=7)
    order = np.random.default_rng(5).permutation(len(faces))
    shells = shells_of((vertices, faces[order]))
    for k in range(4):
        assert len(set(shells.of_face[np.isin(order, np.arange(12 * k, 12 * k + 12))])) == 1
    assert_allclose(shells.volume, 1000.0)


# --- poor triangles -------------------------------------------------------------------


@pytest.mark.parametrize("again", [1, 3, 12])
def test_duplicate_faces_leave_one_shell_that_is_not_closed(again):
    vertices, faces = cube()
    shells = shells_of((vertices, np.vstack([faces, faces[:again]])))
    assert shells.closed.tolist() == [False]


def test_collapsed_faces_neither_open_nor_close_a_shell():
    vertices, faces = cube()
    needle, point = [0, 1, 1], [3, 3, 3]
    shells = shells_of((vertices, np.vstack([[needle], faces, [point]])))
    assert shells.closed.tolist() == [True]
    assert shells.of_face.tolist() == [0] * 14


def test_collapsed_faces_join_the_shell_that_they_touch():
    vertices, faces = joined(cube(), cube(centre=(50, 0, 0)))
    shells = shells_of((vertices, np.vstack([[[9, 9, 10]], faces])))
    assert shells.of_face.tolist() == [0] + [1] * 12 + [0] * 12
    assert shells.closed.all()


def test_nothing_but_collapsed_faces():
    shells = shells_of((cube()[0], np.array([[0, 0, 1], [1, 1, 1], [5, 5, 5]])))
    assert not shells.closed.any()
    assert not shells.volume.any()


def test_one_triangle():
    shells = shells_of((tetra()[0], np.array([[0, 1, 2]])))
    assert shells.closed.tolist() == [False]


# --- nesting --------------------------------------------------------------------------


@pytest.mark.parametrize("inner_outward", [False, True])
@pytest.mark.parametrize("over", [False, True])
def test_a_hollow_is_one_whatever_its_normals_say(inner_outward, over):
    mesh = nested_cubes(inner_outward=inner_outward)
    shells = shells_of(flipped(mesh) if over else mesh)
    assert shells.nesting.tolist() == [0, 1]
    assert shells.body.tolist() == [0, 0]


def test_nesting_three_deep_and_a_body_beside():
    beside = cube(10, (200, 0, 0))
    mesh = joined(cube(10), beside, cube(20), cube(30), cube(40))
    shells = shells_of(mesh)
    assert shells.nesting.tolist() == [3, 0, 2, 1, 0]
    assert shells.body.tolist() == [1, 0, 1, 1, 1]


def test_canal_of_a_tube():
    shells = shells_of(tube())
    assert shells.nesting.tolist() == [0, 1]


def test_open_shells_hold_nothing():
    shells = shells_of(joined(open_box(50), cube(10)))
    assert shells.nesting.tolist() == [0, 0]
    assert shells.body.tolist() == [0, 0]
    assert shells.doubted().tolist() == [False, True]  # a hollow or a body: nobody can tell


def test_open_piece_inside_counts_what_is_round_it():
    shells = shells_of(joined(cube(50), open_box(10)))
    assert shells.closed.tolist() == [True, False]
    assert shells.nesting.tolist() == [0, 1]


def test_a_body_in_a_notch_is_not_nested():
    # the ring's box holds the plug, and the plug touches the ring all round or not at all
    ring = pipe(outer=20.0, inner=10.0, length=30.0)
    for radius in (10.0, 5.0):
        shells = shells_of(joined(ring, cylinder(radius, 30.0)))
        assert shells.nesting.tolist() == [0, 0], radius


def test_a_fragment_pressed_into_a_bone_is_not_a_hollow():
    # the flare at the end makes the shaft's box hold the ball, however far that stands out
    shaft = lathe((10.0, 10.0, 40.0, 40.0), (0.0, 100.0, 100.0, 110.0))
    for depth in (1.0, 5.0, 9.0):
        for angle in (0.0, 1.0, 2.0, 4.0):
            out = 10.0 + 5.0 - depth
            ball = sphere(5.0, 2, (out * np.cos(angle), out * np.sin(angle), 50.0))
            assert shells_of(joined(shaft, ball)).nesting.tolist() == [0, 0], (depth, angle)


def test_a_canal_that_comes_flush_with_the_wall_is_still_a_hollow():
    for y, z in ((0.0, 0.0), (3.3, -7.1), (-9.9, 4.2), (8.0, 8.0)):
        flush = cube(10.0, (10.0, y, z))
        surface = as_surface(joined(cube(30.0), flush))
        assert find_shells(surface).nesting.tolist() == [0, 1], (y, z)


def test_two_copies_are_not_nested():
    apart = np.nextafter(10.0, 11.0)  # vertices one step away do not merge
    for size in (10.0, apart):
        surface = as_surface(joined(cube(10.0), cube(size)))
        assert not find_shells(surface).nesting.any()


def test_hollow_of_a_shell_that_is_not_wound():
    vertices, faces = nested_cubes(30.0, 10.0)
    faces[[0, 3, 5, 8]] = faces[[0, 3, 5, 8], ::-1]
    shells = shells_of((vertices, faces))
    assert shells.wound.tolist() == [False, True]
    assert shells.nesting.tolist() == [0, 1]


def test_many_bodies():
    centres = 30.0 * np.stack(np.meshgrid(*[np.arange(7)] * 3), axis=-1).reshape(-1, 3)
    around = cube(1000.0, (90.0, 90.0, 90.0))
    shells = shells_of(joined(*(cube(10, c) for c in centres), around))
    assert shells.nesting.tolist() == [1] * 343 + [0]
    assert not shells.body.any()


# --- against a general library --------------------------------------------------------


@pytest.mark.parametrize("bone", ["r_femur", "r_fibula", "r_talus", "sacrum", "scaphoid", "2mc"])
def test_closed_bones_against_trimesh(bone):
    surface = read_surface(real_bone(f"{bone}.stl"), "m")
    mesh = trimesh.load_mesh(real_bone(f"{bone}.stl"))
    shells = find_shells(surface)
    assert mesh.is_watertight
    assert shells.closed.tolist() == [True]
    assert shells.wound.tolist() == [mesh.is_winding_consistent]
    assert_allclose(shells.volume * shells.outward, [mesh.volume * 1e9], rtol=1e-6)


@pytest.mark.parametrize("bone", ["r_tibia", "humerus", "radius", "ulna", "clavicle", "r_pelvis"])
def test_open_bones_against_trimesh(bone):
    mesh = trimesh.load_mesh(real_bone(f"{bone}.stl"))
    shells = find_shells(read_surface(real_bone(f"{bone}.stl"), "m"))
    assert not mesh.is_watertight
    assert not shells.closed.all()
