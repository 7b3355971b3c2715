"""Which holes of a plate are filled, by the distances of its holes to the fracture."""

from pathlib import Path

import numpy as np
import pytest

from trajplan.files import read_case
from trajplan.planner import set_up
from trajplan.planner._plate_enough import _spread
from trajplan.planner._plating import plating_of
from trajplan.plate import head_balls

AWAY = np.array([8.0, 20.0, 32.0, 44.0, 56.0, 68.0])


def kept(sound, first=(), most=4):
    stay = _spread(AWAY, np.isin(np.arange(6), sound), np.isin(np.arange(6), first), most)
    return sorted(stay)


@pytest.mark.parametrize(
    ("sound", "first", "stay"),
    [
        # near the fracture, at the end, and spread between them (Gautier and Sommer 2003, Injury
        # 34 Suppl 2:B63, from memory: screws near the fracture and at the plate's ends)
        ([0, 1, 2, 3, 4, 5], [], [0, 1, 2, 5]),
        ([0, 1, 2, 3, 4, 5], [0], [0, 1, 2, 5]),  # the screw that pushes stays
        ([1, 2, 3, 4, 5], [], [1, 2, 3, 5]),  # one that nothing vouches for is left out
        ([1, 5], [], [0, 1, 3, 5]),  # and taken where there are too few others
        ([], [2], [0, 1, 2, 5]),
    ],
)
def test_screws_are_spread(sound, first, stay):
    assert kept(sound, first) == stay


def test_never_more_than_wanted():
    assert kept([0, 1, 2, 3, 4, 5], most=2) == [0, 5]
    assert kept([0, 1, 2, 3, 4, 5], most=9) == [0, 1, 2, 3, 4, 5]


def test_screws_are_judged_where_they_are_drilled():
    case = Path(__file__).parents[3] / "meshes" / "plate_compress.toml"
    plating = plating_of(set_up(read_case(case)), through=False)
    assert plating is not None
    ((places,),) = plating.places
    m, h, c = places.shape
    assert c == len(places.pushes)
    row, hole = (a.ravel() for a in np.indices((m, h, c))[:2])
    # a neutral screw 0.1 mm and one that pushes 1.0 mm off the middle, away from the fracture
    off = np.where(np.tile(places.pushes, m * h), 1.0, 0.1)
    away = -np.sign(places.along[row, hole]) * off
    ball = head_balls(places.laid, row, places.screws.dims, hole, away)
    axes = places.screws.corridors.axes
    across = np.cross(ball - axes.origin, axes.direction)
    assert np.abs(across).max() < 1e-6
    np.testing.assert_allclose(places.offset, away)
    assert places.told[places.good].all()  # the surface is closed
