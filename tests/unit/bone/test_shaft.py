"""The long axis of a bone from its shape."""

import numpy as np
import pytest
from specimens import cube, cylinder, joined, lathe, sphere, tube

from trajplan.bone import Surface, as_surface, shaft_axis
from trajplan.errors import MeshError

Z = np.array([0.0, 0.0, 1.0])
FLARED = lathe([24.0, 16.0, 11.0, 10.0, 10.0, 15.0, 28.0], [0, 20, 40, 60, 150, 180, 200])


def off(axis, direction):
    """Degrees between an axis and a direction."""
    unit = np.asarray(direction) / np.linalg.norm(direction)
    return np.degrees(np.arccos(min(1.0, abs(float(axis.direction @ unit)))))


def away(axis, point):
    """Distance of a point from an axis, mm."""
    return float(np.linalg.norm(np.cross(np.asarray(point) - axis.point, axis.direction)))


def moved(mesh, seed):
    """A mesh turned and shifted; also the turn and the shift."""
    rng = np.random.default_rng(seed)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn[:, 0] *= np.linalg.det(turn)
    shift = rng.uniform(-500, 500, 3)
    return (mesh[0] @ turn.T + shift, mesh[1]), turn, shift


def bent(radius=400.0, angle=0.5, thick=10.0, rings=81, sides=48):
    """A tube along an arc in the xz plane about the origin, its chord along z."""
    s = np.linspace(-angle / 2, angle / 2, rings)[:, None]
    a = np.arange(sides)[None] * 2 * np.pi / sides
    reach = radius + thick * np.cos(a)
    x, z = reach * np.cos(s), reach * np.sin(s)
    y = np.broadcast_to(thick * np.sin(a), x.shape)
    i, j = np.meshgrid(np.arange(rings - 1), np.arange(sides), indexing="ij")
    p, q = (i * sides + j).ravel(), (i * sides + (j + 1) % sides).ravel()
    faces = np.concatenate([np.stack([p, q, p + sides], 1), np.stack([q, q + sides, p + sides], 1)])
    return np.stack([x, y, z], axis=-1).reshape(-1, 3), faces


def test_a_cylinder():
    axis = shaft_axis(as_surface(cylinder(10.0, 100.0, sides=256)))
    assert axis.found
    assert axis.caution == ""
    assert axis.direction == pytest.approx(Z, abs=1e-9)
    assert axis.point == pytest.approx([0, 0, 50], abs=1e-6)
    assert (axis.low, axis.high, axis.length) == pytest.approx((-50, 50, 100))
    assert axis.diameter == pytest.approx(20.0, rel=1e-3)
    assert axis.straightness == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_flared_ends_do_not_pull(seed):
    mesh, turn, shift = moved(FLARED, seed)
    axis = shaft_axis(as_surface(mesh))
    assert off(axis, turn @ Z) < 0.01
    assert away(axis, shift) < 0.01
    assert axis.diameter == pytest.approx(20.0, rel=0.01)
    assert axis.length == pytest.approx(200.0)
    assert axis.direction[np.abs(axis.direction).argmax()] > 0.0


def one_sided():
    """A shaft with a big knob to one side of its upper end, as of a hip."""
    return joined(cylinder(10.0, 300.0, sides=96), sphere(40.0, centre=(60.0, 0.0, 280.0)))


def test_a_knob_on_one_side_does_not_pull():
    surface = as_surface(one_sided())
    centred = surface.vertices - surface.vertices.mean(axis=0)
    plain = np.linalg.svd(centred, full_matrices=False)[2][0]
    axis = shaft_axis(surface)
    assert np.degrees(np.arccos(abs(plain @ Z))) > 8.0  # what the shape alone would say
    assert off(axis, Z) < 0.01
    assert away(axis, [0, 0, 0]) < 0.01
    assert axis.diameter == pytest.approx(20.0, rel=2e-3)  # sliced squarely, not on the slant


def test_a_few_odd_slices_do_not_pull():
    surface = as_surface(joined(cylinder(10.0, 300.0, sides=96), sphere(9.0, centre=(15, 0, 170))))
    axis = shaft_axis(surface)
    assert off(axis, Z) < 0.05
    assert axis.diameter == pytest.approx(20.0, rel=0.01)


def test_open_ends_and_a_hole_are_borne():
    vertices, faces = FLARED
    middle = vertices[faces].mean(axis=1)
    ends = (middle[:, 2] < 1.0) | (middle[:, 2] > 199.0)
    hole = (middle[:, 0] > 5.0) & (np.abs(middle[:, 2] - 50.0) < 5.0)
    axis = shaft_axis(as_surface((vertices, faces[~(ends | hole)])))
    assert off(axis, Z) < 0.1
    assert axis.found


