"""How far fragments are turned, found again from gap and step; the turn itself is the truth."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from specimens import real_bone, tube

from trajplan.bone import as_surface, make_bone, read_surface, split_bone
from trajplan.fracture import fracture_between
from trajplan.geometry import Plane

ALONG, ASIDE = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])


def report(whole, plane, degrees=0.0, axis=ALONG, shift=(0.0, 0.0, 0.0)):
    first, second = split_bone(whole, plane).pieces
    turned = Rotation.from_rotvec(np.radians(degrees) * axis).apply(second.vertices - plane.point)
    moved = as_surface((turned + plane.point + shift, second.faces.copy()))
    (found,) = fracture_between(make_bone([first, moved])).reports
    return found


@pytest.fixture(scope="module")
def shaft():
    return as_surface(tube(14, 9, 60, 48))


@pytest.mark.parametrize("degrees", [0.0, 4.0, 12.0])
@pytest.mark.parametrize("axis", [ALONG, ASIDE], ids=["about the shaft", "aside"])
def test_an_oblique_fracture_shows_every_turn(shaft, degrees, axis):
    plane = Plane.through([0, 0, 30], [0, np.sqrt(0.5), np.sqrt(0.5)])
    turn = report(shaft, plane, degrees, axis).turn
    assert turn.angle == pytest.approx(degrees, abs=0.3 + 0.05 * degrees)
    assert not turn.blind


def test_a_round_section_hides_a_turn_about_its_normal(shaft):
    across = Plane.through([0, 0, 30], ALONG)
    hidden = report(shaft, across, 15.0).turn
    assert (hidden.angle, hidden.blind) == (pytest.approx(0.0, abs=0.3), True)
    assert report(shaft, across, 8.0, ASIDE).turn.angle == pytest.approx(8.0, abs=0.3)


def test_a_shift_is_no_turn(shaft):
    plane = Plane.through([0, 0, 30], [0, np.sqrt(0.5), np.sqrt(0.5)])
    found = report(shaft, plane, shift=(0.0, 2.0, 0.0))
    assert found.turn.angle == pytest.approx(0.0, abs=0.3)
    assert found.step.largest == pytest.approx(2.0, abs=0.1)


def test_a_step_is_found_where_the_rims_no_longer_meet(shaft):
    """A sideways shift of 3 mm is a step of 3 mm: closed form."""
    found = report(shaft, Plane.through([0, 0, 30], ALONG), shift=(0.0, 3.0, 0.0))
    assert found.step.largest == pytest.approx(3.0, abs=0.1)
    assert found.rim_found < 0.7


def test_a_real_femur_shows_a_turn_about_its_shaft():
    """Its section is no circle: a turn of 10 degrees shows in the step."""
    femur = read_surface(real_bone("r_femur.stl"), "m")
    plane = Plane.through(femur.vertices.mean(axis=0), [-0.0974, 0.9901, 0.1012])
    turn = report(femur, plane, 10.0, plane.normal).turn
    assert turn.angle == pytest.approx(10.0, abs=2.0)
    assert not turn.blind
