"""The window without a screen: what is drawn, where the mouse takes hold, what the keys do."""

from dataclasses import replace

import numpy as np
import pytest
from edited_plans import few_draws, session_of
from phantoms import ct_from, field_from, middled, volume_of
from scipy.spatial.transform import Rotation
from text_boxes import cut_off, overlaps, text_boxes

from trajplan.geometry import Plane
from trajplan.show._items.pressure import pressure_scale
from trajplan.show._picture.actors import Actors
from trajplan.show._window.commands import COMMANDS, find_command
from trajplan.show._window.ct_behind import NAME
from trajplan.show._window.layout import LEAST, layout_of
from trajplan.show._window.lens import Lens, pixels_to_line
from trajplan.show._window.window import Window


@pytest.fixture
def window(off_screen):
    made = Window(few_draws(), lambda session: session.record.case.name, off_screen=True)
    small(made.plotter)
    made.plotter.show(auto_close=False)
    yield made
    made.plotter.close()


def small(plotter):
    """A third of the size, edges left rough: quicker."""
    plotter.window_size = (520, 325)
    for renderer in plotter.renderers:
        renderer.disable_anti_aliasing()


def press(window, *keys):
    for key in keys:
        window.do(find_command(key))


def place(window, end):
    """Pixel of an end of the picked axis."""
    at = window.lens().pixels(np.stack(window.session.ends))[end]
    return tuple(round(float(v)) for v in at)


# lens


def test_lens_and_back():
    turn = Rotation.from_euler("xyz", [20, 30, 40], degrees=True).as_matrix()
    lens = Lens(np.array([1.0, 2.0, 3.0]), turn[0], turn[1], np.array([300.0, 200.0]), 0.1)
    assert lens.pixels(np.array([[1.0, 2.0, 3.0]]))[0] == pytest.approx([300.0, 200.0])
    point = np.array([4.0, -1.0, 2.0])
    start = lens.pixels(point[None])[0]
    by = np.array([17.0, -40.0])
    assert lens.pixels((point + lens.shift(by))[None])[0] == pytest.approx(start + by)
    assert lens.shift(by) @ turn[2] == pytest.approx(0.0)  # across the line of sight
    assert np.linalg.norm(lens.shift(by)) == pytest.approx(0.1 * np.hypot(17.0, 40.0))


def test_the_lens_sees_what_vtk_sees(window):
    """VTK's own coordinates are the witness."""
    renderer = window.plotter.renderers[0]
    for point in (*window.session.ends, np.array([3.0, -2.0, 60.0])):
        renderer.SetWorldPoint(*point, 1.0)
        renderer.WorldToDisplay()
        seen = window.lens().pixels(point[None])[0]
        assert seen == pytest.approx(renderer.GetDisplayPoint()[:2], abs=0.6)


def test_distance_to_a_line_in_the_picture():
    start, end = np.array([[0.0, 0.0], [5.0, 5.0]]), np.array([[10.0, 0.0], [5.0, 5.0]])
    assert pixels_to_line(np.array([4.0, 3.0]), start, end) == pytest.approx([3.0, np.sqrt(5.0)])
    assert pixels_to_line(np.array([-3.0, 4.0]), start, end)[0] == pytest.approx(5.0)


# what is drawn


def test_screws_are_drawn_as_planned_and_move_with_the_plan(window):
    session, drawn = window.session, window.actors.items
    thread = drawn()["screw 1 thread"].points
    screw = session.screw
    depth = (thread - screw.entry) @ np.array(screw.direction)
    assert (depth.min(), depth.max()) == pytest.approx(
        (screw.thread.start, screw.thread.end), abs=1e-5
    )
    mesh = window.actors._drawn["screw 1 thread"].mesh
    window.session.drag(np.array([0.0, 0.0, 3.0]))
    window.refresh()
    screw = session.screw
    assert window.actors._drawn["screw 1 thread"].mesh is mesh  # the actor stays, its points move
    depth = (np.asarray(mesh.points) - screw.entry) @ np.array(screw.direction)
    assert depth.max() == pytest.approx(screw.thread.end, abs=1e-3)  # VTK keeps float32