def test_a_canal_changes_neither_axis_nor_diameter():
    axis = shaft_axis(as_surface(tube(14.0, 9.0, 120.0, sides=256)))
    assert off(axis, Z) < 1e-6
    assert axis.diameter == pytest.approx(28.0, rel=1e-3)


def test_a_bent_tube_has_its_chord_for_an_axis():
    """Of an arc of radius R the height over the chord at z is sqrt(R² - z²) (closed form)."""
    axis = shaft_axis(as_surface(bent()))
    assert off(axis, Z) < 0.05
    assert axis.found
    length = 2 * 410.0 * np.sin(0.25)
    assert axis.length == pytest.approx(length, rel=1e-3)
    z = np.linspace(-0.3, 0.3, 1001) * length
    height = np.sqrt(400.0**2 - z**2)
    stray = np.sqrt(np.mean((height - np.median(height)) ** 2))
    assert axis.straightness == pytest.approx(stray, rel=0.1)
    assert axis.straightness > 1.0


def test_a_hook_is_said_to_be_bent():
    axis = shaft_axis(as_surface(bent(radius=100.0, angle=2.8)))
    assert not axis.found
    assert "bent" in axis.caution


@pytest.mark.parametrize("mesh", [sphere(20.0), cube(30.0), cylinder(15.0, 60.0)])
def test_what_has_no_shaft_says_so(mesh):
    axis = shaft_axis(as_surface(mesh))
    assert not axis.found
    assert "has no shaft" in axis.caution
    assert np.linalg.norm(axis.direction) == pytest.approx(1.0)


def test_a_plate_says_so():
    vertices, faces = cylinder(10.0, 200.0)
    axis = shaft_axis(as_surface((vertices * [1.0, 4.0, 1.0], faces)))
    assert "flat, 4.0 times" in axis.caution


def test_a_sheet_without_thickness_says_so():
    vertices = np.array([[0, 0, 0], [0, 20, 0], [0, 0, 200], [0, 20, 200.0]])
    axis = shaft_axis(as_surface((vertices, np.array([[0, 1, 2], [1, 3, 2]]))))
    assert not axis.found


def test_diameters_along_the_bone():
    axis = shaft_axis(as_surface(FLARED))
    z = axis.heights + axis.point[2]
    want = 2 * np.interp(z, [0, 20, 40, 60, 150, 180, 200], [24, 16, 11, 10, 10, 15, 28])
    assert axis.diameters == pytest.approx(want, rel=0.01)
    assert (np.diff(axis.heights) > 0.0).all()


def test_fineness_of_the_mesh_does_not_matter():
    """One side of the shaft in many small triangles, the other in few large ones."""
    vertices, faces = cylinder(10.0, 100.0, sides=32)
    wall = np.flatnonzero(vertices[faces].mean(axis=1)[:, 0] > 3.0)
    middle = vertices[faces[wall]].mean(axis=1)
    number = len(vertices) + np.arange(len(wall))
    a, b, c = faces[wall].T
    split = np.concatenate(
        [np.stack(t, 1) for t in ((a, b, number), (b, c, number), (c, a, number))]
    )
    finer = np.concatenate([np.delete(faces, wall, axis=0), split])
    axis = shaft_axis(as_surface((np.concatenate([vertices, middle]), finer)))
    assert off(axis, Z) < 1e-6
    assert away(axis, [0, 0, 0]) < 1e-6


def test_vertices_of_no_face_do_not_count():
    vertices, faces = cylinder(10.0, 100.0)
    stray = Surface(np.vstack([vertices, [[0, 0, 900.0]]]), faces, {}, "x", "", 0)
    assert shaft_axis(stray).length == pytest.approx(100.0)


def test_no_surface_is_an_error():
    line = np.array([[0, 0, 0], [5, 0, 0], [9, 0, 0.0]])
    with pytest.raises(MeshError, match="no faces"):
        shaft_axis(Surface(line, np.empty((0, 3), np.int64), {}, "x", "", 0))
    with pytest.raises(MeshError, match="no area"):
        shaft_axis(Surface(line, np.array([[0, 1, 2]]), {}, "x", "", 0))


def test_two_pieces_far_apart_have_no_axis():
    axis = shaft_axis(as_surface(joined(cube(5.0), cube(5.0, centre=(0, 0, 500.0)))))
    assert not axis.found
    assert "nothing over most of its length" in axis.caution
    assert np.isnan(axis.diameter)
    assert off(axis, Z) < 1.0
