"""A study as a table and as a plot."""

import csv
import math

import numpy as np
import pytest
from shaft_case import write_case

from trajplan.errors import CaseError
from trajplan.files import read_case
from trajplan.planner import StudyRow, study
from trajplan.show import plot_study, study_text, write_study


def row(value, low, high, holding=900.0):
    return StudyRow(value, "pass", (), 800.0, holding, 1000.0, 500.0, 1.0, 2.0, low, high)


ROWS = (row(0.0, math.inf, math.inf), row(5.0, 3.4, 5.3), row(10.0, math.nan, math.nan))


def test_endless_and_unknown_are_told_apart(tmp_path):
    write_study(ROWS, tmp_path / "s.csv")
    cells = list(csv.DictReader((tmp_path / "s.csv").read_text().splitlines()))
    assert [c["slip_low"] for c in cells] == ["endless", "3.4", ""]
    for line, slip in zip(
        study_text(ROWS, "tilt").splitlines()[2:],
        ("endless to endless", "3.40 to 5.30", "? to ?"),
        strict=True,
    ):
        assert slip in line


def test_a_word_that_looks_like_a_formula_stays_a_word(tmp_path):
    write_study((row("=HA4.5", 1.0, 2.0),), tmp_path / "s.csv")
    assert "\n'=HA4.5," in (tmp_path / "s.csv").read_text()


@pytest.fixture
def middle(monkeypatch, tmp_path):
    """The middle part of a plot, as it is drawn."""
    from matplotlib.figure import Figure

    kept = []
    monkeypatch.setattr(Figure, "savefig", lambda self, *_, **__: kept.append(self))

    def plotted(rows):
        plot_study(rows, "tilt", tmp_path / "s.png")
        return kept[-1].axes[1]

    return plotted


def test_an_endless_reserve_is_drawn_as_such(middle):
    drawn = middle(ROWS)
    (mark,) = (text for text in drawn.texts if "endless" in text.get_text())
    assert mark.xy[0] == 0.0
    lines = [line.get_ydata() for line in drawn.lines[:2]]
    assert np.isinf(lines[0][0])  # nothing is drawn there: no number stands for it
    assert 5.3 < drawn.get_ylim()[1] < 7.0


def test_a_great_reserve_leaves_the_plot(middle):
    drawn = middle((row(1.0, 15.0, 40.0), row(5.0, 3.4, 5.3)))
    assert drawn.get_ylim()[1] == pytest.approx(11.0)
    assert drawn.lines[1].get_ydata()[0] == 40.0  # and is not drawn at its edge
    assert not any("endless" in text.get_text() for text in drawn.texts)


def test_an_assumed_cortex_is_not_studied_where_the_canal_is_modelled(tmp_path):
    case = read_case(write_case(tmp_path))
    with pytest.raises(CaseError, match="canal is modelled, so an assumed cortex changes nothing"):
        study(case, "cortex", [3.0, 5.0])
