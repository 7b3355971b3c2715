"""Rule: hands can put the plan into the bone, by a way of drilling that is named."""

import math

import pytest

from trajplan.checks import ByHand, Limits, Odds, Verdict, by_hand

LIMITS = Limits()


def odds(chance, width=0.01):
    return Odds(chance, max(chance - width, 0.0), min(chance + width, 1.0))


def way(harm, less, how="free hand", width=0.01):
    return ByHand(how, odds(harm, width), odds(less, width))


SLEEVE, GUIDE = "through a sleeve", "through a guide"


def judged(taken, *others, unknown=0.0, costs=""):
    return by_hand(taken, others, LIMITS, unknown=unknown, costs=costs)


def test_ordinary_work_passes():
    found = judged(way(0.01, 0.10))
    assert found.verdict is Verdict.PASS
    assert (found.measured, found.limit) == (10.0, 25.0)
    assert "1 % (0 to 2) of tries would do harm" in found.why


@pytest.mark.parametrize(
    ("harm", "less", "word"),
    [
        (0.059, 0.0, "pass"),  # the interval still holds the limit of 5 %
        (0.061, 0.0, "caution"),
        (0.0, 0.259, "pass"),
        (0.0, 0.261, "caution"),
    ],
)
def test_at_the_limits(harm, less, word):
    assert judged(way(harm, less), way(0.0, 0.0, GUIDE)).verdict.word == word


def test_the_first_way_that_mends_it_is_the_one_to_decide_on():
    found = judged(way(0.2, 0.3), way(0.02, 0.2, SLEEVE), way(0.0, 0.0, GUIDE), costs="direction")
    assert found.verdict is Verdict.CAUTION
    assert "the error in direction costs most" in found.why
    assert "Decide on drilling through a sleeve: 2 % (1 to 3) harm, 20 %" in found.why
    assert found.measured == pytest.approx(20.0)
    only = judged(way(0.2, 0.3), way(0.1, 0.2, SLEEVE), way(0.0, 0.0, GUIDE))
    assert "Decide on drilling through a guide" in only.why
    assert "costs most" not in only.why


def test_where_no_way_mends_it_the_line_is_the_decision():
    none = judged(way(0.2, 0.3), way(0.2, 0.4, SLEEVE))
    assert "choose a line that forgives more" in none.why
    some = judged(way(0.2, 0.3), way(0.1, 0.4, SLEEVE), way(0.11, 0.1, GUIDE))
    assert "The best way of drilling is through a sleeve" in some.why
    for found in (none, some):
        assert "set wires first, look at them in two planes" in found.why


def test_less_than_planned_decides_alone():
    found = judged(way(0.0, 0.5), way(0.0, 0.1, SLEEVE))
    assert (found.verdict, found.measured, found.limit) == (Verdict.CAUTION, 50.0, 25.0)


def test_hopeless_is_what_the_best_way_cannot_mend():
    """A quarter of the tries of the best way, and not of the way taken, may do harm at most."""
    assert judged(way(0.9, 0.0), way(0.2, 0.0, GUIDE)).verdict is Verdict.CAUTION
    found = judged(way(0.9, 0.0), way(0.3, 0.0, GUIDE))
    assert (found.verdict, found.measured, found.limit) == (Verdict.FAIL, 30.0, 25.0)
    assert "Even through a guide 30 %" in found.why


def test_what_cannot_be_told_is_no_pass():
    assert judged(way(0.0, 0.0), unknown=0.25).verdict is Verdict.PASS
    found = judged(way(0.0, 0.0), unknown=0.26)
    assert found.verdict is Verdict.UNKNOWN
    assert "`bone.cortex`" in found.why
    nothing = ByHand("free hand", *[Odds(math.nan, math.nan, math.nan)] * 2)
    found = by_hand(nothing, (), LIMITS, unknown=1.0)
    assert (found.verdict, found.measured) == (Verdict.UNKNOWN, None)


def test_a_harmful_plan_is_no_unknown_because_some_tries_cannot_be_told():
    found = judged(way(0.9, 0.0), way(0.8, 0.0, GUIDE), unknown=0.3)
    assert found.verdict is Verdict.FAIL
