"""Rule: the axis meets the bone."""

from builders import in_slab, words

from trajplan.checks import Limits, meets_bone


def test_only_a_miss_is_spoken_of():
    ruling = meets_bone(in_slab(x=[0, 90, 5, -90]), Limits())
    assert words(ruling) == [None, "fail", None, "fail"]
    assert [f.subject for f in ruling.findings("abcd")] == ["b", "d"]
    assert ruling.findings("abcd")[0].measured is None


def test_no_screw():
    assert words(meets_bone(in_slab(x=[]), Limits())) == []
