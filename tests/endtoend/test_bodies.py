"""Several bodies in one file, fragments that lie displaced, things in the bone: what is said.

The bodies are boxes, tubes and a real femur, moved by known amounts: the motion is the truth.
"""

import numpy as np
import pytest
from mesh_files import stl_bytes, write
from scipy.spatial.transform import Rotation
from shaft_case import CASE, PLANE
from specimens import box, cylinder, flipped, joined, lathe, real_bone, sphere, tube

from trajplan.bone import read_surface, split_bone
from trajplan.geometry import Plane

SHAFT = tube(outer=14.0, inner=9.0, length=100.0)
BESIDE = box((30, -10, 0), (55, 10, 90))  # a second bone beside the shaft
UP = np.array([0.0, 0.0, 1.0])
FRAGMENTS = 'fragments = ["first.stl", "second.stl"]'


def put(folder, name, mesh):
    write(folder / name, stl_bytes(mesh))


def refused(answer, *said):
    assert (answer.status, answer.out) == (2, "")
    for words in said:
        assert words in answer.err


@pytest.fixture
def two_bones(case):
    put(case.parent, "bone.stl", joined(SHAFT, BESIDE))
    return case


def test_a_second_bone_is_no_fragment(run, two_bones):
    refused(
        run("plan", "case.toml", "--out", "out"),
        "body 2 (25 x 20 x 90 mm, its middle at (42.5, 0.0, 45.0) mm): it faces no other body",
        "bone.body = [1]",
    )


def test_two_bones_that_are_to_be_one_fracture_are_refused_with_the_key_that_takes_one(
    run, two_bones, edit
):
    plane = next(line for line in two_bones.read_text().splitlines() if line.startswith("plane"))
    edit(plane, "between = true")
    refused(
        run("plan", "case.toml", "--out", "out"), "apart", "with bone.body where one is another"
    )


def test_the_bone_is_taken_by_number_or_by_a_point_of_it(run, two_bones, edit):
    shaft = 'mesh = "bone.stl"'
    edit(shaft, shaft + "\nbody = [1]")
    by_number = run("plan", "case.toml", "--out", "out", "--json").json
    assert any("Body 2" in said and "left out" in said for said in by_number["cautions"])
    alone = [
        finding["why"]
        for screw in by_number["screws"]
        for finding in screw["findings"]
        if "body 2" in finding["why"]
    ]
    assert alone, "the other bone must be kept clear of"
    edit("body = [1]", "body = [[0, 12, 50]]")
    by_point = run("plan", "case.toml", "--out", "out", "--json").json
    assert [s["length"] for s in by_point["screws"]] == [s["length"] for s in by_number["screws"]]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("[3]", "bone.stl has 2 bodies, and no body 3"),
        ("[[0, 400, 50]]", "no body lies at this point"),
        ("[0.0, 0.0, 50.0]", "name bodies by number, such as [1, 3]"),
    ],
)
def test_a_body_that_is_not_there(run, two_bones, edit, body, said):
    edit('mesh = "bone.stl"', f'mesh = "bone.stl"\nbody = {body}')
    refused(run("plan", "case.toml", "--out", "out"), "bone.body", said)


def test_inspect_lists_the_bodies_of_a_whole_leg(run, folder):
    vertices, faces = tube(outer=14.0, inner=9.0, length=430.0)
    put(folder, "leg.stl", joined((vertices, faces), (vertices + 440.0 * UP, faces.copy())))
    answer = run("inspect", "leg.stl")
    assert answer.status == 0
    assert "   1  28.0 x 28.0 x 430.0" in answer.out
    assert "   2  28.0 x 28.0 x 430.0" in answer.out
    assert "it is 870 mm long" in answer.out
    assert [body["number"] for body in run("inspect", "leg.stl", "--json").json["each_body"]] == [
        1,
        2,
    ]
    write(folder / "case.toml", CASE.replace("bone.stl", "leg.stl"))
    refused(run("plan", "case.toml", "--out", "out"), "holds 2 bodies", "bone.body")
    write(folder / "case.toml", CASE.replace('"bone.stl"', '"leg.stl"\nbody = 1'))
    assert run("plan", "case.toml", "--out", "out").status in (0, 1)


