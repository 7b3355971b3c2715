"""Places on a tube, where every distance and every time of the clock has a closed form."""

import numpy as np
import pytest
import trimesh
from builders import shaft, zone_of
from scipy.spatial.transform import Rotation

from trajplan.bone import as_surface, make_bone, shaft_axis
from trajplan.trajectory import bearings_of, places_of

OUTER = 14.0
#: Regular polygon of 64 sides: its flats lie this far inside the circle.
SAG = OUTER * (1.0 - np.cos(np.pi / 64.0))


def on_tube(height, degrees):
    """Points on a tube about z; degrees from +x towards +y."""
    turn = np.radians(np.atleast_1d(degrees))
    height = np.broadcast_to(height, turn.shape)
    return np.stack([OUTER * np.cos(turn), OUTER * np.sin(turn), height], axis=1)


@pytest.fixture(scope="module")
def tube():
    bone = shaft(OUTER)
    return bone, shaft_axis(bone.surface), zone_of(bone, (0, 0, 50), (0.6, 0, 0.8))


def bearings(tube, **given):
    return bearings_of(tube[1], [tube[2]], **given)


def test_along_the_bone(tube):
    given = bearings(tube, frame="LPS")
    found = places_of(given, on_tube([10.0, 50.0, 95.0], [0.0, 90.0, 180.0]))
    assert given.ends == ("superior", "inferior")
    assert found.ends[:, 0] == pytest.approx([90.0, 50.0, 5.0], abs=1e-6)
    assert found.ends[:, 1] == pytest.approx([10.0, 50.0, 95.0], abs=1e-6)
    # the plane 0.6 x + 0.8 (z - 50) = 0 meets the tube from z = 50 - 10.5 to 50 + 10.5
    assert found.tips[0] == pytest.approx([10.0 - 60.5, 39.5 - 10.0], abs=2 * SAG)
    assert found.tips[1] == pytest.approx([-10.5, -10.5], abs=2 * SAG)
    assert found.tips[2] == pytest.approx([34.5, -55.5], abs=2 * SAG)


@pytest.mark.parametrize(
    ("frame", "twelve", "three"),
    [
        # seen from the head, front up, the patient's right hand is at the right
        ("LPS", (0, -1), (-1, 0)),
        ("RAS", (0, 1), (1, 0)),
        # z runs down: the head is at -z
        ("LAI", (0, 1), (-1, 0)),
        # the shaft runs from back to front (a bone of the foot): seen from the front, head up,
        # the patient's left is at the right
        ("LSA", (0, 1), (1, 0)),
    ],
)
def test_the_clock(tube, frame, twelve, three):
    given = bearings(tube, frame=frame)
    at = {12: twelve, 3: three, 6: -np.array(twelve), 9: -np.array(three)}
    points = np.array([[*(OUTER * np.array(at[hour])), 40.0] for hour in (12, 3, 6, 9)])
    assert places_of(given, points).clock % 360.0 == pytest.approx([0, 90, 180, 270], abs=1e-4)


def test_the_clock_another_way(tube):
    """A clock laid on the end by a rotation, against the angles of points all round."""
    given = bearings(tube, frame="RPS", proximal=np.array([0.1, 0.0, -1.0]))
    assert given.ends == ("proximal", "distal")
    # seen from below, front (-y) up: a viewer's right, up and towards-the-viewer as rows
    seen = Rotation.from_matrix(np.array([[1.0, 0, 0], [0, -1.0, 0], [0, 0, -1.0]]))
    rng = np.random.default_rng(4)
    points = on_tube(rng.uniform(5, 95, 200), rng.uniform(0, 360, 200))
    right, up, _ = seen.apply(points).T
    expected = np.degrees(np.angle(up + 1j * right)) % 360.0
    away = (places_of(given, points).clock - expected + 180.0) % 360.0 - 180.0
    assert np.abs(away).max() < 1e-3


def test_a_clock_without_letters_looks_to_the_surgeon_and_else_to_the_file(tube):
    given = bearings(tube, toward=np.array([-1.0, 0.0, 0.2]) / np.hypot(1.0, 0.2))
    assert given.twelve_name == "the surgeon's side"
    assert given.twelve == pytest.approx([-1, 0, 0], abs=1e-5)
    assert given.ends == ("+z", "\N{MINUS SIGN}z")
    assert given.facing(0.0) == ""
    # an approach along the shaft says nothing about a side of it
    along = bearings(tube, toward=np.array([0.0, 0.0, 1.0]))
    assert along.twelve_name.endswith("of the file")
    assert abs(along.twelve @ along.seen) < 1e-9


