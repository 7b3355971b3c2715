"""CSV that a spreadsheet may open."""

import csv

from hypothesis import given
from hypothesis import strategies as st

from trajplan.files import csv_text
from trajplan.files._csv import guarded, unguarded


@given(st.text(alphabet="'=+-@\t\r aZ1", max_size=6))
def test_every_text_comes_back_and_none_is_worked_out(text):
    safe = guarded(text)
    assert unguarded(safe) == text
    assert not safe or safe[0] not in "=+-@\t\r"


def test_numbers_stay_numbers():
    text = csv_text(["a", "b", "c"], [{"a": -1.5, "b": "-x", "d": 1}, {"b": True}])
    assert list(csv.reader(text.splitlines())) == [
        ["a", "b", "c"],
        ["-1.5", "'-x", ""],
        ["", "True", ""],
    ]