def fragments_case(folder, first, second, fracture="between = true"):
    put(folder, "first.stl", (first.vertices, first.faces))
    put(folder, "second.stl", second)
    text = CASE.replace('mesh = "bone.stl"', FRAGMENTS).replace(PLANE, fracture)
    return write(folder / "case.toml", text)


def halves_of_a_femur(degrees):
    """A real femur, split across at mid-shaft; its lower half turned about the shaft."""
    femur = read_surface(real_bone("r_femur.stl"), "m")
    normal = np.array([-0.0974, 0.9901, 0.1012])
    plane = Plane.through(femur.vertices.mean(axis=0), normal + np.array([0.9, 0.0, 0.0]))
    first, second = split_bone(femur, plane).pieces
    turn = Rotation.from_rotvec(np.radians(degrees) * normal)
    return first, (turn.apply(second.vertices - plane.point) + plane.point, second.faces), plane


@pytest.mark.parametrize("source", ["between", "plane"])
def test_a_femur_with_one_half_turned_by_20_degrees_fails(run, folder, source):
    first, second, plane = halves_of_a_femur(20.0)
    fracture = "between = true"
    if source == "plane":
        point, normal = plane.point.tolist(), plane.normal.tolist()
        fracture = f"plane = {{ point = {point}, normal = {normal} }}"
    fragments_case(folder, first, second, fracture)
    answer = run("plan", "case.toml", "--out", "out", "--json")
    assert answer.status == 1
    wrong = {f["rule"]: f for f in answer.json["findings"] if f["verdict"] == "fail"}
    assert wrong["fragments_turn"]["measured"] == pytest.approx(20.0, abs=4.0)
    assert "they are not reduced" in wrong["fragments_step"]["why"]
    refused(
        run("drill", "out/plan.json", "--out", "steps.txt"),
        "no drill sheet is written, for the fragments are not reduced",
        "put them together with `trajplan reduce CASE --out DIR`",
    )
    assert not (folder / "steps.txt").exists()


def test_a_femur_that_is_reduced_fails_none_of_these_rules(run, folder):
    first, second, _ = halves_of_a_femur(0.0)
    fragments_case(folder, first, second)
    found = run("plan", "case.toml", "--out", "out", "--json").json["findings"]
    rules = {f["rule"]: f["verdict"] for f in found if f["rule"].startswith("fragments_")}
    assert set(rules.values()) == {"pass"}
    assert len(rules) == 4


def test_a_copied_fragment_is_refused_with_a_plane_too(run, folder):
    vertices, faces = SHAFT
    put(folder, "first.stl", SHAFT)
    put(folder, "second.stl", (vertices, faces[::-1]))
    write(folder / "case.toml", CASE.replace('mesh = "bone.stl"', FRAGMENTS))
    refused(run("plan", "case.toml", "--out", "out"), "fragments 1 and 2 are the same surface")


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ('[[joint]]\nname = "knee"\nmesh = "far.stl"\n', 'the joint "knee" lies 4986 mm away'),
        ('[[avoid]]\nname = "nerve"\nmesh = "far.stl"\n', 'the structure "nerve" lies 4986 mm'),
        ('[[landmark]]\nname = "tip"\npoint = [5014, 0, 5]\n', 'the landmark "tip" lies 5000 mm'),
    ],
)
def test_what_is_named_in_another_frame_is_refused(run, case, added, said):
    put(case.parent, "far.stl", box((5000, -5, 0), (5010, 5, 10)))
    write(case, case.read_text() + added)
    refused(run("plan", "case.toml", "--out", "out"), said, "frame and unit")


@pytest.mark.parametrize(
    ("role", "size", "said"),
    [
        ("joint", 0.05, 'the joint "knee" is 0.05 mm large, and the bone 28 to 100 mm'),
        ("joint", 2.5, 'the joint "knee" is 2.5 mm large'),
        ("joint", 300.0, 'the joint "knee" is 300 mm large'),
        ("avoid", 0.05, 'the structure "knee" is 0.05 mm large'),
    ],
)
def test_a_joint_of_another_size_is_refused(run, case, role, size, said):
    at = np.array([14.0, 0.0, 50.0])
    put(case.parent, "knee.stl", box(at - [size / 20, size / 2, size / 2], at + size / 2))
    write(case, f'{case.read_text()}[[{role}]]\nname = "knee"\nmesh = "knee.stl"\n')
    refused(run("plan", "case.toml", "--out", "out"), said, "check its unit")


