"""A plan in hands: what mends it is looked for only where something is amiss."""

import numpy as np
import pytest
from builders import case_of
from specimens import tube

from trajplan.planner import plan_case, plan_record

SHAFT = tube(14.0, 9.0, sides=64)


def placed(slant, draws=300, seed=0, **tables):
    """Screws square to a fracture whose plane lies ``slant`` degrees off the shaft's axis."""
    lean = np.radians(slant)
    normal = [float(np.cos(lean)), 0.0, float(-np.sin(lean))]
    case = case_of(
        fracture={"plane": {"point": [0, 0, 50], "normal": normal}},
        screws={"approach": {"direction": [1, 0, 0], "cone": 60}, "candidates": 800},
        placement={"draws": draws, "seed": seed} | tables.pop("placement", {}),
        **tables,
    )
    return plan_case(case, bone=SHAFT)


def finding(record):
    (found,) = (f for f in record.findings if f.rule == "by_hand")
    return found


def test_the_textbook_fixation_is_ordinary_work():
    """Two 4.5 mm screws square to a long oblique fracture of a sound shaft, drilled free hand:
    what is taught as the standard (AO Foundation, online surgery reference, lag screws: common
    practice) is no gamble."""
    record = plan_record(placed(22))
    assert len(record.screws) == 2
    assert finding(record).verdict == "pass"
    assert record.placement.harm.high < 0.05
    assert [way.way for way in record.placement.ways] == ["free hand"]  # nothing to mend
    assert record.placement.without == ()


@pytest.fixture(scope="module")
def amiss():
    """The same shaft, the hands far worse than any that were measured."""
    return plan_record(placed(22, placement={"entry": 1.0, "direction": 14.0}))


def test_ways_and_errors_are_compared_where_something_is_amiss(amiss):
    ways = {way.way: way for way in amiss.placement.ways}
    assert list(ways) == ["free hand", "sleeve", "guide"]
    lost = {name: way.harm.chance + way.less.chance for name, way in ways.items()}
    assert lost["free hand"] > lost["sleeve"] >= lost["guide"]
    assert {row.error for row in amiss.placement.without} == {"entry", "direction", "plunge"}
    found = finding(amiss)
    assert found.verdict == "caution"
    assert "the error in direction costs most" in found.why
    assert "Decide on drilling through a sleeve" in found.why


def test_each_screw_has_its_own_chances(amiss):
    for screw in amiss.screws:
        mine = screw.placement
        assert mine.harm.chance <= amiss.placement.harm.chance
        assert (mine.ways, mine.without) == ((), ())
        assert all(rule.chance > 0.0 for rule in mine.rules)
        assert {"structure_met", "joint_met", "drill_met"} <= set(mine.untold)  # none is named


def test_the_way_of_the_case_is_the_way_taken():
    sleeve = plan_record(placed(22, placement={"way": "sleeve"}))
    assert sleeve.placement.ways[0].way == "sleeve"
    assert "through a sleeve or an aiming arm" in finding(sleeve).why
    assert any("2.2 degrees in direction (standard" in line for line in sleeve.assumptions)


def test_no_draws_say_nothing():
    record = plan_record(placed(22, draws=0))
    assert record.placement is None
    assert all(screw.placement is None for screw in record.screws)
    assert not any(f.rule == "by_hand" for f in record.findings)
