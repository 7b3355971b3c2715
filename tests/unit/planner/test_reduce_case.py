"""From displaced fragments to a record, moved meshes and a plan on them, by a movement known."""

import hashlib
import tomllib
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from tests.reduced_cases import BACK, GOOD, ROTATION, SHIFT, TRUTH, solved, write_case
from trajplan.errors import CaseError, MeshError, PlanFileError
from trajplan.files import read_case, read_reduction, toml_text, write_reduction
from trajplan.planner import (
    load_reduction,
    plan_case,
    plan_record,
    reduce_case,
    reduced_files,
    reduction_record,
)
from trajplan.planner._reduce import displaced_fragments
from trajplan.planner._reduced import as_it_lies
from trajplan.reduction import Pose, Rival


def written(folder, reduced, out=None):
    """Write a reduction as the command does, and read its case."""
    out = folder / "out" if out is None else out
    out.mkdir()
    meshes, data = reduced_files(reduced, out)
    for name, content in meshes.items():
        (out / name).write_bytes(content)
    write_reduction(out / "reduction.json", reduction_record(reduced, meshes))
    (out / "case.toml").write_text(toml_text(data))
    return read_case(out / "case.toml")


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reduced")
    case = written(folder, reduce_case(write_case(folder), solve=solved()))
    return plan_record(plan_case(case)), read_reduction(folder / "out" / "reduction.json"), folder


def test_the_record_tells_the_movement_the_hashes_and_how_it_lay(plan):
    _, record, folder = plan
    lower, upper = record.fragments
    assert (lower.fixed, upper.fixed) == (True, False)
    assert np.allclose(upper.matrix, BACK.matrix, atol=1e-6)
    assert lower.displacement is None
    assert upper.displacement.rotation == pytest.approx(np.degrees(ROTATION.magnitude()), abs=1e-4)
    for part, name in ((lower, "lower.stl"), (upper, "upper.stl")):
        assert part.sha256 == hashlib.sha256((folder / name).read_bytes()).hexdigest()
        moved = (folder / "out" / part.reduced).read_bytes()
        assert part.reduced_sha256 == hashlib.sha256(moved).hexdigest()
    assert record.trusted
    assert record.verdict == "pass"


def test_a_plan_says_that_its_bone_was_reduced_and_keeps_the_hashes(plan):
    record, reduction, _ = plan
    assert record.reduction.digest == reduction.digest
    assert [one.sha256 for one in record.reduction.fragments] == [
        one.sha256 for one in reduction.fragments
    ]
    (said,) = [finding for finding in record.findings if finding.rule == "reduced"]
    assert said.verdict == "note"
    assert "upper.stl was moved by" in said.why


def test_every_screw_is_told_on_the_bone_as_it_lies(plan):
    record, _, _ = plan
    assert record.screws
    for screw in record.screws:
        lies = screw.as_it_lies
        if lies.fragment == "lower.stl":
            assert np.allclose(lies.entry, screw.entry, atol=1e-5)
            continue
        assert np.allclose(lies.entry, ROTATION.apply(screw.entry) + SHIFT, atol=1e-4)
        assert np.allclose(lies.direction, ROTATION.apply(screw.direction), atol=1e-5)


def test_a_line_on_the_fragment_that_was_moved_goes_back_with_it(plan):
    _, reduction, _ = plan
    entry, direction = np.array([14.0, 3.0, 61.0]), np.array([0.6, 0.0, 0.8])
    lies = as_it_lies(reduction, 1, entry, direction)
    assert lies.fragment == "upper.stl"
    assert np.allclose(lies.entry, ROTATION.apply(entry) + SHIFT, atol=1e-5)
    assert np.allclose(lies.direction, ROTATION.apply(direction), atol=1e-5)
    assert as_it_lies(None, 1, entry, direction) is None


def test_a_plan_is_no_better_than_its_reduction(tmp_path):
    """A good plan on a reduction that nobody can trust is unknown, or worse."""
    pair = replace(GOOD, length_known=False, overlap=80.0)
    case = written(tmp_path, reduce_case(write_case(tmp_path), solve=solved(pair)))
    record = plan_record(plan_case(case))
    told = {finding.rule: finding.verdict for finding in record.findings}
    assert told["reduce_length"] == "unknown"
    assert told["reduce_overlap"] == "caution"
    assert record.verdict in ("caution", "fail")