def test_a_joint_with_a_hole_is_told_of(run, case):
    points, faces = sphere(10.0, 3, centre=(32, 0, 50))
    put(case.parent, "knee.stl", (points, faces[points[faces].mean(axis=1)[:, 0] < 41.5]))
    write(case, f'{case.read_text()}[[joint]]\nname = "knee"\nmesh = "knee.stl"\n')
    told = " ".join(run("plan", "case.toml", "--out", "out").out.split())
    assert "knee.stl: knee has a hole" in told
    assert "what is missing is not known; export it whole" in told


def test_a_plane_whose_point_lies_in_another_frame_is_refused(run, case, edit):
    edit("[0, 0, 50]", "[500, 0, -238.675]")  # the same plane, far outside the bone
    refused(run("plan", "case.toml", "--out", "out"), "fracture.plane.point", "541 mm away")


def test_a_nail_in_the_canal_is_named_and_holds_nothing(run, case, edit):
    nail = cylinder(radius=5.0, length=70.0, start=15.0)
    put(case.parent, "bone.stl", joined(SHAFT, nail))
    made = run("plan", "case.toml", "--out", "out", "--json").json
    assert any("In the canal lies body 1 (10 x 10 x 70 mm" in said for said in made["cautions"])
    # an axis through the middle meets the nail; the wall of 5 mm and the canal have no room
    write(
        case.parent / "axes.csv",
        "id,kind,technique,x,y,z,to_x,to_y,to_z\nA,HA4.5,lag,-40,0,50,40,0,50\n",
    )
    checked = run("check", "case.toml", "axes.csv", "--out", "checked", "--json").json
    (screw,) = checked["screws"]
    cuts = [f for f in screw["findings"] if f["rule"] == "avoid_clearance"]
    assert [f["verdict"] for f in cuts] == ["fail"]
    assert "what lies in the canal" in cuts[0]["why"]
    edit('mesh = "bone.stl"', 'mesh = "bone.stl"\ninside = [{ point = [0, 0, 50], is = "metal" }]')
    made = run("plan", "case.toml", "--out", "out", "--json").json
    assert any("Metal in the bone is no bone" in said for said in made["cautions"])
    assert not any("In the canal lies" in said for said in made["cautions"])


def folded_shaft():
    """A shaft whose outer wall folds through itself between 48 and 60 mm: one closed shell."""
    wall = lathe((14, 14, 13, 15, 14), (0.0, 56.0, 48.0, 60.0, 100.0))
    return joined(wall, flipped(cylinder(radius=9.0, length=90.0, start=5.0)))


def test_a_shaft_that_crosses_itself(run, case):
    put(case.parent, "bone.stl", folded_shaft())
    looked = run("inspect", "bone.stl")
    assert "faces cross one another, such as at (" in " ".join(looked.out.split())
    assert run("inspect", "bone.stl", "--json").json["crossing_faces"] > 100
    made = run("plan", "case.toml", "--out", "out", "--json").json
    (said,) = (f for f in made["findings"] if f["rule"] == "surface_crossing")
    assert said["verdict"] == "caution"
    assert "export the surface again with less smoothing" in said["why"]
    heads = "id,kind,technique,x,y,z,to_x,to_y,to_z"
    write(case.parent / "axes.csv", f"{heads}\nA,HA4.5,lag,-40,0,53,40,0,53\n")
    (screw,) = run("check", "case.toml", "axes.csv", "--out", "checked", "--json").json["screws"]
    rules = {f["rule"]: f["verdict"] for f in screw["findings"]}
    assert rules["inside_known"] == "unknown"
    assert rules["leaves_bone"] != "pass"


def test_a_clean_shaft_is_searched_for_no_crossing(run, case, monkeypatch):
    monkeypatch.setattr("trajplan.planner._self_crossing.self_crossings", None)  # would break
    assert run("plan", "case.toml", "--out", "out").status in (0, 1)


def test_a_mirrored_mesh_is_told_what_it_may_be(run, case):
    put(case.parent, "bone.stl", flipped(SHAFT))
    answer = run("inspect", "bone.stl")
    assert "mirroring" in answer.out
    assert "left or right" in answer.out
