"""The command line as a user meets it: a folder of their own, words in, text and status out."""

import json
import os
import subprocess
from dataclasses import dataclass

import pytest
from shaft_case import write_case

from scripts import browser
from trajplan.cli import main


@dataclass(frozen=True)
class Answer:
    status: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def run(folder, capfd):
    """Run a command in the folder."""

    def _run(*words):
        capfd.readouterr()
        try:
            status = main([str(word) for word in words])
        except SystemExit as stop:  # argparse, for --help and a wrong call
            status = stop.code
        return Answer(status, *capfd.readouterr())

    return _run


@pytest.fixture
def case(folder):
    """A shaft with a canal and a case for it, in the folder."""
    return write_case(folder)


@pytest.fixture
def edit(case):
    """Change the text of the case."""

    def _edit(old, new):
        text = case.read_text()
        assert old in text
        case.write_text(text.replace(old, new))

    return _edit


@pytest.fixture(scope="module")
def chromium():
    """A browser without a window."""
    with browser.chromium() as started:
        yield started


@pytest.fixture(scope="module")
def display():
    """Start a display of its own; the name of it."""
    ours, theirs = os.pipe()
    words = ["Xvfb", "-displayfd", str(theirs), "-screen", "0", "1640x1040x24", "-nolisten", "tcp"]
    with subprocess.Popen(words, pass_fds=[theirs], stderr=subprocess.DEVNULL) as server:
        os.close(theirs)
        with os.fdopen(ours) as answer:
            name = f":{answer.readline().strip()}"
        yield name
        server.terminate()
