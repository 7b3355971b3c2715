"""Rule: screws stand two thread diameters apart."""

import numpy as np
import pytest
from builders import changed, in_slab, words

from trajplan.checks import Limits, pairs_of, screw_spacing

FIRST, SECOND = np.array([0]), np.array([1])


def spacing(screws, limits=None):
    return screw_spacing(pairs_of(screws, FIRST, SECOND), limits or Limits())


@pytest.mark.parametrize(("apart", "word"), [(9.0, "pass"), (8.99, "caution"), (0.0, "caution")])
def test_two_diameters(apart, word):
    ruling = spacing(in_slab(x=[0, apart]))
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(apart)


def test_the_mean_of_two_diameters():
    screws = changed(in_slab(x=[0, 8]), "dims", thread=[4.5, 3.5])
    ruling = spacing(screws)
    assert (words(ruling), ruling.limit.tolist()) == (["pass"], [8.0])


def test_the_limit_may_be_set():
    assert words(spacing(in_slab(x=[0, 9]), Limits(screw_spacing=3.0))) == ["caution"]


def test_unknown_and_misses():
    assert words(spacing(changed(in_slab(x=[0, 9]), tip=np.nan))) == ["unknown"]
    assert words(spacing(in_slab(x=[0, 90]))) == [None]
