"""Laws of the errors of hands."""

from itertools import pairwise

import numpy as np
import pytest
from builders import in_slab, level, obstacle, slab
from hypothesis import given
from hypothesis import strategies as st

from trajplan.checks import Limits, Surroundings
from trajplan.tolerance import WAYS, Hands, Scatter, place, scatter_of_way
from trajplan.trajectory import Settings


def between_two_walls(depth=8.0):
    """A screw between upright walls: what hands may not do lies outside a strip about it."""
    walls = tuple(
        obstacle(
            (
                np.array([[x, -60, -18], [x, 60, -18], [x, 60, -8], [x, -60, -8.0]]),
                np.array([[0, 1, 2], [0, 2, 3]]),
            ),
            role="avoid",
            clearance=2.0,
        )
        for x in (-7.0, 6.0)
    )
    bone = slab(20.0)
    around = Surroundings(bone=bone, zones=(level(bone, depth),), obstacles=walls, approach=None)
    return Hands(in_slab(20.0, depth), around, Limits(), Settings(), ())


def lost(scatter):
    chances = place(between_two_walls(), ("screw 1",), scatter)
    return chances.of("screw 1", "harm")[0] + chances.of("screw 1", "less")[0]


@pytest.mark.parametrize("error", ["entry", "direction"])
def test_more_error_never_lowers_the_chance(error):
    """By the same draws, in a region that lies all about the planned line."""
    still = {"entry": 0.0, "direction": 0.0, "slant": 0.0, "plunge": 0.0}
    sizes = (0.0, 0.5, 1.0, 2.0, 4.0, 8.0)
    found = [lost(Scatter(draws=400, **(still | {error: size}))) for size in sizes]
    assert all(before <= after for before, after in pairwise(found))
    assert found[0] == 0.0 < found[-1]


def test_each_way_of_drilling_loses_no_more_than_the_one_before():
    found = [lost(scatter_of_way(way, Scatter(draws=400))) for way in WAYS]
    assert found == sorted(found, reverse=True)
    assert found[0] > found[-1]


@given(slant=st.lists(st.floats(0.0, 89.0), min_size=2, max_size=8))
def test_a_steeper_slant_never_steadies_the_hand(slant):
    steep = np.sort(np.array(slant))
    spread = Scatter().at(steep)
    assert (np.diff(spread) >= 0.0).all()
    assert (spread >= Scatter().direction).all()


def test_harm_less_and_what_cannot_be_told_are_shares_of_one_whole():
    chances = place(between_two_walls(), ("screw 1",), Scatter(draws=500, entry=3.0))
    assert chances.of("screw 1", "harm")[0] + chances.of("screw 1", "less")[0] <= 1.0
    for rule in chances.rules:
        chance, low, high = chances.of("screw 1", rule)
        assert np.isnan(chance) or low - 1e-12 <= chance <= high + 1e-12
