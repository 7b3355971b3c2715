"""Pictures are written and not blank; what is missing is said in one sentence."""

import io
import os
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from trajplan.errors import OutputError
from trajplan.show import findings_text, need_display, save_shot, scene, show_window


@pytest.fixture
def items(bone, plan, catalogue):
    return scene(bone, plan(), catalogue)


@pytest.fixture
def shot(off_screen, tmp_path):
    def take(items, *words, **more):
        path = tmp_path / "shot.png"
        save_shot(items, path, *words, **more)
        return path

    return take


def pixels(path):
    return np.asarray(Image.open(path).convert("RGB")).astype(int)


def green(image):
    """Share of pixels as green as a thread in any light; bone, ink and paper are not."""
    red, middle, blue = np.moveaxis(image, -1, 0)
    return ((middle - red > 40) & (middle - blue > 15)).mean()


def test_a_picture_shows_the_screws(shot, items, plan):
    image = pixels(shot(items, "Trial", findings_text(plan()), verdict="pass", frame="LPS"))
    assert image.shape == (1000, 1600, 3)
    assert 0.1 < (image < 250).any(axis=2).mean() < 0.9
    assert green(image[:900, :1150]) > 0.01
    without = [item for item in items if item.role != "thread"]
    bare = pixels(shot(without, "Trial", findings_text(plan()), verdict="pass", frame="LPS"))
    assert green(bare[:900, :1150]) < 0.0001


def test_the_background_is_white_for_print(shot, items):
    image = pixels(shot(items))
    assert (image[2:40, 2:200] == 255).all()


def test_words_and_cautions_are_in_the_picture(shot, items):
    silent = pixels(shot(items, "", ""))
    spoken = pixels(shot(items, "Trial", "S1 one\nS2 two"))
    changed = (silent != spoken).any(axis=2)
    assert changed[:500, 1160:].any()
    assert not changed[:, :1140].any()  # the picture itself is the same
    assert (silent[955:, :800] < 128).any()  # cautions stand under every picture


def test_the_same_items_give_the_same_bytes(shot, items):
    assert shot(items, "Trial").read_bytes() == shot(items, "Trial").read_bytes()


def test_a_bone_alone_can_be_drawn(shot, items):
    image = pixels(shot([item for item in items if item.role == "bone"]))
    assert (image[:900, :1150] < 250).any(axis=2).mean() > 0.1


def test_the_scale_bar_is_as_long_as_it_says(off_screen, items):
    from trajplan.show._camera import side_view
    from trajplan.show._draw import look, scale_bar

    aspect = 1.2
    view = side_view(items, aspect)
    plotter = off_screen.Plotter(window_size=[600, 500])
    look(plotter, view)
    scale_bar(plotter, view, aspect)
    bar = next(a.mapper.dataset for a in plotter.actors.values() if hasattr(a, "mapper"))
    assert np.linalg.norm(bar.points[2] - bar.points[1]) == pytest.approx(10.0)
    before = bar.points.copy()
    plotter.camera.focal_point = view.focus + np.array([5.0, 0.0, 0.0])
    assert not np.allclose(before, bar.points)  # it follows the camera
    assert np.linalg.norm(bar.points[2] - bar.points[1]) == pytest.approx(10.0)
    plotter.close()


def test_a_window_opens_and_closes(off_screen, items):
    show_window(items, "Trial", "S1", verdict="pass", frame="LPS")


def test_a_missing_display_is_said_before_vtk_sees_it(items, off_screen, monkeypatch):
    need_display()  # nothing to say where nothing is shown
    monkeypatch.setattr(off_screen, "OFF_SCREEN", False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    with pytest.raises(OutputError, match=r"no display was found; use --shot FILE\.png"):
        need_display()
    with pytest.raises(OutputError, match="no display was found"):
        show_window(items, "Trial", "")


def test_missing_pyvista_is_said(items, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyvista", None)
    with pytest.raises(OutputError, match=r"need pyvista.*pip install pyvista"):
        save_shot(items, tmp_path / "shot.png")


def test_a_missing_folder_leaves_nothing_behind(off_screen, items, tmp_path):
    with pytest.raises(OutputError, match="nowhere"):
        save_shot(items, tmp_path / "nowhere" / "shot.png")
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_loaded_before_something_is_drawn():
    code = (
        "import sys, trajplan, trajplan.show;"
        "print([m for m in ('pyvista', 'matplotlib', 'vtkmodules') if m in sys.modules])"
    )
    out = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=dict(os.environ),
    )
    assert out.stdout.strip() == "[]"


def test_png_is_whole(shot, items):
    content = shot(items).read_bytes()
    Image.open(io.BytesIO(content)).verify()
