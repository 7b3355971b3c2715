"""Every case in `meshes/`, planned as a user would, and what a surgeon would look at in it."""

import re
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import trimesh
from text_boxes import cut_off, overlaps, text_boxes

from scripts.make_meshes import OBLIQUE_SHIFT, SHAFT_PLANE
from trajplan.checks import Verdict
from trajplan.cli import main
from trajplan.files import PlanFile, read_case, read_plan
from trajplan.planner import plan_case, set_up
from trajplan.show import plan_scene
from trajplan.show._picture.front import front
from trajplan.show._picture.vtk import quiet

MESHES = Path(__file__).parents[2] / "meshes"
SCREWS = {
    "shaft": 2, "shaft_groups": 2, "end": 2, "end_wires": 2, "oblique": 2, "wedge": 3, "spiral": 3,
}  # fmt: skip


@dataclass(frozen=True)
class Made:
    status: int
    plan: PlanFile
    folder: Path


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Every case, planned once."""
    out = tmp_path_factory.mktemp("demo")

    def _make(name):
        folder = out / name
        case = MESHES / f"{name}.toml"
        status = main(["plan", str(case), "--no-picture", "--out", str(folder)])
        return Made(status, read_plan(folder / "plan.json"), folder)

    return {name: _make(name) for name in SCREWS}


def mesh(name):
    return trimesh.load_mesh(MESHES / name)


def vectors(screws, field="direction"):
    return np.array([getattr(screw, field) for screw in screws])


def every_finding(plan):
    own = [finding for part in (*plan.screws, *plan.wires) for finding in part.findings]
    return [*plan.findings, *own]


def stands_in(measured, sentence):
    """Whether a number of the sentence is the measured one, to the digits that are written."""
    for word in re.findall(r"\d+(?:\.\d+)?", sentence):
        digits = len(word.partition(".")[2])
        if abs(float(word) - abs(measured)) <= 0.5 * 10.0**-digits + 1e-9:
            return True
    return False


def test_a_number_is_found_in_its_sentence_or_not():
    assert stands_in(-1.26, "It ends 1.3 mm short.")
    assert not stands_in(1.26, "It ends 1.2 mm short.")
    assert not stands_in(0.0, "No thread bites.")


@pytest.mark.parametrize("name", SCREWS)
def test_what_a_finding_measured_is_the_number_of_its_sentence(made, name):
    silent = {
        (f.rule, f.verdict, f.measured, f.why)
        for f in every_finding(made[name].plan)
        if f.measured is not None and not stands_in(f.measured, f.why)
    }
    assert silent == set()


@pytest.mark.parametrize("name", SCREWS)
def test_the_options_table_says_of_the_plan_what_the_plan_says(made, name):
    plan = made[name].plan
    kinds = {screw.kind for screw in plan.screws}
    own = [o for o in plan.options if o.count == len(plan.screws) and {o.kind} == kinds]
    for option in own:
        squeeze = sum(screw.squeeze.estimate for screw in plan.screws)
        weakest = min(screw.holding.low for screw in plan.screws)
        assert option.squeeze == pytest.approx(squeeze, abs=1e-4)
        assert option.holding == pytest.approx(weakest, abs=1e-4)
        assert option.share == pytest.approx(plan.contact.share)
        assert option.slip_low == plan.slip_reserve.low
    assert own or len(kinds) > 1 or len(plan.screws) > 3


@pytest.mark.parametrize("name", SCREWS)
def test_each_screw_says_why_it_was_chosen(made, name):
    for screw in made[name].plan.screws:
        assert f"{screw.length:g} mm" in screw.reason


def test_every_case_is_tried():
    """The displaced one is put together first: `test_reduce.py`; CT: `test_ct_plan.py`; plates:
    `test_plates.py`.
    """
    plated = {f"plate_{work}" for work in ("compress", "through", "protect", "buttress")}
    elsewhere = {"displaced", "ct_shaft", *plated}
    assert {path.stem for path in MESHES.glob("*.toml")} == SCREWS.keys() | elsewhere


@pytest.mark.parametrize("name", SCREWS)
def test_it_plans_and_nothing_fails(made, name):
    assert made[name].status == 0
    plan = made[name].plan
    assert len(plan.screws) == SCREWS[name]
    found = [*plan.findings, *(f for part in (*plan.screws, *plan.wires) for f in part.findings)]
    assert "fail" not in {finding.verdict for finding in found}


@pytest.mark.parametrize("name", SCREWS)
def test_every_screw_has_its_drawings(made, name, tmp_path):
    """Zones that a drawing's plane passes by, too: two drawings a screw."""
    plan = made[name].folder / "plan.json"
    assert main(["export", str(plan), "--sections", str(tmp_path)]) == 0
    assert len(list(tmp_path.glob("*.svg"))) == 2 * SCREWS[name]


def test_the_thread_of_a_partial_screw_is_named(made, capsys):
    """16 or 32 mm are on the tray: the wrong one would bite both fragments."""
    for screw in made["end"].plan.screws:
        assert screw.thread_length == pytest.approx(screw.thread.end - screw.thread.start)
        assert screw.thread_length in {16.0, 32.0}
    assert all(screw.thread_length is None for screw in made["shaft"].plan.screws)
    main(["drill", str(made["end"].folder / "plan.json")])
    assert f"{made['end'].plan.screws[0].thread_length:g} mm thread" in capsys.readouterr().out