def test_holes_are_told_apart(window):
    items, screw = window.actors.items(), window.session.screw
    glide, pilot = items["screw 1 gliding hole"], items["screw 1 thread hole"]
    assert glide.colour != pilot.colour
    for item, hole in ((glide, screw.gliding_hole), (pilot, screw.thread_hole)):
        depth = (item.points - screw.entry) @ np.array(screw.direction)
        assert (depth.min(), depth.max()) == pytest.approx((hole.start, hole.end), abs=1e-5)
    assert pilot.points.shape == glide.points.shape


def test_nothing_is_drawn_twice_and_what_is_gone_is_gone(window):
    before = set(window.actors.items())
    press(window, "m")
    assert set(window.actors.items()) - before == {"screw 1 to screw 2", "screw 1 to screw 2 label"}
    press(window, "m")
    assert set(window.actors.items()) == before
    count = len(window.plotter.renderers[0].actors)
    window.refresh()
    assert len(window.plotter.renderers[0].actors) == count


def test_the_fracture_is_coloured_by_pressure_while_it_is_known(window):
    def fracture():
        return window.actors.items()["fracture Z1"]

    item = fracture()
    corner = item.points[item.faces]
    area = np.linalg.norm(
        np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1
    )
    force = 0.5 * area @ item.values
    assert force == pytest.approx(window.session.state.pressing.force, rel=0.02)
    top = window._band.words[2]
    assert top.GetVisibility()
    assert float(top.input.removesuffix(" MPa")) == pytest.approx(
        pressure_scale(list(window.actors.items().values())), rel=0.01
    )
    window.session.drag(np.array([0.0, 90.0, 0.0]))
    window.session.pick(1)
    window.session.drag(np.array([0.0, 90.0, 0.0]))  # both screws are off the bone now
    window.refresh()
    assert fracture().values is None
    assert not top.GetVisibility()
    press(window, "z", "z")
    assert fracture().values == pytest.approx(item.values)
    assert top.GetVisibility()


def test_steps_show_what_is_done_so_far(window):
    def roles(name):
        return {i.role for key, i in window.actors.items().items() if key.startswith(f"{name} ")}

    whole = roles("screw 1")
    seen = {}
    while window.session.step is None or window.session.step.screw != "screw 2":
        press(window, "n")
        if window.session.step.screw == "screw 1":
            seen[window.session.step.step.action] = roles("screw 1")
        assert "head" not in roles("screw 2")
    assert "gliding hole" in seen["Gliding hole"]
    assert "thread hole" not in seen["Gliding hole"]
    assert "thread hole" in seen["Thread hole"]
    assert "head" not in seen["Thread hole"]
    assert seen["Screw"] == whole
    assert window.actors.items()["fracture Z1"].values is None
    while window.session.step is not None:
        press(window, "p")
    assert roles("screw 2") == whole


def test_a_cut_leaves_what_lies_behind_it_and_shows_bone_in_section(window):
    press(window, "c")
    items = window.actors.items()
    frame_normal = np.array(window.plotter.renderers[0].camera.direction) * -1.0
    bone = items["cut bone"]
    corner = bone.points[bone.faces]
    area = np.linalg.norm(
        np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1
    )
    # The tube is cut along its axis: 28 by 100 mm less a canal of 18 by 90 mm (closed form).
    assert area.sum() / 2.0 == pytest.approx(28.0 * 100.0 - 18.0 * 90.0, rel=1e-6)
    height = (bone.points - window.session.ends[0]) @ frame_normal
    assert height == pytest.approx(-0.02)
    clipped = {
        drawn.item.role
        for drawn in window.actors._drawn.values()
        for actor in drawn.actors
        if drawn.mesh is not None and actor.mapper.GetNumberOfClippingPlanes()
    }
    assert clipped == {"bone", "hollow", "fracture", "outline"}
    press(window, "period")
    turned = window.actors.items()["cut bone"]
    assert abs((turned.points - window.session.ends[0]) @ frame_normal).max() > 0.5
    press(window, "c")
    assert "cut bone" not in window.actors.items()
    assert not any(
        actor.mapper.GetNumberOfClippingPlanes()
        for drawn in window.actors._drawn.values()
        for actor in drawn.actors
        if drawn.mesh is not None
    )


