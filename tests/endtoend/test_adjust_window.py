"""Fragments moved by hand in a real window, driven by keys and mouse from another process."""

import os
import subprocess
import sys
from contextlib import ExitStack

import numpy as np
import pytest
from hands import PATIENCE, Hand, wait_for
from PIL import ImageGrab
from scipy.spatial.transform import Rotation

from tests.reduced_cases import BACK, solved, write_case
from trajplan.cli._reducing import write_reduced
from trajplan.files import read_case, read_reduction
from trajplan.planner import plan_case, plan_record, reduce_case


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A broken tube, put together, and what a hand made of it: three kept reductions."""
    out = tmp_path_factory.mktemp("adjust")
    write_reduced(reduce_case(write_case(out), solve=solved()), out / "reduced", picture=False)
    return out


@pytest.fixture(scope="module")
def driven(display, folder):
    """The words of a session in the window, and a picture of it."""
    log = folder / "log.txt"
    with (
        log.open("w") as said,
        subprocess.Popen(
            [sys.executable, "-m", "trajplan", "view", str(folder / "reduced" / "reduction.json")],
            env={**os.environ, "DISPLAY": display},
            stdout=said,
            stderr=said,
        ) as viewer,
        ExitStack() as closing,
    ):
        closing.callback(viewer.kill)  # whatever goes wrong, nobody waits for it
        hand = Hand(display)
        hand.key("k", "1", "2", "shift+Right", "shift+Right", "a", "k")
        wait_for(folder / "reduced-edited-1" / "case.toml")
        hand.key("n", "k")
        wait_for(folder / "reduced-edited-2" / "case.toml")
        hand.key("z", "z", "z", "z", "k")  # nothing is moved any more: nothing is kept
        hand.drag((640, 900), (30, 0), steps=3)  # the upper end of the view
        hand.key("k")
        wait_for(folder / "reduced-edited-3" / "case.toml")
        picture = ImageGrab.grab(xdisplay=display)
        hand.key("x")
        status = viewer.wait(PATIENCE)
    assert status == 0
    return log.read_text(), np.asarray(picture.convert("RGB")).astype(int)


def moved(folder, number):
    """Movement of the upper fragment since it was opened, and the record."""
    record = read_reduction(folder / f"reduced-edited-{number}" / "reduction.json")
    assert [one.origin for one in record.fragments] == ["found", "hand"]
    assert "reduce_hand" in {f.rule for f in record.findings if f.verdict == "caution"}
    return np.array(record.fragments[1].matrix) @ np.linalg.inv(BACK.matrix), record


def degrees(matrix):
    return np.degrees(Rotation.from_matrix(matrix[:3, :3]).magnitude())


def test_what_is_kept_says_so_and_nothing_is_written_over(driven, folder):
    words, _ = driven
    assert words.count("Written: ") == 3
    assert "Not a medical device" in words
    assert not any(word in words for word in ("Error", "Traceback", "WARN"))
    names = {path.name for path in folder.iterdir() if path.is_dir()}
    assert names == {"reduced", *(f"reduced-edited-{n}" for n in (1, 2, 3))}
    opened = read_reduction(folder / "reduced" / "reduction.json")
    assert [one.origin for one in opened.fragments] == ["found", "found"]


def test_keys_move_by_as_much_as_they_say(driven, folder):
    """Twice a tenth of a mm across the view, then one degree about the shaft (z of the tube)."""
    matrix, _ = moved(folder, 1)
    assert degrees(matrix) == pytest.approx(1.0, abs=0.01)
    assert abs(Rotation.from_matrix(matrix[:3, :3]).as_rotvec(degrees=True)[2]) > 0.99
    middle = np.array([0.0, 0.0, 50.0])  # the turn is about the middle of the broken surface
    way = (matrix @ np.append(middle, 1.0))[:3] - middle
    assert np.linalg.norm(way) == pytest.approx(0.2, abs=0.1)


def test_a_snap_goes_back_to_the_fit(driven, folder):
    """The tube is round, so a snap closes the fracture and leaves little of the turn."""
    matrix, record = moved(folder, 2)
    assert record.pairs[0].gap_90 < 0.3
    assert degrees(matrix) < 1.0


def test_a_drag_shifts_and_turns_nothing(driven, folder):
    matrix, _ = moved(folder, 3)
    assert degrees(matrix) == pytest.approx(0.0, abs=1e-4)
    assert np.linalg.norm(matrix[:3, 3]) > 0.5


def test_the_window_shows_either_fragment_and_the_gap(driven):
    _, pixels = driven
    red, _, blue = np.moveaxis(pixels[:900, :1100], -1, 0)
    assert ((red - blue > 20) & (red > 120)).mean() > 0.01  # the fixed fragment
    assert ((blue - red > 8) & (blue > 100)).mean() > 0.01  # the other
    assert ((blue - red > 60) | (red - blue > 120)).mean() > 1e-3  # closed, or gaping


def test_the_plan_on_it_says_that_it_was_moved_by_hand(driven, folder):
    plan = plan_record(plan_case(read_case(folder / "reduced-edited-1" / "case.toml")))
    (told,) = [finding for finding in plan.findings if finding.rule == "reduce_hand"]
    assert told.verdict == "caution"
    assert "upper.stl was moved by hand" in told.why
    assert plan.reduction.fragments[1].origin == "hand"
