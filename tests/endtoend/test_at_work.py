"""A command that takes long says so on a terminal, and on nothing else."""

import io
import os
import pty
import threading
import time
from types import SimpleNamespace

import pytest

from trajplan.cli import _working, main
from trajplan.cli._output import bar
from trajplan.cli._working import CLEAR, FIRST, at_work


@pytest.fixture
def terminal(monkeypatch):
    """A pseudo-terminal as standard error; gives what was written to it."""
    ours, theirs = pty.openpty()
    said = []
    stream = os.fdopen(theirs, "w")

    def read():
        try:
            while piece := os.read(ours, 4096):
                said.append(piece.decode())
        except OSError:
            return

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    monkeypatch.setattr(_working, "sys", SimpleNamespace(stderr=stream))
    monkeypatch.setattr(_working, "FIRST", 0.02)
    monkeypatch.setattr(_working, "AGAIN", 0.02)

    def written():
        stream.flush()
        time.sleep(0.05)
        return "".join(said)

    yield written
    stream.close()
    os.close(ours)


def test_it_comes_within_the_first_second():
    assert FIRST < 1.0


def test_a_line_while_at_work_and_none_after(terminal):
    with at_work("plan"):
        time.sleep(0.2)
    told = terminal()
    assert told.startswith(f"{CLEAR}trajplan plan: at work, 0 s")
    assert told.endswith(CLEAR)


def test_what_is_printed_stands_on_a_line_of_its_own(terminal, capsys, monkeypatch):
    from trajplan.cli import _looking

    def slow(args):
        time.sleep(0.2)
        print("answer")
        time.sleep(0.2)
        return 0

    monkeypatch.setattr(_looking, "_inspect", slow)
    assert main(["inspect", "nothing.stl"]) == 0
    assert capsys.readouterr().out == "answer\n"
    told = terminal()
    assert "trajplan inspect: at work" in told
    assert told.endswith(CLEAR)


def test_a_bar_takes_its_place(terminal):
    with at_work("plan"):
        time.sleep(0.1)
        tell = bar("placement error")
        tell(1, 3)
        before = terminal().count("at work")
        time.sleep(0.2)
        assert terminal().count("at work") == before
        tell(3, 3)
        time.sleep(0.2)
        assert terminal().count("at work") > before


def test_no_line_where_nobody_watches(monkeypatch):
    stream = io.StringIO()
    monkeypatch.setattr(_working, "sys", SimpleNamespace(stderr=stream))
    monkeypatch.setattr(_working, "FIRST", 0.0)
    with at_work("plan"):
        time.sleep(0.1)
    assert stream.getvalue() == ""


def test_a_terminal_that_is_gone_stops_no_work(terminal, monkeypatch):
    class Gone(io.StringIO):
        def isatty(self):
            return True

        def write(self, _):
            raise OSError

    monkeypatch.setattr(_working, "sys", SimpleNamespace(stderr=Gone()))
    with at_work("plan"):
        time.sleep(0.1)
    assert terminal() == ""
