"""scripts/environment: what a bare machine lacks is installed where it may be, else told."""

import os
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def machine(tmp_path):
    """A machine without two packages, whose user is root or somebody else."""

    def run(user):
        programs = {
            "dpkg": 'case "$2" in xvfb|chromium) exit 1;; esac',
            "apt-get": f'echo "$*" >>{tmp_path}/log',
            "id": f"echo {user}",
        }
        for name, does in programs.items():
            (tmp_path / name).write_text(f"#!/bin/sh\n{does}\n")
            (tmp_path / name).chmod(0o755)
        answer = subprocess.run(
            ["bash", "-c", "set -eu; . scripts/environment; system_packages python3 xvfb chromium"],
            cwd=ROOT, capture_output=True, text=True, check=True,
            env=os.environ | {"PATH": f"{tmp_path}:{os.environ['PATH']}"},
        )  # fmt: skip
        log = tmp_path / "log"
        return answer.stderr, log.read_text() if log.exists() else ""

    return run


def test_root_has_them_installed(machine):
    said, done = machine(0)
    assert done.splitlines()[1].endswith("--no-install-recommends xvfb chromium")
    assert "sudo" not in said


def test_others_are_told_one_line_to_paste(machine):
    said, done = machine(1000)
    (line,) = re.findall(r"^sudo .*$", said, re.MULTILINE)
    assert line.endswith(" xvfb chromium")
    assert not done


def test_ci_is_a_call_of_the_tests():
    assert "bash scripts/test" in (ROOT / ".ci/run").read_text()
    assert "apt-get" not in (ROOT / ".ci/run").read_text()
