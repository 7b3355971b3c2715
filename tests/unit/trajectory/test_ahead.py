"""A joint that a screw runs towards, and one that it passes beside."""

import numpy as np
import pytest
from specimens import box

from trajplan.bone import SurfaceDistance, as_surface
from trajplan.trajectory import Axes, Joint
from trajplan.trajectory._ahead import reach_ahead

#: A plate 4 mm thick across the z axis, 60 mm below the entry.
PLATE = as_surface(box((-20, -20, -64), (20, 20, -60)))
RADIUS, CLEARANCE, SPARE = 3.0, 5.0, 2.0


def reach(origin, direction, *, start=10.0, end=80.0, rows=True, joints=(PLATE,)):
    axes = Axes.along(np.atleast_2d(origin), np.atleast_2d(direction))
    n = len(axes)
    named = [Joint(SurfaceDistance.of(joint), CLEARANCE) for joint in joints]
    full = [np.full(n, value) for value in (RADIUS, start, end)]
    return reach_ahead(axes, np.full(n, rows), *full, named, SPARE)


def test_square_on_a_flat_joint():
    """60 mm less the round tip's radius, 5 of clearance and 2 to spare."""
    assert reach([0, 0, 0], [0, 0, -1]) == pytest.approx([60.0 - 3.0 - 5.0 - 2.0], abs=0.2)


def test_aslant_on_a_flat_joint():
    """At 30 degrees the depth along the axis is that of the height over its cosine."""
    slant = np.radians(30.0)
    (found,) = reach([-20, 0, 0], [np.sin(slant), 0, -np.cos(slant)])
    assert found == pytest.approx((60.0 - 10.0) / np.cos(slant), abs=0.2)


def test_a_joint_beside_the_line_is_none_ahead():
    """The line runs 4 mm over the plate's face, nearer than the clearance, and never into it."""
    assert np.isnan(reach([-50, 0, -56], [1, 0, 0], start=0.0, end=100.0)).all()


def test_a_joint_behind_or_past_the_bone_is_none_ahead():
    assert np.isnan(reach([0, 0, 0], [0, 0, 1])).all()
    assert np.isnan(reach([0, 0, 0], [0, 0, -1], end=40.0)).all()
    assert np.isnan(reach([0, 0, 0], [0, 0, -1], rows=False)).all()
    assert np.isnan(reach([0, 0, 0], [0, 0, -1], joints=())).all()


def test_of_two_joints_the_nearer_counts():
    near = as_surface(box((-20, -20, -50), (20, 20, -49)))
    both = reach([0, 0, 0], [0, 0, -1], joints=(PLATE, near))
    assert both == pytest.approx([49.0 - 10.0], abs=0.2)
