"""Which holes of a plate are filled, by the distances of its holes to the fracture."""

import numpy as np
import pytest

from trajplan.planner._plate_enough import _spread

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
