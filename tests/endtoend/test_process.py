"""The program as the shell starts it: standard streams, status, no display."""

import os
import subprocess
import sys

from shaft_case import MESHES


def shell(*words, **settings):
    environment = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    return subprocess.run(
        [sys.executable, "-m", "trajplan", *map(str, words)],
        capture_output=True, text=True, check=False, env=environment | settings, timeout=300,
    )  # fmt: skip


def test_help_loads_none_of_the_heavy_packages():
    done = shell("--help", PYTHONPROFILEIMPORTTIME="1")
    assert (done.returncode, done.stdout[:6]) == (0, "usage:")
    loaded = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert "trajplan.cli" in loaded
    assert not loaded & {"numpy", "scipy", "trimesh", "numba", "pyvista", "matplotlib", "igl"}


def test_plan_and_view(folder):
    done = shell("plan", MESHES / "shaft.toml", "--no-picture", "--out", "out")
    assert (done.returncode, done.stderr) == (0, "")
    assert "screw 2" in done.stdout
    done = shell("view", "out/plan.json", "--shot", "plan.png")
    assert (done.returncode, done.stderr) == (0, "")
    assert (folder / "plan.png").stat().st_size > 10_000


def test_view_without_a_display_is_one_line(folder):
    done = shell("view", MESHES / "shaft.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("trajplan: no display was found: DISPLAY is not set; set ")
    assert "--shot FILE.png" in done.stderr
    assert done.stderr.count("\n") == 1


def test_wrong_input_is_one_line(folder):
    done = shell("plan", "nowhere.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "trajplan: nowhere.toml: there is no such file; check its name and folder\n"
    )


def test_a_reader_that_stops_early_is_no_fault(folder):
    code = f"import subprocess, sys; p = subprocess.Popen([{sys.executable!r}, '-m', 'trajplan', "
    code += "'screws'], stdout=subprocess.PIPE, stderr=subprocess.PIPE); p.stdout.close(); "
    code += "print(p.wait(), p.stderr.read())"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "0 b''\n"