def test_down_the_drill_looks_along_the_axis_and_goes_with_it(window):
    press(window, "d")
    camera = window.plotter.renderers[0].camera
    assert np.array(camera.direction) == pytest.approx(window.session.screw.direction, abs=1e-5)
    press(window, "Up", "Up")
    assert np.array(camera.direction) == pytest.approx(window.session.screw.direction, abs=1e-5)
    window.turned_by_hand()  # then it stays where it was turned to
    direction = np.array(camera.direction)
    press(window, "Up")
    assert np.array(camera.direction) == pytest.approx(direction)


def test_true_fragments_are_told_apart(off_screen):
    from builders import case_of
    from edited_plans import axes
    from specimens import box

    from trajplan.planner import check_axes, plan_record
    from trajplan.show import Session

    lower, upper = box((-10, -10, 0), (10, 10, 12)), box((-10, -10, 12), (10, 10, 24))
    case = case_of(fracture={"plane": {"point": [0, 0, 12], "normal": [0, 0, 1]}})
    case = case.model_copy(
        update={"bone": case.bone.model_copy(update={"mesh": None, "fragments": ("a", "b")})}
    )
    table = axes(points=((0.0, 0.0, 12.0),), direction=np.array([0.0, 0.0, 1.0]))
    plan = check_axes(case, table, bone=[lower, upper])
    window = Window(Session(plan.setup, plan_record(plan)), lambda _: None, off_screen=True)
    bones = [item for item in window.actors.items().values() if item.role == "bone"]
    assert len(bones) == 2
    assert len({item.colour for item in bones}) == 2
    spans = sorted((i.points[:, 2].min(), i.points[:, 2].max()) for i in bones)
    assert spans == [(0.0, 12.0), (12.0, 24.0)]
    window.plotter.close()


def test_large_meshes_are_thinned_only_while_the_picture_moves(off_screen, monkeypatch):
    monkeypatch.setattr("trajplan.show._picture.actors.MANY_FACES", 100)
    monkeypatch.setattr("trajplan.show._picture.actors.COARSE_CELLS", 8)
    window = Window(few_draws(), lambda _: None, off_screen=True)
    drawn = next(d for d in window.actors._drawn.values() if d.item.role == "bone")

    def faces():
        return {actor.mapper.GetInput().GetNumberOfCells() for actor in drawn.actors}

    whole = faces()
    assert whole == {len(drawn.item.faces)}
    window.refresh(moving=True)
    assert max(faces()) < min(whole)
    assert [bool(actor.visibility) for actor in drawn.actors] == [False, True]  # the near side
    window.refresh()
    assert faces() == whole
    assert all(actor.visibility for actor in drawn.actors)
    window.plotter.close()