@pytest.mark.parametrize(
    ("side", "clock", "word"),
    [
        ("left", 0, "anterior"),
        ("left", 45, "anteromedial"),
        ("left", 90, "medial"),
        ("left", 270, "lateral"),
        ("right", 90, "lateral"),
        ("right", 135, "posterolateral"),
        (None, 90, "right"),
        (None, 225, "left and posterior"),
    ],
)
def test_sides_in_words(tube, side, clock, word):
    """Lateral is away from the middle of the body: left on a left limb (common practice)."""
    assert bearings(tube, frame="LPS", side=side).facing(clock) == word


def test_landmarks_and_entries(tube):
    marks = [("knob", np.array([OUTER, 0.0, 0.0])), ("rim", np.array([0.0, 0.0, 100.0]))]
    given = bearings(
        tube, frame="LPS", side="left", proximal=np.array([0.0, 0.0, 1.0]), landmarks=marks
    )
    points = np.array([[OUTER, 0.0, 30.0], [OUTER, 0.0, 70.0], [-OUTER, 0.0, 70.0]])
    found = places_of(given, points)
    assert found.landmarks[:, 0] == pytest.approx([30.0, 70.0, np.hypot(70.0, 28.0)])
    assert found.landmarks[2, 1] == pytest.approx(np.hypot(30.0, OUTER))
    names = [name for name, _ in given.sides]
    assert dict(zip(names, found.offsets[2, 0], strict=True)) == pytest.approx(
        {"lateral": -28, "medial": 28, "anterior": 0, "posterior": 0, "proximal": 70, "distal": -70}
    )
    assert found.apart == pytest.approx(
        np.array([[0, 40, np.hypot(40, 28)], [40, 0, 28], [np.hypot(40, 28), 28, 0]])
    )
    assert found.steps[1, 0] == pytest.approx([0, 0, 0, 0, 40, -40])


def test_the_fracture_line_is_found_by_brute_force_too(tube):
    points = on_tube(np.linspace(5, 95, 20), np.linspace(0, 700, 20))
    found = places_of(bearings(tube), points).fracture
    # the ellipse in which the plane cuts the tube, in small steps; the polygon sags by SAG
    turn = np.linspace(0.0, 2.0 * np.pi, 20_000)
    line = OUTER * np.stack([np.cos(turn), np.sin(turn), -0.75 * np.cos(turn)], axis=1)
    line[:, 2] += 50.0
    expected = [np.linalg.norm(line - point, axis=1).min() for point in points]
    assert found == pytest.approx(expected, abs=2 * SAG)


def test_moving_bone_and_letters_together_moves_nothing(tube):
    """A turn by a quarter, the letters with it: the same words for the same place."""
    bone, _, _ = tube
    turn = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])  # x to y, y to z, z to x
    moved = make_bone(as_surface((bone.surface.vertices @ turn.T, bone.surface.faces)))
    zone = zone_of(moved, turn @ np.array([0, 0, 50.0]), turn @ np.array([0.6, 0, 0.8]))
    points = on_tube([20.0, 60.0], [30.0, 200.0])
    marks = np.array([[3.0, 4.0, 5.0]])
    plain = bearings(tube, frame="LPS", side="right", landmarks=[("m", marks[0])])
    turned = bearings_of(
        shaft_axis(moved.surface), [zone], frame="SLP", side="right",
        landmarks=[("m", turn @ marks[0])],
    )  # fmt: skip
    one, other = places_of(plain, points), places_of(turned, points @ turn.T)
    assert plain.ends == turned.ends
    for name in ("ends", "tips", "clock", "fracture", "landmarks", "offsets"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), abs=1e-3), name
    assert plain.facing(one.clock[0]) == turned.facing(other.clock[0])


def test_a_bone_without_a_shaft_has_no_clock():
    ball = make_bone(as_surface(ball_mesh()))
    zone = zone_of(ball, (0, 0, 0), (0, 0, 1))
    given = bearings_of(shaft_axis(ball.surface), [zone], frame="LPS")
    found = places_of(given, np.array([[0.0, 0.0, 20.0], [np.nan, np.nan, np.nan]]))
    assert not given.found
    assert np.isnan(found.ends).all()
    assert np.isnan(found.clock).all()
    assert found.fracture[0] == pytest.approx(np.hypot(20.0, 20.0), rel=0.01)
    assert np.isnan(found.fracture[1])


def ball_mesh():
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=20.0)
    return np.asarray(mesh.vertices), np.asarray(mesh.faces)
