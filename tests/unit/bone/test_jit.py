"""Compiled code on disk: damaged it is built anew, without room it is done without."""

import os
import resource
import subprocess
import sys

import pytest

from trajplan.bone import _jit

PROGRAM = """
from trajplan.bone._jit import jit

@jit
def twice(x):
    return 2 * x

@jit
def four_times(x):
    return twice(twice(x))

print(four_times(3), len(four_times.stats.cache_hits))
"""


@pytest.fixture
def program(tmp_path):
    """Run a small program whose compiled code is kept in a folder."""
    (tmp_path / "program.py").write_text(PROGRAM)

    def _run(folder=tmp_path / "kept", prepare=None):
        return subprocess.run(
            [sys.executable, tmp_path / "program.py"], check=False, capture_output=True,
            text=True, preexec_fn=prepare, timeout=300,
            env=os.environ | {"NUMBA_CACHE_DIR": str(folder)},
        )  # fmt: skip

    return _run


def no_room():
    """Let no file be written, as a full disk would not (setrlimit(2), RLIMIT_FSIZE)."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


@pytest.mark.parametrize(("ending", "size"), [("nbi", 0), ("nbi", 60), ("nbc", 200)])
def test_damaged_code_is_built_anew_with_one_line(program, tmp_path, ending, size):
    assert (program().stdout, program().stdout) == ("12 0\n", "12 1\n")
    files = [*tmp_path.glob(f"kept/**/*.{ending}")]
    assert len(files) == 2
    for file in files:
        file.write_bytes(file.read_bytes()[:size])
    done = program()
    assert (done.returncode, done.stdout[:3]) == (0, "12 ")
    assert done.stderr == "trajplan: the compiled code was damaged on disk, and is built again\n"
    again = program()
    assert (again.stdout, again.stderr) == ("12 1\n", "")


def test_code_that_cannot_be_kept_is_done_without(program):
    done = program(prepare=no_room)
    assert (done.returncode, done.stdout) == (0, "12 0\n")
    assert done.stderr.startswith("trajplan: the compiled code cannot be kept")
    assert done.stderr.count("\n") == 1


def test_no_folder_for_compiled_code(monkeypatch, caplog):
    def nowhere(function):
        raise RuntimeError("cannot cache function: no locator available")

    monkeypatch.setattr(_jit, "_Cache", nowhere)
    _jit._say.cache_clear()
    assert _jit.jit(lambda x: 2 * x)(3) == 6
    (line,) = caplog.messages
    assert "let NUMBA_CACHE_DIR name a folder that can be written" in line