def test_while_an_axis_moves_only_view_and_words_are_drawn(window):
    """What is left out stays in the picture; at rest the picture is that of a fresh window."""
    window.refresh(moving=True)
    window.refresh()
    session, renderers = window.session, window.plotter.renderers
    finely = window.plotter.screenshot(return_img=True)
    session.grab()
    for step in range(3):
        session.drag(np.array([0.0, 0.0, 4.0 * step]))
        window.refresh(moving=True)
    assert [bool(pane.GetDraw()) for pane in renderers] == [True, True, False, False, False]
    moving = window.plotter.screenshot(return_img=True)
    changed = (moving != finely).any(axis=2)
    side, below = round(0.7 * 520), round(0.93 * 325)
    assert changed[:below, :side].any()
    assert changed[: round(0.3 * 325), side:].any()  # the words
    assert not changed[round(0.5 * 325) : below, side + 2 :].any()  # buttons and key
    assert not changed[below + 2 :].any()  # cautions
    session.release()
    session.undo()
    window.refresh()
    assert all(pane.GetDraw() for pane in renderers)
    assert (window.plotter.screenshot(return_img=True) == finely).all()


@pytest.mark.parametrize(
    ("key", "axis", "sign"),
    [("l", "right", 1), ("j", "right", -1), ("i", "up", 1), ("k", "up", -1)],
)
def test_keys_turn_the_near_side_and_nothing_else(window, key, axis, sign):
    before, plan = window.lens(), window.session.record
    near = before.focus + 10.0 * np.cross(before.right, before.up)
    press(window, key)
    after = window.lens()
    moved = (near - after.focus) @ getattr(after, axis)
    assert moved == pytest.approx(sign * 10.0 * np.sin(np.radians(15.0)))
    assert window.session.record is plan
    press(window, {"l": "j", "j": "l", "i": "k", "k": "i"}[key])
    assert window.lens().right == pytest.approx(before.right, abs=1e-9)


def test_keys_come_nearer_and_go_farther(window):
    size = window.lens().size
    press(window, "plus")
    assert window.lens().size == pytest.approx(0.8 * size)
    press(window, "minus")
    assert window.lens().size == pytest.approx(size)


def test_one_change_is_one_picture(window):
    """No half-made picture is seen, whatever comes and goes in it."""
    seen = []
    window.plotter.render_window.AddObserver("RenderEvent", lambda *_: seen.append(1))
    for key in ("m", "n", "n", "p", "c"):
        press(window, key)
    assert len(seen) == 5


def test_what_did_not_move_is_not_drawn_anew(window):
    drawn = window.actors._drawn
    shown = {name: (one.item, one.mesh) for name, one in drawn.items()}
    window.session.drag(np.array([0.0, 0.0, 2.0]))  # of screw 1
    window.refresh()
    still = {name for name, one in drawn.items() if shown.get(name, (None,))[0] is one.item}
    assert {"screw 2 thread", "screw 2 head", "screw 2 label"} <= still
    assert not any(name.startswith("screw 1 thread") for name in still)


# mouse, keys, buttons


@pytest.mark.parametrize(("end", "hold"), [(0, "entry"), (1, "target")])
def test_a_drag_moves_the_end_under_the_mouse(window, end, hold):
    session = window.session
    ends = session.ends
    start = place(window, end)
    assert window.mouse.press(start)
    for step in range(1, 11):
        assert window.mouse.move((start[0] + step, start[1] - 2 * step))
    assert window.mouse.release((start[0] + 10, start[1] - 20))
    assert session.looking.hold == hold
    moved = (session.state.table.start, session.state.table.end)[end][0]
    assert moved == pytest.approx(ends[end] + window.lens().shift(np.array([10.0, -20.0])))
    still = (session.state.table.end, session.state.table.start)[end][0]
    assert still == pytest.approx(ends[1 - end])
    press(window, "z")
    assert not session.edited


def test_a_press_beside_the_grips_is_left_to_the_view(window):
    assert not window.mouse.press((20, 250))
    assert not window.mouse.move((60, 260))
    assert not window.mouse.release((60, 260))
    assert not window.session.edited


def test_a_trembling_click_moves_nothing(window):
    at = place(window, 1)
    window.mouse.press(at)
    window.mouse.move((at[0] + 2, at[1] - 2))
    window.mouse.release((at[0] + 2, at[1] - 2))
    assert not window.session.edited


