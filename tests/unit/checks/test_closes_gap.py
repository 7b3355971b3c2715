"""Rule: a position screw does not close the gap."""

from builders import in_slab, words

from trajplan.checks import Limits, closes_gap


def test_every_position_screw_says_so():
    assert words(closes_gap(in_slab(x=[0, 5], technique="position"), Limits())) == ["note"] * 2
    assert words(closes_gap(in_slab(x=[0, 5]), Limits())) == [None, None]
    assert words(closes_gap(in_slab(kind="HB6.5"), Limits())) == [None]
    assert words(closes_gap(in_slab(x=[]), Limits())) == []
