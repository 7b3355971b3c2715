"""A plan in a notebook: a table, every word of the case escaped, nothing drawn."""

import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from builders import case_of
from edited_plans import MESH, NORMAL, axes

from trajplan.planner import check_axes, judge_axes, set_up
from trajplan.planner._plan_html import plan_html

NASTY = '<script>alert("1")</script> & "more"'


@pytest.fixture(scope="module")
def plan():
    case = case_of(title=NASTY, placement={"draws": 0})
    table = replace(axes(direction=NORMAL), ids=("screw 1", NASTY))
    return check_axes(case, table, bone=MESH)


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.cells, self._open = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self._open.append(tag)

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        self.cells.append(data)


def test_every_tag_is_closed_and_every_word_stays_text(plan):
    reader = Reader()
    reader.feed(plan._repr_html_())
    reader.close()
    assert reader._open == []
    assert set(reader.tags) == {"table", "caption", "tr", "th", "td", "ul", "li"}
    assert NASTY in reader.cells  # id of a screw
    assert any(cell.startswith(f"{NASTY}: ") for cell in reader.cells)  # title
    assert "Not a medical device" in " ".join(reader.cells)


def test_in_words_it_is_one_line(plan):
    said = f"<Plan {NASTY!r}: 2 screws, verdict {plan.verdict.word}>"
    assert repr(plan) == said
    assert "\n" not in repr(replace(plan, setup=set_up(case_of(title="a\nb"), bone=MESH)))
    untitled = replace(plan, setup=set_up(case_of(), bone=MESH))
    assert repr(untitled).startswith("<Plan 'untitled': 2 screws")


def test_it_holds_the_numbers_of_the_plan(plan):
    reader = Reader()
    reader.feed(plan._repr_html_())
    screws = plan.assessment.screws
    assert f"{screws.gauge[0]:.1f}" in reader.cells
    assert f"{screws.length[1]:g}" in reader.cells
    assert "screw 1" in reader.cells
    told = [f for row in plan.assessment.findings for f in row if f.verdict.word != "pass"]
    assert told
    assert all(finding.why in reader.cells for finding in told)


def test_nothing_is_drawn_for_it():
    code = (
        "import sys, trajplan.planner._plan_html;"
        "print([m for m in ('pyvista', 'matplotlib', 'vtkmodules') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"


def test_a_screw_without_numbers_is_told_by_question_marks(plan):
    from trajplan.planner import plan_record

    record = plan_record(plan)
    lost = record.screws[0].model_copy(update={"length": None, "gauge": None, "tilt": None})
    assert "<td>?</td>" in plan_html(record.model_copy(update={"screws": (lost,)}))


def test_judging_in_a_setup_is_checking_the_case(plan):
    case = case_of(title=NASTY, placement={"draws": 0})
    table = replace(axes(direction=NORMAL), ids=("screw 1", NASTY))
    again = judge_axes(set_up(case, bone=MESH), table, placement=False)
    assert again.assessment.findings == plan.assessment.findings
    assert again.assessment.together == plan.assessment.together
    assert np.array_equal(again.assessment.screws.length, plan.assessment.screws.length)
    assert again.outlook.pressing.force == plan.outlook.pressing.force
    assert again.outlook.forgiveness is None
    assert again.outlook.by_hands is None
    assert plan.outlook.forgiveness is not None
