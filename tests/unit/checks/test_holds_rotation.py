"""Rule: one screw does not stop rotation."""

from builders import in_slab, slab, zone_of

from trajplan.checks import Surroundings, Verdict, holds_rotation, plan_findings


def test_two_screws_are_needed():
    assert [holds_rotation(n).verdict for n in range(4)] == [
        Verdict.CAUTION, Verdict.CAUTION, Verdict.PASS, Verdict.PASS,
    ]  # fmt: skip


def test_only_screws_that_cross_the_fracture_count():
    """The plane x + z = 10 is met inside the slab for 10 < x < 30."""
    zone = zone_of(slab(), [15, 0, -5], [1, 0, 1])
    around = Surroundings(slab(), (zone,), (), None)
    for x, held in (([12, 20], True), ([12, 0], False), ([12, 90], False), ([0, 5], False)):
        (rotation, _) = plan_findings(in_slab(x=x, zones=zone), around)
        assert rotation.rule == "holds_rotation"
        assert (rotation.verdict is Verdict.PASS) == held
    (rotation, _) = plan_findings(in_slab(x=[], zones=zone), around)
    assert rotation.verdict is Verdict.CAUTION