def test_gap_and_step_of_the_oblique_fragments(made):
    """The upper one was moved by a known way off: the gap is its part along the fracture normal.

    The step at a place of the fracture line is its part along the outer surface's normal
    there (see `fracture_between`); the fracture line is the unbroken shaft's, cut by trimesh.
    """
    (pair,) = made["oblique"].plan.fracture.fits
    normal = SHAFT_PLANE[1] / np.linalg.norm(SHAFT_PLANE[1])
    assert pair.gap.mean == pytest.approx(OBLIQUE_SHIFT @ normal, abs=0.15)
    skin = max(mesh("shaft.stl").split(), key=lambda part: part.volume)
    lines, faces = trimesh.intersections.mesh_plane(skin, normal, SHAFT_PLANE[0], return_faces=True)
    step = np.abs(skin.face_normals[faces] @ OBLIQUE_SHIFT)
    length = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    assert pair.step.mean == pytest.approx(np.average(step, weights=length), abs=0.15)
    assert pair.step.largest == pytest.approx(step.max(), abs=0.15)
    assert pair.overlap_depth == 0.0


def test_each_fracture_of_the_wedge_gets_a_screw(made):
    plan = made["wedge"].plan
    names = ["wedge_lower.stl", "wedge_upper.stl", "wedge_piece.stl"]
    pairs = {frozenset(screw.fragments) for screw in plan.screws}
    assert pairs == set(map(frozenset, combinations(names, 2)))
    closed = next(f for f in plan.findings if f.rule == "fractures_closed")
    assert (closed.verdict, closed.measured) == ("pass", 3.0)


def test_one_screw_leaves_two_fractures_of_the_wedge_open():
    """A fracture of several that no screw holds fails; a plate, as the case says, may hold it."""
    changes = {"screws": {"count": 1, "candidates": 600}, "placement": {"draws": 0}}
    plan = plan_case(read_case(MESHES / "wedge.toml", changes))
    said = next(finding for finding in plan.findings if finding.rule == "fractures_closed")
    assert (said.verdict, said.measured, said.limit) == (Verdict.FAIL, 1.0, 3.0)
    assert said.why.count("between wedge_") == 2
    changes["screws"]["protection"] = "plate"
    plan = plan_case(read_case(MESHES / "wedge.toml", changes))
    said = next(finding for finding in plan.findings if finding.rule == "fractures_closed")
    assert said.verdict is Verdict.CAUTION
    assert "decide whether the plate alone holds it" in said.why


def test_the_screws_of_the_wedge_name_their_fragments_in_order(made):
    """Head and tip lie in the fragments named first and last, by trimesh's own test."""
    for screw in made["wedge"].plan.screws:
        entry, exit_ = np.array(screw.entry), np.array(screw.exit)
        way = np.array(screw.direction)
        first, last = screw.fragments[0], screw.fragments[-1]
        assert mesh(first).contains([entry + way]).all()
        assert mesh(last).contains([exit_ - way]).all()
        thread = screw.thread_hole.start + 0.1  # past the fracture nothing of the near fragment
        beyond = entry + np.linspace(thread, screw.gauge, 200)[:, None] * way
        assert not mesh(first).contains(beyond).any()


def test_the_zones_of_the_spiral_turn_round_the_shaft(made):
    """The normal of each zone against that of the straight lines that the surface is made of.

    A line runs at each height from the bearing of 90 degrees to 270 degrees plus 3 degrees a
    millimetre above the middle at 112 mm (`scripts/mesh_breaks.py`): its normal turns by half
    of that, since it halves the angle at the circumference (Euclid, Elements III.20).
    """
    zones = made["spiral"].plan.fracture.zones
    assert len(zones) >= 3
    height = np.array([zone.point[2] for zone in zones]) - 112.0
    normal = np.array([zone.normal for zone in zones])
    bearing = np.degrees(np.arctan2(normal[:, 1], normal[:, 0]))
    off = (bearing - 1.5 * height + 90.0) % 180.0 - 90.0  # a normal may point either way
    assert np.abs(off).max() < 15.0
    assert np.ptp(height) * 1.5 > 60.0


def test_the_screws_of_the_spiral_follow_it_round(made):
    plan = made["spiral"].plan
    assert len({screw.zone for screw in plan.screws}) == 3
    assert max(screw.tilt for screw in plan.screws) < 20.0
    along = np.argsort(vectors(plan.screws, "entry")[:, 2])
    way = vectors(plan.screws)[along]
    turn = np.diff(np.unwrap(np.arctan2(way[:, 1], way[:, 0])))
    assert (np.degrees(turn) > 10.0).all()


def test_the_wires_run_along_the_joint_from_the_open_side(made):
    plan = made["end_wires"].plan
    assert [wire.kind for wire in plan.wires] == ["W1.6", "W1.6"]
    assert all(screw.technique == "lag" and screw.kind == "HB6.5" for screw in plan.screws)
    joint = mesh("end_joint.stl")
    normal = np.linalg.svd(joint.vertices - joint.vertices.mean(axis=0))[2][2]
    slope = np.degrees(np.arcsin(np.abs(vectors(plan.wires) @ normal)))
    assert slope.max() < 10.0
    assert (vectors(plan.wires)[:, 0] < -0.5).all()  # the case opens the side of +x, 60 degrees
    rules = {f.rule: f.verdict for wire in plan.wires for f in wire.findings}
    assert (rules["wire_clear"], rules["approach"]) == ("pass", "pass")


@pytest.mark.parametrize("name", SCREWS)
def test_no_word_of_the_first_page_lies_over_another_or_is_cut_off(made, name, monkeypatch):
    monkeypatch.setattr("trajplan.show._picture.front.draw", lambda *_: None)  # words alone
    setup = set_up(read_case(MESHES / f"{name}.toml"))
    with quiet():
        plotter = front(setup, made[name].plan, plan_scene(setup, made[name].plan))
        plotter.render()
        assert {screw.id for screw in made[name].plan.screws} <= {
            text.strip() for _, text, _ in text_boxes(plotter)
        }
        assert overlaps(plotter) == []
        assert cut_off(plotter) == []
        plotter.close()
