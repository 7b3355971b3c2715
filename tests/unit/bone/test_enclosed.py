"""Canal or air: places outside bone that bone walls in all round."""

import numpy as np
import pytest
from builders import bone_of, notched
from specimens import box, cube, halves, joined, lathe, pipe

from trajplan.bone import enclosed
from trajplan.bone._enclosed import walled_share


def ask(mesh, *points):
    bone = mesh if hasattr(mesh, "caster") else bone_of(mesh)
    places = np.array(points, dtype=float).reshape(-1, 3)
    return enclosed(bone.caster, places, slit=np.zeros(len(places), dtype=bool)).tolist()


def test_the_canal_of_a_shaft_open_at_both_ends():
    for z in (50, 80, 91):  # one radius from the open end
        assert ask(pipe(), [0, 0, z], [7, 0, z], [8.9, 0, z]) == [True] * 3
    assert ask(pipe(), [0, 0, 99.5], [0, 0, 130], [30, 0, 50]) == [False] * 3


def test_the_canal_where_a_fracture_opens_it():
    """Two halves of a shaft, cut at 45 degrees, 1 mm apart; in the slit it has to be told."""
    bone = bone_of(halves(1.0))
    beside = [[x, 0, 50.5 + x + away] for x in (-6, 0, 6) for away in (-3, 3)]
    within = [[x, 0, 50.5 + x] for x in (-6, 0, 6)]
    assert ask(bone, *beside) == [True] * 6
    assert enclosed(bone.caster, np.array(within), slit=np.ones(3, dtype=bool)).all()


@pytest.mark.parametrize("depth", [29.9, 29, 25, 15, 5])
def test_a_notch_right_through_is_air_however_deep(depth):
    """20 wide, 30 deep, 50 long: near its roof five directions in six meet bone."""
    places = [[0, depth, 25], [0, depth, 10], [5, depth, 25], [9, depth, 40]]
    assert ask(notched(), *places) == [False] * 4


def test_a_share_of_directions_alone_would_not_tell():
    assert walled_share(notched().caster, np.array([[0.0, 28, 25]]))[0] > 0.8


def test_a_groove_all_round_is_air():
    groove = lathe((10, 10, 6, 6, 10, 10), (0, 40, 40, 44, 44, 80))
    assert ask(groove, *([x, 0, 42] for x in (6.2, 7, 8, 9.5))) == [False] * 4


def test_the_space_between_two_plates_is_air():
    plates = joined(box((-40, -40, -8), (40, 40, 0)), box((-40, -40, -30), (40, 40, -18)))
    assert ask(plates, [0, 0, -13], [20, 0, -10]) == [False] * 2


def test_a_hollow_is_walled_in_and_nothing_is_nothing():
    assert ask(cube(20), [0, 0, 0]) == [True]
    assert ask(cube(20)) == []
