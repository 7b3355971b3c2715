"""What is told of a batch under way."""

import io

import pytest

from trajplan.batch import Outcome
from trajplan.batch._progress import Progress, clock_text, rate_text


class Terminal(io.StringIO):
    def isatty(self):
        return True


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


def run(stream, total=4, kept=0, status="done", ends=None):
    clock = Clock()
    progress = Progress(total, stream, clock)
    progress.kept(kept)
    for i in range(total - kept if ends is None else ends):
        clock.now += 2.0
        progress.show(Outcome(f"c{i}", status, "no \x1b[31mbone\n" if status == "failed" else ""))
    progress.close()
    return stream.getvalue()


def test_plain_lines_where_no_terminal_is():
    lines = run(io.StringIO()).splitlines()
    assert lines[1] == "2 of 4 cases, 30.0 cases/min, 0:04 left, 0 failed"
    assert lines[-1] == "4 of 4 cases, 30.0 cases/min, 0:00 left, 0 failed"


def test_a_thousand_cases_are_few_lines_and_the_last_one_is_there():
    lines = run(io.StringIO(), total=1003).splitlines()
    assert len(lines) <= 22
    assert lines[-1].startswith("1003 of 1003")


def test_a_bar_on_a_terminal_is_drawn_over():
    text = run(Terminal())
    assert text.count("\n") == 1
    last = text.strip().split("\r\x1b[K")[-1]
    assert last.startswith(f"[{'#' * 28}] 4 of 4 cases")
    assert f"[{'#' * 14}{'.' * 14}] 2 of 4" in text
    assert text.startswith(f"\r\x1b[K[{'.' * 28}] 0 of 4 cases")  # before the first is done


def test_failures_are_told_at_once_and_counted():
    text = run(io.StringIO(), total=1, status="failed")
    assert text.splitlines()[0] == "failed: c0: no \\u001b[31mbone"
    assert text.splitlines()[1].endswith("1 failed")


def test_results_of_an_earlier_run_do_not_enter_the_rate():
    lines = run(io.StringIO(), total=4, kept=2).splitlines()
    assert lines[0] == "2 of 4 cases are finished already"
    assert lines[1] == "3 of 4 cases, 30.0 cases/min, 0:02 left, 0 failed"


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "0:00"), (59.6, "1:00"), (3599, "59:59"), (90_061, "25:01:01")]
)
def test_clock(seconds, text):
    assert clock_text(seconds) == text


@pytest.mark.parametrize(("rate", "text"), [(2.0, "2.0 cases/s"), (0.5, "30.0 cases/min")])
def test_rate(rate, text):
    assert rate_text(rate) == text
