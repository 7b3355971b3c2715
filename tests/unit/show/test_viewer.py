"""Pictures are written and not blank; what is missing is said in one sentence."""

import io
import os
import subprocess
import sys

import numpy as np
import pytest
from edited_plans import few_draws
from PIL import Image

from trajplan.errors import OutputError
from trajplan.files import BearingsRecord
from trajplan.planner import judge_axes
from trajplan.show import findings_text, need_display, save_shot, scene, show_window
from trajplan.show._words.sides import arms

LPS = arms("LPS", BearingsRecord())


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
    image = pixels(shot(items, "Trial", findings_text(plan()), verdict="pass", arms=LPS))
    assert image.shape == (1000, 1600, 3)
    assert 0.1 < (image < 250).any(axis=2).mean() < 0.9
    assert green(image[:900, :1150]) > 0.01
    without = [item for item in items if item.role != "thread"]
    bare = pixels(shot(without, "Trial", findings_text(plan()), verdict="pass", arms=LPS))
    assert green(bare[:900, :1150]) < 0.0001


def test_the_background_is_white_for_print(shot, items):
    image = pixels(shot(items))
    assert (image[2:40, 2:200] == 255).all()


def test_words_and_cautions_are_in_the_picture(shot, items):
    silent = pixels(shot(items, "", ""))
    spoken = pixels(shot(items, "Trial", "screw 1 one\nscrew 2 two"))
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
    from trajplan.show._picture.camera import side_view
    from trajplan.show._picture.draw import look, scale_bar

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


def test_a_window_opens_and_closes(off_screen):
    show_window(few_draws(), lambda session: session.record.case.name)


def test_a_fault_behind_a_key_is_raised_once_the_window_is_closed(off_screen, monkeypatch):
    def shown(plotter, **_):
        plotter.iren.style.InvokeEvent("CharEvent")  # which is taken, and does nothing
        plotter.iren.interactor.SetKeySym("s")
        plotter.iren.style.InvokeEvent("KeyPressEvent")

    def broken(_):
        raise ZeroDivisionError

    monkeypatch.setattr(off_screen.Plotter, "show", shown)
    with pytest.raises(ZeroDivisionError):
        show_window(few_draws(), broken)


def test_a_missing_display_is_said_before_vtk_sees_it(off_screen, monkeypatch):
    need_display()  # nothing to say where nothing is shown
    monkeypatch.setattr(off_screen, "OFF_SCREEN", False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    said = r"found: DISPLAY is not set; set DISPLAY .*--shot FILE\.png, or save_plan_shot"
    with pytest.raises(OutputError, match=said):
        need_display()
    with pytest.raises(OutputError, match="no display was found"):
        show_window(None, None)  # neither is looked at


def test_missing_pyvista_is_said(items, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyvista", None)
    with pytest.raises(OutputError, match=r"need pyvista.*pip install -e \."):
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


def test_edited_plans_are_numbered_and_say_where_their_case_lies(tmp_path):
    import json

    from trajplan.show import save_edited

    session = few_draws()
    paths = [save_edited(session, tmp_path / "new", "plan") for _ in range(2)]
    assert [path.name for path in paths] == ["plan-edited-1.json", "plan-edited-2.json"]
    note = json.loads((tmp_path / "new" / "source.json").read_text())
    assert note["case"].endswith(session.setup.case.file.name)


def test_a_notebook_without_trame_is_told_what_to_install(off_screen, monkeypatch):
    import scooby

    from trajplan.show import viewer
    from trajplan.show._window import viewer as module

    plan = checked()
    monkeypatch.setattr(scooby, "in_ipykernel", lambda: True)
    monkeypatch.setattr(module, "find_spec", lambda _: None)
    with pytest.raises(OutputError, match=r"need trame.*pip install -e '\.\[notebook\]'"):
        viewer(plan)


def test_a_notebook_gets_the_picture_and_anyone_else_a_window(off_screen, monkeypatch):
    import scooby

    from trajplan.show import viewer
    from trajplan.show._window import viewer as module

    asked = []
    monkeypatch.setattr(off_screen.Plotter, "show", lambda _, **words: asked.append(words) or 1)
    plan = checked()
    assert viewer(plan) is None
    assert "jupyter_backend" not in asked[-1]
    monkeypatch.setattr(scooby, "in_ipykernel", lambda: True)
    monkeypatch.setattr(module, "find_spec", lambda _: object())
    assert viewer(plan) == 1
    assert asked[-1] == {"jupyter_backend": "server", "return_viewer": True}


def checked():
    """A plan in memory."""
    session = few_draws()
    return judge_axes(session.setup, session.state.table, placement=False)


def test_the_orientation_cross_shows_what_lies_where_and_follows_the_camera(off_screen, items):
    from trajplan.show._picture.camera import side_view
    from trajplan.show._picture.compass import compass
    from trajplan.show._picture.draw import look

    view = side_view(items, 1.2)
    plotter = off_screen.Plotter(window_size=[600, 500])
    look(plotter, view)
    compass(plotter, view, 1.2, LPS)

    def seen():
        """Letters that are shown, with their place on the picture about the middle of all."""
        there = [a for a in plotter.renderer.GetViewProps() if getattr(a, "input", "")]
        letters = {a.input: np.array(a.position) for a in there if a.GetVisibility()}
        word = next((name for name in letters if name.startswith("towards you")), "")
        letters.pop(word, None)
        middle = np.mean(list(letters.values()), axis=0)
        camera = plotter.camera
        up, right = np.array(camera.up), np.cross(camera.direction, camera.up)
        return {n: ((p - middle) @ right, (p - middle) @ up) for n, p in letters.items()}, word

    for position, up, right_letter, up_letter, near in [
        ((0, -100, 0), (0, 0, 1), "L", "S", "A"),  # from the front, head up: left at the right
        ((0, 100, 0), (0, 0, 1), "R", "S", "P"),
        ((0, 0, 100), (0, -1, 0), "R", "A", "S"),
        ((100, 0, 0), (0, 0, 1), "P", "S", "L"),
    ]:
        plotter.camera.focal_point = (0, 0, 0)
        plotter.camera.up = up
        plotter.camera.position = position
        letters, word = seen()
        assert len(letters) == 4
        assert max(letters, key=lambda name: letters[name][0]) == right_letter
        assert max(letters, key=lambda name: letters[name][1]) == up_letter
        assert word == f"towards you: {near}"
    plotter.camera.position = (100, -100, 60)  # oblique: nothing points at the viewer
    letters, word = seen()
    assert word == ""
    assert len(letters) == 6
    plotter.close()
