"""Doubts of a pair: none of a good one, each past its limit, and each where it is not known."""

from dataclasses import replace

import pytest

from tests.reduced_cases import GOOD
from trajplan.reduction import LIMITS
from trajplan.reduction._limits import doubts_of

NAMES = ("low", "high")


def test_a_good_fit_raises_none():
    assert doubts_of(GOOD, NAMES) == []


@pytest.mark.parametrize("name", [name for name in LIMITS if name != "inside"])
def test_past_its_limit_and_not_known_each_measure_raises_one(name):
    at = LIMITS[name]
    assert doubts_of(replace(GOOD, **{name: at}), NAMES) == []
    (past,) = doubts_of(replace(GOOD, **{name: 0.9 * at if name == "contact" else 1.1 * at}), NAMES)
    (unknown,) = doubts_of(replace(GOOD, **{name: float("nan")}), NAMES)
    assert past != unknown
    for sentence in (past, unknown):
        assert "low and high" in sentence
        assert "nan" not in sentence