def test_the_next_ways_to_put_it_together_stand_in_the_record_and_come_back(tmp_path):
    rival = Rival((Pose.still(), Pose(TRUTH)), 0.4, 1, 9.5, 31.0)
    case = write_case(tmp_path)
    written(tmp_path, reduce_case(case, solve=solved(rivals=(rival,))))
    file = tmp_path / "out" / "reduction.json"
    (told,) = read_reduction(file).rivals
    assert (told.fragment, told.score, told.shift, told.turn) == ("upper.stl", 0.4, 9.5, 31.0)
    assert np.allclose(told.matrices[1], TRUTH, atol=1e-6)
    (read,) = load_reduction(file, case.file).reduction.rivals
    assert (read.fragment, read.score, read.shift, read.turn) == (1, 0.4, 9.5, 31.0)
    assert np.allclose(read.poses[1].matrix, TRUTH, atol=1e-6)


@pytest.mark.parametrize("unit", ["m", "inch"])
def test_meshes_are_written_in_the_unit_of_the_case(tmp_path, unit):
    case = written(tmp_path, reduce_case(write_case(tmp_path, unit), solve=solved()))
    assert case.unit == unit
    from trajplan.planner import set_up

    setup = set_up(case)
    assert setup.fracture.zones[0].area > 100.0  # mm²: the pieces meet, in their true size
    assert setup.reduction.fragments[1].matrix[0][3] == pytest.approx(BACK.matrix[0, 3], abs=1e-6)


def test_a_joint_moves_along_with_its_fragment_and_a_structure_does_not(tmp_path):
    table = """
[[joint]]
name = "top"
points = [[{:.6f}, {:.6f}, {:.6f}]]
radius = 8.0
[[avoid]]
name = "nerve"
mesh = "lower.stl"
""".format(*(ROTATION.apply([12.0, 0.0, 100.0]) + SHIFT))
    reduced = reduce_case(write_case(tmp_path, table=table), solve=solved())
    case = written(tmp_path, reduced)
    assert np.allclose(case.joints[0].points[0], [12.0, 0.0, 100.0], atol=1e-3)
    assert case.resolve(case.avoids[0].mesh).resolve() == (tmp_path / "lower.stl").resolve()
    (around,) = [finding for finding in reduced.findings if finding.rule == "reduce_around"]
    assert around.verdict.word == "caution"


def test_bodies_of_one_mesh_are_fragments_too(tmp_path):
    case = write_case(tmp_path)
    from trajplan.bone import join_surfaces, read_surface
    from trajplan.files import write_stl

    both = join_surfaces([read_surface(tmp_path / name, "mm") for name in case.bone.fragments])
    write_stl(tmp_path / "both.stl", both.triangles())
    text = (tmp_path / "case.toml").read_text()
    text = text.replace('fragments = ["lower.stl", "upper.stl"]', 'mesh = "both.stl"')
    (tmp_path / "case.toml").write_text(text)
    reduced = reduce_case(read_case(tmp_path / "case.toml"), solve=solved())
    assert [part.name for part in reduced.fragments] == ["body 1", "body 2"]
    assert [len(part.faces) for part in reduced.fragments] == [512, 512]


HINT = "[[reduction.hints]]\nfragments = [1, 2]\npoints = [[{}], [{}]]\n"


def hint(first, second):
    """Points on the reduced bone, the second as it lies on the upper fragment."""
    lain = TRUTH[:3, :3] @ np.array(second, dtype=float) + TRUTH[:3, 3]
    return HINT.format(", ".join(map(str, map(float, first))), ", ".join(map(str, lain)))


