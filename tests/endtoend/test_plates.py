"""Plates from the case to the plan file: the demonstrations, what is refused, what is offered."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
import pyvista as pv
import trimesh
from specimens import real_bone
from text_boxes import cut_off, overlaps, text_boxes

from trajplan.errors import CaseError
from trajplan.files import AxesTable, parse_plan, plan_json, read_case
from trajplan.planner import check_axes, plan_case, plan_record
from trajplan.show import plan_text
from trajplan.show._items.plate import every_screw, plate_items
from trajplan.show._picture.camera import framed
from trajplan.show._picture.front import front
from trajplan.show._picture.labels import labels
from trajplan.show._picture.sight import Sight
from trajplan.show._picture.vtk import quiet

MESHES = Path(__file__).parents[2] / "meshes"
FEW = {"placement": {"draws": 0}}
NAMES = ("compress", "through", "protect", "buttress")


def planned(name, changes=None):
    return plan_case(read_case(MESHES / f"{name}.toml", FEW | (changes or {})))


@pytest.fixture(scope="module")
def plans():
    some = {"screws": {"candidates": 500}}
    return {name: plan_record(planned(f"plate_{name}", some)) for name in NAMES}


def test_every_demonstration_finds_its_place(plans):
    for name, plan in plans.items():
        (plate,) = plan.plates
        assert plan.verdict in ("unknown", "caution"), (name, plan.verdict)
        assert plate.work == {"through": "compress"}.get(name, name)
        assert not [f for f in plate.findings if f.verdict == "fail"]
        assert parse_plan(plan_json(plan).encode(), Path("plan.json")) == plan


def test_words_of_the_first_page_stay_in_their_panes(plans, monkeypatch):
    """Screws are shown or counted, and no word lies over another or is cut off."""
    looks = [Sight("along it", *np.eye(3)[:2])] * 2
    monkeypatch.setattr("trajplan.show._picture.front.sights", lambda *_: looks)
    monkeypatch.setattr("trajplan.show._picture.front._view", lambda *_: None)
    for plan in plans.values():
        with quiet():
            plotter = front(None, plan, [])
            plotter.render()
            told = [text for _, text, _ in text_boxes(plotter)]
            more = sum(int(text.split()[2]) for text in told if text.endswith("see the report"))
            shown = {screw.id for screw in every_screw(plan)} & {*told}
            assert len(shown) == len(every_screw(plan)) - more >= 4
            assert overlaps(plotter) == []
            assert cut_off(plotter) == []
            plotter.close()


def test_each_hole_of_a_plate_is_named_beside_the_picture(plans):
    """Empty ones too, each with a line that ends on its hole: none is taken for its neighbour."""
    (plate,) = plans["buttress"].plates
    items = plate_items(plate)
    empty = [hole for hole in plate.hole if hole.use == "empty"]
    assert len(empty) == 2
    toward, up = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    near = np.vstack([item.points for item in items])
    view = framed(near, near, toward, up, 1.5, (0.2, 0.2))
    with quiet():
        plotter = pv.Plotter(off_screen=True)
        labels(plotter, items, view, (900.0, 600.0))
        lines = [actor.mapper.dataset.points for actor in plotter.actors.values()
                 if isinstance(actor, pv.Actor)]  # fmt: skip
        told = [text.strip() for _, text, _ in text_boxes(plotter)]
        plotter.close()
    assert {f"{hole.number} empty" for hole in empty} <= {*told}
    for hole in empty:
        away = [np.linalg.norm(np.subtract(ends[-1], hole.centre)) for ends in lines]
        assert sum(one < 5.0 for one in away) == 1  # within the plate's thickness


def test_a_transverse_fracture_is_pressed_by_one_eccentric_screw(plans):
    plan = plans["compress"]
    (plate,) = plan.plates
    assert plan.screws == ()
    uses = [hole.use for hole in plate.hole]
    assert uses.count("eccentric") == 1
    assert plate.shift == 1.0  # one eccentric screw (Wheeless' Textbook of Orthopaedics, T10)
    pushed = plate.hole[uses.index("eccentric")]
    assert pushed.fragment != plate.first_fragment
    assert np.sign(pushed.offset) == -np.sign(pushed.along)  # away from the fracture
    # 131 N were measured for a 3.5 mm plate (Ferringo et al. 2023, PLoS One 18:e0286937, abstract)
    assert plate.forces.squeeze.low < 131.0 < plate.forces.squeeze.high


def test_the_lag_screw_runs_through_the_plate_after_it_has_pressed(plans):
    plan = plans["through"]
    (plate,), (screw,) = plan.plates, plan.screws
    assert plate.lag == (screw.id,)
    assert plate.proposed
    says = [step.says for step in plate.order]
    lag = next(i for i, step in enumerate(plate.order) if screw.id in step.screws)
    assert any("eccentrically" in one for one in says[:lag])
    hole = next(h for h in plate.hole if h.screw == screw.id)
    # the head turns about the middle of its sphere, half sunk in a plate of 3.6 mm
    ball = np.array(hole.centre) - 3.6 * np.array(hole.axis)
    seat = np.array(screw.entry) + screw.seat * np.array(screw.direction)
    np.testing.assert_allclose(seat, ball + 4.0 * np.array(screw.direction), atol=1e-4)


def test_lag_screws_come_first_where_a_plate_protects(plans):
    (plate,) = plans["protect"].plates
    assert plate.order[0].screws == ("screw 1", "screw 2", "screw 3")
    assert {hole.use for hole in plate.hole} == {"neutral", "empty"}
    assert min(plate.screws_each_side) >= 3


def test_a_split_end_is_held_up_from_below(plans):
    (plate,) = plans["buttress"].plates
    first = next(step for step in plate.order if step.holes)
    shaft = [h for h in plate.hole if h.use == "neutral"]
    nearest = min(shaft, key=lambda h: abs(h.along))
    assert first.holes == (nearest.number,)
    assert plate.forces.buttress.low > 0.0
    opening = next(f for f in plans["buttress"].findings if f.rule == "opening_load")
    assert opening.verdict in ("unknown", "pass")


ALWAYS = {"screws_each_side", "plate_fit", "plate_bend", "plate_cuts", "plate_on_bone", "screw_gap"}


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("compress", {"eccentric_screws"}),
        ("through", {"eccentric_screws"}),
        ("protect", {"plate_meets_screw", "hole_over_fracture"}),
        (
            "buttress",
            {
                "plate_meets_screw",
                "antiglide_hole",
                "buttress_reach",
                "buttress_push",
                "plate_clear",
            },
        ),
    ],
)
def test_every_rule_is_asked(plans, name, more):
    (plate,) = plans[name].plates
    assert ALWAYS | more <= {finding.rule for finding in plate.findings}
    asked = {finding.rule for screw in plate.screws for finding in screw.findings}
    assert {"tip_past", "wall_breach", "leaves_bone", "drill_access"} <= asked


def test_what_a_teacher_looks_for(plans):
    for name, plan in plans.items():
        (plate,) = plan.plates
        # as many screws as are of use on either side
        assert max(plate.screws_each_side) <= 4, name
        # it is bent to the bone where its screws pull: 1 mm is the limit
        assert max(hole.gap for hole in plate.hole if hole.screw) <= 1.2, name
    # antiglide: hole 3 to 5 mm above the line (AO Foundation, malleoli), plate on over the fragment
    (plate,) = plans["buttress"].plates
    told = {finding.rule: finding for finding in plate.findings}
    assert 3.0 <= told["antiglide_hole"].measured <= 5.0
    assert told["buttress_reach"].measured >= 16.0  # from hole to hole


def test_a_plate_that_only_protects_presses_no_transverse_fracture():
    plate = {"plate": [{"kind": "ThirdTube3.5", "screws": ["HA3.5"]}]}
    plan = planned("plate_compress", plate | {"screws": {"count": 0, "candidates": 50}})
    (across,) = (f for f in plan.findings if f.rule == "transverse")
    assert across.verdict.word == "fail"
    assert "does not press it" in across.why


def test_lag_screws_that_find_no_place_beside_a_plate_that_presses():
    wanted = {"screws": {"count": 1, "kinds": ["HB6.5"], "candidates": 50}}
    plan = planned("plate_through", wanted | {"plate": [{"kind": "Demo4.5", "holes": 8}]})
    assert plan.assessment.ids == ()
    (count,) = (f for f in plan.findings if f.rule == "count")
    assert count.verdict.word == "caution"  # not silent, and no failure
    assert "decide whether that is enough" in count.why


def test_text_names_every_filled_hole_in_the_order_of_use(plans):
    for plan in plans.values():
        text = plan_text(plan)
        (plate,) = plan.plates
        rows = re.findall(r"^ +(\d+)  (?:neutral|eccentric|lag) ", text, re.MULTILINE)
        used = [hole for step in plate.order for hole in step.holes]
        assert [int(row) for row in rows] == used
        assert "cannot be told" in text


BONES = [
    ("r_femur", "Narrow4.5", "HA4.5", 3),
    ("humerus", "Narrow4.5", "HA4.5", 3),
    ("radius", "Straight3.5", "HA3.5", 3),
    ("r_fibula", "ThirdTube3.5", "HA3.5", 3),
    ("clavicle", "Reconstruction3.5", "HA3.5", 3),
]


@pytest.mark.parametrize(("bone", "kind", "screw", "least"), BONES)
def test_real_bones(bone, kind, screw, least, tmp_path):
    mesh = trimesh.load_mesh(real_bone(f"{bone}.stl"))
    axis = int(np.argmax(mesh.extents))
    normal = np.eye(3)[axis]
    middle = mesh.bounds.mean(axis=0)
    point = mesh.section(plane_origin=middle, plane_normal=normal).centroid
    (tmp_path / "case.toml").write_text(
        f'unit = "m"\n[bone]\nmesh = "{real_bone(f"{bone}.stl").as_posix()}"\ncortex = 2.0\n'
        "body = 1\n[fracture]\n"
        f"plane = {{ point = {point.tolist()}, normal = {normal.tolist()} }}\n"
        f'[screws]\ncount = 0\nkinds = ["{screw}"]\ncandidates = 50\n'
        f'[placement]\ndraws = 0\n[[plate]]\nkind = "{kind}"\nholes = [6, 7]\n'
        f"along = {normal.tolist()}\n"
    )
    plan = plan_case(read_case(tmp_path / "case.toml"))
    (plate,) = plan.plates
    failed = [f for f in plate.findings if f.verdict.word == "fail"]
    enough = min(int((plate.side[plate.screws.hole] == s).sum()) for s in (-1, 1)) >= least
    assert enough or failed  # a place, or the plan says why there is none
    assert np.nanmax(plate.laid.line_gap) < 15.0
    assert plan_text(plan_record(plan))


def test_what_shaft_offers_is_planned_when_it_is_pasted():
    bare = planned("shaft", {"screws": {"candidates": 400}})
    offer = next(f for f in bare.findings if f.rule == "plate_offered")
    kind, work = re.search(r'kind = "([^"]+)" and work = "([^"]+)"', offer.why).groups()
    plate = {"plate": [{"kind": kind, "work": work}], "screws": {"candidates": 400}}
    plan = planned("shaft", plate)
    assert len(plan.plates) == 1
    assert not [f for f in plan.plate_findings if f.verdict.word == "fail"]
    rules = {f.rule for f in plan.findings}
    assert "plate_offered" not in rules
    alone = next(f for f in plan.findings if f.rule == "screws_alone")
    assert alone.verdict.word == "pass"


KIND = {"kind": "Narrow4.5"}


@pytest.mark.parametrize(
    ("plate", "said"),
    [
        ({"kind": "Narow4.5"}, "Narow4.5.*Narrow4.5"),
        ({}, 'the key is missing; add "kind"'),
        (KIND | {"holes": 17}, "comes with .* holes, not 17"),
        (KIND | {"holes": 0}, "give a number of holes"),
        (KIND | {"holes": 16}, "mm long, and the bone 220 mm along it"),
        (KIND | {"screws": ["HA3.5"]}, "takes screws of 4.5 or 6.5 mm, and HA3.5 is none"),
        ({"kind": "ThirdTube3.5", "work": "compress"}, "long holes, and they press no fracture"),
        (KIND | {"work": "squeeze"}, "give one of 'compress', 'protect' or 'buttress'"),
        (KIND | {"side": {"direction": [0, 0, 1]}}, "the side of the plate runs along the plate"),
        (KIND | {"line": [[0, 0, 0], [0, 0, 9]], "at": [[0, 0, 0], [0, 0, 9]]}, "both line and at"),
        (KIND | {"at": [[0, 0, 0], [0, 0, 16]], "holes": 4}, "at names 2 holes"),
        (KIND | {"at": [[300, 0, 80], [300, 0, 96]]}, "no bone surface where the plate is to lie"),
        (KIND | {"region": "femr shaft"}, 'write "femur shaft"'),
        (KIND | {"growth_plate": "physis"}, 'there is no avoid "physis"'),
        (KIND | {"mesh": "plate.stl"}, 'the key "mesh" is not known'),
    ],
)  # fmt: skip
def test_what_a_plate_cannot_be(plate, said):
    with pytest.raises(Exception, match=said) as caught:
        planned("shaft", {"plate": [plate], "screws": {"candidates": 50}})
    assert type(caught.value).__name__ in ("CaseError", "CatalogueError", "MeshError")


def test_two_plates_in_one_place():
    at = {"line": [[-12, 0, 70], [-12, 0, 150]]}
    with pytest.raises(CaseError, match="plate 1 and plate 2 lie in one place"):
        planned("shaft", {"plate": [KIND | at, KIND | at], "screws": {"candidates": 50}})


def test_a_place_that_somebody_else_gave_is_judged():
    line = [[0.0, 13.0, z] for z in (45.0, 110.0, 175.0)]
    case = read_case(
        MESHES / "spiral.toml",
        FEW | {"plate": [KIND | {"line": line, "side": {"direction": [0, 1, 0], "cone": 40}}]},
    )
    table = AxesTable(
        ("A",), ("HA3.5",), ("lag",), np.array([[-30.0, 0, 110]]), np.array([[30.0, 0, 112]]), (1,)
    )
    plan = check_axes(case, table)
    (plate,) = plan.plates
    assert plate.laid.holes == 8
    (place,) = (f for f in plate.findings if f.rule == "plate_place")
    assert place.measured < 12.0
    assert json.loads(plan_json(plan_record(plan)))["plates"][0]["id"] == "plate 1"


def test_axes_through_the_holes_of_a_plate_are_seated_in_it(plans):
    (plate,), (lag,) = plans["through"].plates, plans["through"].screws
    own = plate.screws[0]
    case = read_case(
        MESHES / "plate_through.toml",
        FEW | {"plate": [{"kind": plate.kind, "at": [hole.centre for hole in plate.hole],
                          "side": {"direction": list(plate.out[4])}}]},
    )  # fmt: skip
    ends = [np.array(one.entry) + np.outer([-20.0, 40.0], one.direction) for one in (lag, own)]
    # through the middle of the head in another hole, and 18 degrees across it
    down, lean = np.array(plate.hole[-1].axis), np.radians(18.0)
    way = np.cos(lean) * down + np.sin(lean) * np.array(plate.across[-1])
    ends.append(np.array(plate.hole[-1].centre) - 3.6 * down + np.outer([-20.0, 40.0], way))
    table = AxesTable(
        ("A", "B", "C"), ("HA4.5",) * 3, ("lag",) * 3,
        np.array([e[0] for e in ends]), np.array([e[1] for e in ends]), (1, 2, 3),
    )  # fmt: skip
    plan = plan_record(check_axes(case, table))
    told = {f.subject: f for f in plan.findings if f.rule == "in_plate_hole"}
    # what crosses the fracture presses it through the plate, and is as long as it was planned
    assert told["A"].verdict == "note"
    assert plan.screws[0].length == lag.length == told["A"].measured
    assert plan.screws[0].seat == pytest.approx(lag.seat, abs=0.3)
    # what does not is a screw of the plate, in words, and the plate judges its own there
    assert told["B"].verdict == "caution"
    assert "screw of the plate" in told["B"].why
    assert told["B"].measured == own.length
    # it is no lag screw, and no rule on lag screws has anything against it
    assert [screw.id for screw in plan.screws] == ["A"]
    assert not [f for f in plan.findings if "B" in f.subject.split() and f.verdict == "fail"]
    # it is the drawn line that is judged: a hole allows 7 degrees across the plate
    cone = {f.subject: f.verdict for f in plan.findings if f.rule == "hole_cone"}
    assert cone["B"] == "pass"
    assert cone["C"] == "fail"
    (checked,) = plan.plates
    assert checked.lag == ("A",)
    assert not [f for f in checked.findings if f.verdict == "fail"]