def test_a_click_picks_a_screw(window):
    ends = np.stack(window.session.ends_of(1))
    at = window.lens().pixels(ends).mean(axis=0)
    pixel = (int(at[0]), int(at[1]))
    assert not window.mouse.press(pixel)
    window.mouse.release(pixel)
    assert window.session.screw.id == "screw 2"
    assert "screw 2  HA4.5" in window.words.shown
    window.pick(0)
    assert window.session.screw.id == "screw 1"


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.text)
def test_every_command_has_a_key_and_a_button(command):
    assert all(find_command(key) is command for key in command.keys)
    assert find_command(command.keys[0].upper() if len(command.keys[0]) == 1 else "Tab")


def test_every_button_is_where_it_is_pressed(window):
    for command in COMMANDS:
        assert window.buttons.at(window.buttons.pixel(command)) is command
    assert window.buttons.at((5, 250)) is None
    heights = [window.buttons.pixel(command)[1] for command in COMMANDS[:8]]
    assert heights == sorted(heights, reverse=True)  # read from the top down
    holding = find_command("e")
    window.mouse.press(window.buttons.pixel(holding))
    assert window.session.looking.hold == "entry"


def test_arrows_nudge_in_the_picture(window):
    lens, target = window.lens(), window.session.ends[1]
    press(window, "Right")
    assert window.session.state.table.end[0] == pytest.approx(target + 0.5 * lens.right)
    press(window, "z")
    window.fine = True
    press(window, "Down")
    assert window.session.state.table.end[0] == pytest.approx(target - 0.1 * lens.up)


def test_what_cannot_be_saved_is_said_in_the_window(off_screen):
    from trajplan.errors import OutputError

    def keep(_):
        raise OutputError("the disk is full", remedy="make room")

    window = Window(few_draws(), keep, off_screen=True)
    press(window, "s")
    assert window._said.input == "the disk is full; make room"
    press(window, "a")
    assert "Drag a blue ring" in window._said.input
    window.plotter.close()


def test_words_follow_the_plan(window):
    assert "(edited)" not in window.words.title
    press(window, "Up")
    assert "(edited)" in window.words.title
    assert "press W" in " ".join(window.words._lines)
    assert window.words.verdict.startswith("Verdict so far: ")
    gauge = f"gauge {window.session.screw.gauge:.1f} mm"
    assert gauge in " ".join(window.words._lines)
    press(window, "w")
    assert "press W" not in " ".join(window.words._lines)
    assert window.words.verdict == f"Verdict: {window.session.record.verdict}"


def test_a_plan_without_screws_opens(off_screen):
    from edited_plans import axes

    session = session_of(axes(points=((0.0, 90.0, 50.0),)), placement={"draws": 0})
    window = Window(session, lambda _: None, off_screen=True)
    small(window.plotter)
    for command in COMMANDS:
        if command.keys[0] not in ("q", "s"):
            window.do(command)
    window.mouse.press((300, 500))
    window.mouse.release((300, 500))
    assert not session.edited
    window.plotter.close()


def test_a_plane_cuts_off_the_side_its_normal_points_to(off_screen, bone):
    from trajplan.show._items.item import solid_item

    plotter = off_screen.Plotter(window_size=[300, 300])
    actors = Actors(plotter, lambda _: None)
    actors.show([solid_item("tube", "avoid", (bone.vertices, bone.faces))])
    actors.cut(Plane(np.zeros(3), np.array([0.0, 0.0, 1.0])))
    plotter.view_xz()
    plotter.enable_parallel_projection()
    image = plotter.screenshot(return_img=True).astype(int)
    ink = (image != image[2, 2]).any(axis=2)
    rows = np.flatnonzero(ink.any(axis=1))
    assert rows.min() > 140  # nothing above the middle of the picture, which is z = 5
    plotter.close()


