"""Loads on the near fragment: sides, splitting, shafts."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError, ShapeError
from trajplan.mechanics import clamp_forces, clamp_load, shaft_load, squeeze_and_shear

Z = (0.0, 0.0, 1.0)


def tilted(degrees):
    return np.array([np.sin(np.radians(degrees)), 0.0, np.cos(np.radians(degrees))])


def test_split_by_hand():
    # cos 20° and sin 20°
    squeeze, shear = squeeze_and_shear([1000.0], [tilted(20)], Z)
    assert squeeze == pytest.approx([939.7], abs=0.05)
    assert shear[0] == pytest.approx([342.0, 0, 0], abs=0.05)


def test_screw_from_the_other_side_pulls_the_same_fragment():
    assert clamp_forces([7.0], [-tilted(20)], Z) == pytest.approx(
        clamp_forces([7.0], [tilted(20)], Z)
    )


def test_load_moves_along_its_axis():
    near = clamp_load([500.0], [tilted(30)], [[3.0, 1.0, 0.0]], Z)
    far = clamp_load([500.0], [tilted(30)], [np.array([3.0, 1.0, 0.0]) + 40 * tilted(30)], Z)
    assert near.moment_about(np.zeros(3)) == pytest.approx(far.moment_about(np.zeros(3)))


def test_two_loads_at_once():
    one = clamp_load([100.0], [Z], [[5.0, 0, 0]], Z)
    two = one.plus(clamp_load([100.0], [Z], [[-5.0, 0, 0]], Z))
    assert two.force == pytest.approx([0, 0, 200])
    assert two.moment_about(np.zeros(3)) == pytest.approx(np.zeros(3))


def test_unknown_force_stays_unknown():
    squeeze, _ = squeeze_and_shear([np.nan, 10.0], [Z, Z], Z)
    assert np.isnan(squeeze[0])
    assert squeeze[1] == 10.0


def test_axial_load_presses_whichever_way_the_axis_runs():
    for axis in ((0, 0, 1), (0, 0, -1)):
        assert shaft_load(axis, Z, [0, 0, 0], axial=10.0).force == pytest.approx([0, 0, 10])


def test_bending_turns_across_the_shaft():
    load = shaft_load(Z, Z, [0, 0, 0], bending=10.0, bending_axis=[1, 0, 5], torsion=3.0)
    assert load.moment == pytest.approx([10, 0, 3])


@pytest.mark.parametrize(
    "bad",
    [
        {"bending": 1.0},
        {"bending": 1.0, "bending_axis": [0, 0, 2]},
        {"axial": np.nan},
        {"torsion": np.inf},
    ],
)
def test_impossible_shaft_loads(bad):
    with pytest.raises(DegenerateError):
        shaft_load(Z, Z, [0, 0, 0], **bad)


def test_bad_screws():
    with pytest.raises(DegenerateError, match="negative"):
        clamp_forces([-1.0], [Z], Z)
    with pytest.raises(DegenerateError, match="no length"):
        clamp_forces([1.0], [[0, 0, 0]], Z)
    with pytest.raises(ShapeError):
        clamp_forces([1.0, 2.0], [Z], Z)
    with pytest.raises(ShapeError):
        clamp_load([1.0], [Z], [[0, 0, 0], [1, 0, 0]], Z)
    with pytest.raises(DegenerateError, match="no screw"):
        clamp_load([], np.empty((0, 3)), np.empty((0, 3)), Z)
