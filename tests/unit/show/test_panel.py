"""The words beside a picture."""

import pytest

from trajplan.files import FindingRecord
from trajplan.show import findings_text


def finding(rule, verdict, subject="screw 1", why="because it is so"):
    return FindingRecord(
        rule=rule, subject=subject, verdict=verdict, unit="mm", why=why, source="common practice"
    )


def test_every_screw_is_named_with_its_length(plan):
    text = findings_text(plan())
    assert "screw 1  HA4.5 \N{MULTIPLICATION SIGN} 28 mm: lag, gauge 25.5 mm" in text
    assert "screw 2  HA4.5" in text
    assert "Every rule passed." in text


def test_the_gravest_comes_first_and_a_pass_needs_no_words(plan, record):
    own = (finding("tilt", "caution"), finding("joint", "unknown"), finding("seat", "pass"))
    text = findings_text(
        plan(record(findings=own), findings=(finding("spacing", "fail", "screw 1 + screw 2"),))
    )
    assert text.index("FAIL  screw 1 + screw 2: ") < text.index("[spacing]")
    assert text.index("[spacing]") < text.index("CAUTION  screw 1: ") < text.index("[tilt]")
    assert text.index("[tilt]") < text.index("UNKNOWN  screw 1: ") < text.index("[joint]")
    assert "seat" not in text
    assert "Every rule passed" not in text


def test_unknown_is_never_told_as_passed(plan):
    assert "Every rule passed" not in findings_text(plan(findings=(finding("joint", "unknown"),)))


def test_an_assumption_stands_beside_the_picture_of_a_plan_that_passes(plan, record):
    text = findings_text(plan(record(findings=(finding("cortex_known", "note"),))))
    assert "NOTE  screw 1: because it is so [cortex_known]" in text
    assert "Every rule passed" not in text


def test_a_finding_of_a_pair_is_told_once(plan, record):
    first, second = (finding("spacing", "caution", "screw 1 + screw 2") for _ in range(2))
    text = findings_text(plan(record(findings=(first,)), findings=(second,)))
    assert text.count("spacing") == 1


def test_lines_are_wrapped_and_what_is_left_out_is_counted(plan):
    many = tuple(finding(f"rule {n}", "caution", why="word " * 30) for n in range(20))
    lines = findings_text(plan(findings=many), width=40, most=18).splitlines()
    assert max(map(len, lines)) <= 40
    assert len(lines) <= 18
    assert "\n".join(lines).count("word") == 30 * sum("CAUTION" in line for line in lines)  # whole
    shown = sum("CAUTION" in line for line in lines)
    assert lines[-1] == f"... and {20 - shown} more: see the plan file"


@pytest.mark.parametrize("changes", [{"entry": None}, {"length": None}])
def test_an_axis_without_a_screw_says_so(plan, record, changes):
    assert "screw 1  HA4.5: no screw fits this axis" in findings_text(plan(record(**changes)))
