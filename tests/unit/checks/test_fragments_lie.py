"""Rules: fragments that gape, stand in steps or are turned are not reduced."""

import numpy as np
import pytest

from trajplan.checks import Limits, fragments_gap, fragments_step, fragments_turn
from trajplan.fracture import Offset, Overlap, PairReport, Turn

LIMITS = Limits()
FITS = Offset(0.0, 0.0, np.zeros(3), 0.0)


def pair(gap=FITS, step=FITS, turn=(0.0, False), fragments=(0, 1)):
    overlap = Overlap(0.0, 0.0, np.full(3, np.nan))
    return PairReport(fragments, ("Z1",), 100.0, gap, step, 1.0, overlap, 0, Turn(*turn))


def offset(wide, largest=None):
    return Offset(wide, wide if largest is None else largest, np.array([1.0, 2.0, 3.0]), wide)


@pytest.mark.parametrize(
    ("wide", "word"),
    [(-1.0, "pass"), (1.0, "pass"), (1.001, "caution"), (2.0, "caution"), (2.001, "fail")],
)
def test_gap(wide, word):
    found = fragments_gap([pair(gap=offset(wide))], LIMITS)
    assert (found.verdict.word, found.subject) == (word, "plan")
    assert found.measured == max(wide, 0.0)
    assert f"{found.measured:.1f} mm" in found.why


def test_a_chip_that_is_missing_somewhere_opens_no_fracture():
    assert fragments_gap([pair(gap=offset(0.3, 4.5))], LIMITS).verdict.word == "pass"


@pytest.mark.parametrize(
    ("wide", "largest", "word", "measured"),
    [
        (0.2, 1.0, "pass", 1.0),
        (0.2, 3.4, "caution", 3.4),  # in one place: whether that is a joint, somebody must say
        (2.0, 2.5, "caution", 2.5),
        (2.001, 2.5, "fail", 2.001),
        (np.nan, np.nan, "unknown", None),
    ],
)
def test_step(wide, largest, word, measured):
    found = fragments_step([pair(step=offset(wide, largest))], LIMITS)
    assert (found.verdict.word, found.measured) == (word, measured)
    assert measured is None or f"{measured:.1f} mm" in found.why


@pytest.mark.parametrize(
    ("turn", "word"),
    [
        ((5.0, False), "pass"),
        ((5.001, False), "caution"),
        ((10.001, False), "fail"),
        ((1.0, True), "unknown"),
        ((12.0, True), "fail"),
    ],
)
def test_turn(turn, word):
    found = fragments_turn([pair(turn=turn)], LIMITS)
    assert (found.verdict.word, found.measured) == (word, turn[0])
    assert f"{turn[0]:.1f} degrees" in found.why


@pytest.mark.parametrize(
    ("over", "back", "word", "measured"),
    [
        ((1.0, False), (2.0, False), "pass", 3.0),
        ((4.0, False), (4.0, False), "caution", 8.0),
        ((1.0, False), (2.0, True), "unknown", 2.0),  # the way round is hidden too
    ],
)
def test_a_wedge_tells_of_a_turn_that_the_fracture_of_the_main_fragments_hides(
    over, back, word, measured
):
    """Two turns in a row turn by no more than their sum (triangle inequality of rotations)."""
    pairs = [
        pair(turn=(0.5, True)),
        pair(turn=over, fragments=(0, 2)),
        pair(turn=back, fragments=(1, 2)),
    ]
    found = fragments_turn(pairs, LIMITS)
    assert (found.verdict.word, found.measured) == (word, measured)


def test_the_worst_pair_is_named():
    pairs = [pair(gap=offset(0.2)), pair(gap=offset(3.0), fragments=(1, 2))]
    assert fragments_gap(pairs, LIMITS).why.startswith("Fragments 2 and 3 lie up to 3.0 mm apart")


def test_a_bone_in_one_piece_has_nothing_to_say():
    assert [rule([], LIMITS) for rule in (fragments_gap, fragments_step, fragments_turn)] == [
        None
    ] * 3