def test_a_cut_shows_the_ct_behind_the_screw(off_screen):
    """What is read is a function of place, so every point of the plane is known."""
    from trajplan.show import Session

    session = few_draws()
    surface = session.setup.bone.surface.vertices
    size, middle = (60, 60, 160), surface.mean(axis=0)
    matrix = middled(size, (1.5, 1.5, 1.5), None, middle)

    def scanned(at):
        return 500.0 + 20.0 * (at[..., 2] - middle[2])

    field = field_from(ct_from(volume_of(scanned, size, matrix), matrix), surface)
    settings = replace(session.setup.settings, field=field)
    session = Session(replace(session.setup, settings=settings), session.record)
    window = Window(session, lambda _: None, off_screen=True)
    small(window.plotter)
    window.plotter.show(auto_close=False)
    assert NAME not in window.plotter.renderers[0].actors
    press(window, "c")
    mesh = window.plotter.renderers[0].actors[NAME].mapper.dataset
    known = np.isfinite(mesh["HU"])
    assert known.mean() > 0.6  # the field reaches a little past the bone
    assert mesh["HU"][known] == pytest.approx(scanned(mesh.points[known]), abs=0.1)
    start, end = session.ends
    way = (end - start) / np.linalg.norm(end - start)
    across = np.cross(mesh.points[1] - mesh.points[0], mesh.points[-1] - mesh.points[0])
    assert abs(across @ way) < 1e-3 * np.linalg.norm(across)  # the axis lies in it
    inside = (mesh.points - start) @ way
    assert inside.min() < -10.0 < np.linalg.norm(end - start) + 10.0 < inside.max()
    window.refresh(moving=True)  # a drag is drawn without it
    assert NAME not in window.plotter.renderers[0].actors
    window.refresh()
    press(window, "c")
    assert NAME not in window.plotter.renderers[0].actors
    window.plotter.close()


# the size


SIZES = [(1280, 720), (1600, 1000), (1920, 1080)]


@pytest.mark.parametrize("size", SIZES)
def test_no_word_lies_over_another_or_is_cut_off_at_any_size(window, size):
    window.plotter.window_size = size
    press(window, "m")
    assert window.layout.size == size
    assert len(text_boxes(window.plotter)) > 60
    assert overlaps(window.plotter) == []
    assert cut_off(window.plotter) == []


def test_words_that_do_not_fit_are_scrolled_to(window):
    window.plotter.window_size = LEAST
    every, seen = list(window.words._lines), []
    first = window.words.shown
    assert first.splitlines()[-1].startswith("Lines 1 to ")
    for _ in range(20):
        seen += window.words.shown.splitlines()[:-1]
        press(window, "Next")
    assert list(dict.fromkeys(seen)) == list(dict.fromkeys(every))
    assert window.words.shown.splitlines()[-2] == every[-1]
    for _ in range(20):
        press(window, "Prior")
    assert window.words.shown == first


def test_the_panel_starts_anew_with_another_screw(window):
    window.plotter.window_size = LEAST
    press(window, "Next")
    window.pick(1)
    assert window.words.shown.splitlines()[1].startswith("screw 2")


def test_all_words_fit_a_larger_window(window):
    window.plotter.window_size = (2400, 1800)
    assert window.words.shown.splitlines() == window.words._lines


@pytest.mark.parametrize("size", [*SIZES, (1000, 1400), (520, 325)])
def test_panes_fill_the_window_and_keep_apart(size):
    made = layout_of(size)
    panes = [made.view, made.words, made.buttons, made.key, made.strip]
    area = sum((p[2] - p[0]) * (p[3] - p[1]) for p in panes)
    assert area == pytest.approx(1.0)
    assert all(p[2] > p[0] and p[3] > p[1] for p in panes)


def test_buttons_are_found_where_they_are_drawn_at_any_size(window):
    for size in SIZES:
        window.plotter.window_size = size
        for command in COMMANDS:
            assert window.buttons.at(window.buttons.pixel(command)) is command