@pytest.mark.parametrize(
    ("change", "where", "words"),
    [
        ({"table": "[reduction]\nfixed = 3"}, "reduction.fixed", "no fragment 3"),
        ({"table": "[reduction]\norder = [1]"}, "reduction.order", "1 of 2 fragments"),
        ({"table": "[reduction]\norder = [1, 1]"}, "reduction", "twice"),
        ({"table": "[reduction]\nmirror = true"}, "reduction", "none is given"),
        (
            {"table": HINT.format("500.0, 0.0, 0.0", "0.0, 0.0, 60.0")},
            "reduction.hints",
            "off lower.stl",
        ),
        (
            {"table": hint([14, 0, 40], [14, 0, 70]) + hint([-14, 0, 2], [14, 0, 72])},
            "reduction.hints",
            "contradict",
        ),
        (
            {"extra": "[[bone.inside]]\npoint = [0.0, 0.0, 10.0]\nis = 'metal'"},
            "bone.inside",
            "moved along",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_line(tmp_path, change, where, words):
    with pytest.raises(CaseError) as caught:
        reduce_case(write_case(tmp_path, **change), solve=solved())
    assert caught.value.where.startswith(where)
    assert words in str(caught.value)


def test_one_fragment_a_copy_and_another_unit_are_refused(tmp_path):
    write_case(tmp_path)
    text = (tmp_path / "case.toml").read_text()
    whole = text.replace('fragments = ["lower.stl", "upper.stl"]', 'mesh = "lower.stl"')
    (tmp_path / "one.toml").write_text(whole)
    with pytest.raises(CaseError, match="there is one fragment"):
        reduce_case(read_case(tmp_path / "one.toml"), solve=solved())
    (tmp_path / "copy.stl").write_bytes((tmp_path / "lower.stl").read_bytes())
    (tmp_path / "copy.toml").write_text(text.replace("upper.stl", "copy.stl"))
    with pytest.raises(CaseError, match=r"lower\.stl and copy\.stl are the same mesh"):
        reduce_case(read_case(tmp_path / "copy.toml"), solve=solved())
    from trajplan.bone import read_surface
    from trajplan.files import stl_bytes

    small = stl_bytes(read_surface(tmp_path / "upper.stl", "mm").triangles(), "m")
    (tmp_path / "small.stl").write_bytes(small)
    (tmp_path / "units.toml").write_text(text.replace("upper.stl", "small.stl"))
    with pytest.raises((CaseError, MeshError), match="unit"):
        reduce_case(read_case(tmp_path / "units.toml"), solve=solved())


def test_a_fragment_in_the_bone_of_another_is_refused_and_one_in_its_canal_is_not(tmp_path):
    """The tube is 8 mm of canal and 12 mm outside, in radius: a chip in its wall, and a pin."""
    from trajplan.files import stl_bytes

    write_case(tmp_path)
    text = (tmp_path / "case.toml").read_text()
    for name, middle in (("chip", [10.0, 0.0, 20.0]), ("pin", [0.0, 0.0, 20.0])):
        rod = trimesh.creation.icosphere(subdivisions=2).triangles * [0.8, 0.8, 6.0]
        (tmp_path / f"{name}.stl").write_bytes(stl_bytes(rod + np.array(middle)))
        (tmp_path / f"{name}.toml").write_text(text.replace("upper.stl", f"{name}.stl"))
    with pytest.raises(CaseError, match=r"chip\.stl lies wholly inside the bone of lower\.stl"):
        displaced_fragments(read_case(tmp_path / "chip.toml"))
    _, parts = displaced_fragments(read_case(tmp_path / "pin.toml"))
    assert [part.name for part in parts] == ["lower.stl", "pin.stl"]


def test_a_template_shorter_than_a_fragment_is_refused(tmp_path):
    from trajplan.bone import read_surface
    from trajplan.files import stl_bytes

    case = write_case(tmp_path, table='[reduction]\ntemplate = "short.stl"')
    short = read_surface(tmp_path / "lower.stl", "mm").triangles() * 0.5
    (tmp_path / "short.stl").write_bytes(stl_bytes(short))
    with pytest.raises(CaseError, match="less than a fragment"):
        reduce_case(case, solve=solved())


def test_a_fracture_given_in_space_is_refused(tmp_path):
    write_case(tmp_path)
    text = (tmp_path / "case.toml").read_text()
    plane = "plane = { point = [0, 0, 50], normal = [0, 0, 1] }"
    (tmp_path / "plane.toml").write_text(text.replace("between = true", plane))
    with pytest.raises(CaseError, match="stays where it is"):
        reduce_case(read_case(tmp_path / "plane.toml"), solve=solved())


def test_fragments_that_the_reduction_did_not_write_are_refused(tmp_path):
    case = written(tmp_path, reduce_case(write_case(tmp_path), solve=solved()))
    other = (tmp_path / "lower.stl").read_bytes()
    (tmp_path / "out" / "upper_reduced.stl").write_bytes(other)
    with pytest.raises(CaseError, match=r"upper_reduced\.stl is not what this reduction wrote"):
        plan_case(case)


def test_a_case_that_was_reduced_is_not_reduced_again(tmp_path):
    case = written(tmp_path, reduce_case(write_case(tmp_path), solve=solved()))
    with pytest.raises(CaseError, match="reduced already"):
        reduce_case(case, solve=solved())


def test_an_edited_record_is_refused(tmp_path):
    case = written(tmp_path, reduce_case(write_case(tmp_path), solve=solved()))
    file = tmp_path / "out" / "reduction.json"
    file.write_text(file.read_text().replace('"trusted": true', '"trusted": false'))
    with pytest.raises(PlanFileError, match="digest"):
        plan_case(case)


def test_the_case_that_is_written_is_toml_with_what_the_first_one_said(tmp_path):
    case = written(tmp_path, reduce_case(write_case(tmp_path), solve=solved()))
    data = tomllib.loads(case.file.read_text())
    assert data["title"] == "Broken tube, reduced"
    assert data["bone"] == {
        "fragments": ["lower_reduced.stl", "upper_reduced.stl"],
        "reduction": "reduction.json",
    }
    assert data["screws"] == {"count": 1, "kinds": ["HA3.5"], "candidates": 200}
    assert "reduction" not in data
