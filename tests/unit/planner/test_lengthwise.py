"""A shaft split lengthwise: both walls count, and the screws cross between them.

Teaching: a long split is held by lag screws across it, spread along it (common practice).
"""

import numpy as np
import pytest
from builders import case_of
from specimens import pipe

from trajplan.planner import plan_case, plan_record


@pytest.fixture(scope="module")
def record():
    split = {"plane": {"point": [10, 0, 50], "normal": [0, 1, 0]}}
    case = case_of(fracture=split, bone={"place": "shaft"}, screws={"kinds": ["HA3.5"]})
    return plan_record(plan_case(case, bone=pipe(sides=48)))


def test_both_walls_are_the_fracture(record):
    """Closed form: two walls of 5 mm, 100 mm long; the line runs the whole length."""
    (zone,) = record.fracture.zones
    assert zone.area == pytest.approx(1000.0)
    assert record.fracture.shaft.fracture_length == pytest.approx(100.0)
    assert record.contact.area == pytest.approx(1000.0)


def test_screws_cross_between_the_walls_and_press_both(record):
    assert len(record.screws) == 2
    for screw in record.screws:
        entry, exit_ = np.array(screw.entry), np.array(screw.exit)
        share = entry[1] / (entry[1] - exit_[1])
        assert abs(entry[0] + share * (exit_[0] - entry[0])) < 9.0  # through the canal
    apart = abs(record.screws[0].entry[2] - record.screws[1].entry[2])
    assert apart > 28.0  # spread along the split by more than the bone's width
    assert record.contact.share > 0.9


def test_no_screw_fails(record):
    assert all(f.verdict != "fail" for screw in record.screws for f in screw.findings)
