"""A real window on a display without a screen, driven by keys and mouse from another process."""

import os
import subprocess
import sys

import numpy as np
import pytest
from hands import PATIENCE, Hand, wait_for
from PIL import ImageGrab
from shaft_case import write_case

from trajplan.cli import main
from trajplan.files import read_plan
from trajplan.planner import load_plan
from trajplan.show import Session

CASE = """\
unit = "mm"
[bone]
mesh = "bone.stl"
[fracture]
plane = { point = [0, 0, 50], normal = [0.5, 0, 0.8660254037844386] }
[screws]
count = 2
kinds = ["HA4.5"]
candidates = 200
[placement]
draws = 20
"""


def places(plan):
    """Pixels of the first screw's ends and of the buttons, from the same window unseen."""
    from trajplan.show._window.commands import COMMANDS
    from trajplan.show._window.window import Window

    window = Window(Session(*load_plan(plan)), lambda _: plan, off_screen=True)
    window.plotter.show(auto_close=False)
    ends = window.lens().pixels(np.stack(window.session.ends)).round().astype(int)
    buttons = {command.keys[0]: window.buttons.pixel(command) for command in COMMANDS}
    window.plotter.close()
    return ends.tolist(), buttons


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("window")
    write_case(out)
    (out / "case.toml").write_text(CASE)
    assert main(["plan", str(out / "case.toml"), "--out", str(out), "--no-picture", "--json"]) < 2
    return out


def test_a_plan_is_edited_in_a_window_and_saved(display, folder):
    plan = folder / "plan.json"
    before = plan.read_bytes()
    (_, target), buttons = places(plan)
    log = folder / "log.txt"
    with (
        log.open("w") as said,
        subprocess.Popen(
            [sys.executable, "-m", "trajplan", "view", str(plan)],
            env={**os.environ, "DISPLAY": display},
            stdout=said,
            stderr=said,
        ) as viewer,
    ):
        hand = Hand(display)
        hand.key("s")
        assert wait_for(folder / "plan-edited-1.json") == before  # nothing was moved yet
        hand.drag(target, (40, 60))
        hand.key("s")
        wait_for(folder / "plan-edited-2.json")
        picture = ImageGrab.grab(xdisplay=display)
        hand.key("z", "s")
        assert wait_for(folder / "plan-edited-3.json") == before  # to the byte
        hand.key("2", "e", "shift+Right", "m", "c", "period", "n", "p")
        hand.click(buttons["d"])
        hand.click(buttons["Up"])
        hand.drag((300, 200), (120, 40))  # turns the view, moves nothing
        hand.click(buttons["s"])
        wait_for(folder / "plan-edited-4.json")
        hand.key("r", "s")
        assert wait_for(folder / "plan-edited-5.json") == before
        hand.key("q")
        status = viewer.wait(PATIENCE)
    assert status == 0
    words = log.read_text()
    assert words.count("Written: ") == 5
    assert "Not a medical device" in words
    assert not any(word in words for word in ("Error", "Traceback", "Warning", "WARN"))
    _dragged(read_plan(plan), read_plan(folder / "plan-edited-2.json"))
    _nudged(read_plan(plan), read_plan(folder / "plan-edited-4.json"))
    picture.save(folder / "window.png")
    _seen(picture)


def _dragged(plan, edited):
    first, second = edited.screws
    assert first.entry == pytest.approx(plan.screws[0].entry, abs=1e-3)  # the target was dragged
    assert np.linalg.norm(np.subtract(first.exit, plan.screws[0].exit)) > 0.5
    assert first.tilt != plan.screws[0].tilt
    assert first.forgiving is not None
    for end in ("entry", "exit"):  # read back from six decimals
        assert getattr(second, end) == pytest.approx(getattr(plan.screws[1], end), abs=1e-5)
    assert [screw.score for screw in edited.screws] == [None, None]
    assert any(
        "edited by hand: the axes of screw 1 were moved" in line for line in edited.assumptions
    )


def _nudged(plan, edited):
    """Once a tenth by key, once a half by button; all else was looking."""
    assert edited.screws[0].entry == pytest.approx(plan.screws[0].entry, abs=1e-5)
    assert edited.screws[1].entry != plan.screws[1].entry
    moved = np.linalg.norm(np.subtract(edited.screws[1].entry, plan.screws[1].entry))
    assert 0.1 < moved < 3.0
    assert any("the axes of screw 2 were moved" in line for line in edited.assumptions)


def _seen(picture):
    image = np.asarray(picture.convert("RGB")).astype(int)
    assert image.shape[0] >= 1000
    red, green, blue = np.moveaxis(image[:900, :1100], -1, 0)
    assert ((green - red > 40) & (green - blue > 15)).mean() > 0.005  # threads
    assert ((blue - red > 80) & (blue > 120)).sum() > 100  # the rings to hold on to


def test_a_display_that_does_not_answer_is_said_in_one_line(folder):
    done = subprocess.run(
        [sys.executable, "-m", "trajplan", "view", str(folder / "plan.json")],
        env={**os.environ, "DISPLAY": ":4999"},
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert (
        'no display was found: ":4999" of DISPLAY does not answer; set DISPLAY to one'
        in done.stderr
    )
