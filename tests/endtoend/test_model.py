"""`trajplan model`: meshes of labels, a case that plans them, and what is refused in one line."""

import json

import numpy as np
import pytest
from phantoms import BROKEN, EDGES, SIZE, middled, write_pair
from volume_files import turned, write_volume

from scripts.ct_phantom import ct_of, labels_of
from trajplan.bone import make_bone, read_surface
from trajplan.cautions import CAUTION_TEXT
from trajplan.files import read_case

MATRIX = middled()


@pytest.fixture
def pair(folder):
    write_pair(folder)
    return labels_of(BROKEN, MATRIX, SIZE)


def refused(answer, said):
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.count("\n") == 1
    assert said in answer.err


def test_two_labels_become_a_case_that_plans(run, folder, pair):
    answer = run("model", "labels.nii.gz", "--ct", "ct.nii.gz", "--label", "1=lower",
                 "--label", "2=upper", "--out", "out")  # fmt: skip
    assert answer.status == 0, answer.err
    assert " ".join(CAUTION_TEXT.split()) in " ".join(answer.out.replace("* ", "").split())
    names = {path.name for path in (folder / "out").iterdir()}
    assert names == {"lower.stl", "upper.stl", "model.json", "case.toml", "model.png", ".trajplan"}
    record = json.loads((folder / "out/model.json").read_text())
    assert (record["frame"], record["unit"]) == ("LPS", "mm")
    for number, mesh in enumerate(record["meshes"], start=1):
        surface = read_surface(folder / "out" / mesh["mesh"])
        audit = make_bone(surface).audit
        assert (audit.closed, audit.inverted, audit.bodies) == (True, 0, 1)
        assert surface.sha256 == mesh["sha256"]
        voxels = (pair == number).sum() * np.prod(EDGES)
        assert mesh["voxels"] == pytest.approx(voxels, rel=1e-6)
        assert audit.volume == pytest.approx(voxels, rel=0.03)
        assert mesh["on_ct"] > 0.9
        side = np.sign(surface.vertices.mean(axis=0) @ BROKEN.broken.normal)
        assert side == (-1, 1)[number - 1]
    assert record["meshing"]["error_mean"] == pytest.approx(0.15 * 0.8)
    case = read_case(folder / "out/case.toml")
    assert (case.frame, case.bone.fragments) == ("LPS", ("lower.stl", "upper.stl"))
    assert case.resolve(case.bone.ct).samefile(folder / "ct.nii.gz")
    planned = run("plan", "out/case.toml", "--out", "plan", "--no-picture")
    assert planned.status in (0, 1), planned.err
    plan = json.loads((folder / "plan/plan.json").read_text())
    normal = np.array(plan["fracture"]["zones"][0]["normal"])
    wanted = np.array(BROKEN.broken.normal) / np.linalg.norm(BROKEN.broken.normal)
    assert np.degrees(np.arccos(abs(normal @ wanted))) < 1.0


@pytest.mark.parametrize("hand", [1, -1])
def test_the_place_is_that_of_the_voxels_however_they_lie(run, folder, hand):
    matrix = middled(directions=turned(35) * [1, 1, hand], centre=(-40.0, 22.0, 310.0))
    labels = (labels_of(BROKEN, MATRIX, SIZE) == 1).astype(np.uint8)
    write_volume(folder / "labels.nrrd", labels, matrix)
    assert run("model", "labels.nrrd", "--out", "out", "--no-picture").status == 0
    surface = read_surface(folder / "out/label_1.stl")
    audit = make_bone(surface).audit
    assert (audit.closed, audit.inverted) == (True, 0)
    index = np.argwhere(labels)[:, ::-1] @ matrix[:3, :3].T + matrix[:3, 3]
    corners = surface.triangles()
    weight = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    middle = (corners.sum(axis=1) * weight[:, None]).sum(axis=0) / (4.0 * weight.sum())
    assert np.linalg.norm(middle - index.mean(axis=0)) < 0.1


def test_one_label_is_a_whole_bone_and_says_nothing_of_a_fracture(run, folder, pair):
    write_volume(folder / "one.nrrd", (pair == 1).astype(np.uint8), MATRIX)
    assert run("model", "one.nrrd", "--out", "out", "--no-picture").status == 0
    text = (folder / "out/case.toml").read_text()
    assert 'mesh = "label_1.stl"' in text
    assert "says nothing of a fracture" in text
    refused(run("plan", "out/case.toml", "--out", "plan"), "fracture")


def test_crumbs_are_left_out_and_named(run, folder, pair):
    crumbs = pair.copy()
    crumbs[2, 2, 2] = crumbs[2, 2, 5] = 1
    write_volume(folder / "labels.nrrd", crumbs, MATRIX)
    told = run("model", "labels.nrrd", "--out", "out", "--no-picture", "--json").json
    assert (told["meshes"][0]["crumbs"], told["meshes"][1]["crumbs"]) == (2, 0)
    assert any("2 crumbs of label 1, 1.0 mm³ in all" in said for said in told["cautions"])
    assert make_bone(read_surface(folder / "out/label_1.stl")).audit.bodies == 1


def test_two_fragments_under_one_label(run, folder, pair):
    write_volume(folder / "labels.nrrd", (pair > 0).astype(np.uint8), MATRIX)
    refused(
        run("model", "labels.nrrd", "--out", "out"),
        "label 1 holds 2 pieces (7.13 and 7.13 cm³), the first two 1 voxel apart",
    )
    assert not (folder / "out").exists()
    answer = run("model", "labels.nrrd", "--out", "out", "--split", "--no-picture", "--json")
    assert [mesh["name"] for mesh in answer.json["meshes"]] == ["label 1 1", "label 1 2"]


def test_what_touches_is_cut_off_or_coarse_is_said(run, folder, pair):
    beside = np.max([np.roll(pair == 1, step, axis=0) for step in (1, 2, 3)], axis=0)
    touching = np.where((pair == 0) & beside, 2, pair).astype(np.uint8)
    touching[:, :2] = 0
    write_volume(
        folder / "labels.nrrd", touching[12:, :, :], middled((46, 44, 62), (0.8, 0.8, 2.0))
    )
    told = " ".join(
        run("model", "labels.nrrd", "--out", "out", "--no-picture", "--json").json["cautions"]
    )
    assert "label 1 and label 2 touch: the gap between them may be anything up to a voxel" in told
    assert "label 1 is cut off at the lower end of the volume" in told
    assert "are coarse: a wall thinner than 4.0 mm cannot be told" in told


def test_labels_that_do_not_lie_on_the_ct(run, folder, pair):
    write_volume(folder / "moved.nrrd", pair, middled(centre=(6.0, 0.0, 0.0)))
    refused(run("model", "moved.nrrd", "--ct", "ct.nii.gz", "--out", "out"),
            "does not lie on bone of the CT")  # fmt: skip
    write_volume(folder / "away.nrrd", pair, middled(centre=(60.0, 0.0, 0.0)))
    refused(run("model", "away.nrrd", "--ct", "ct.nii.gz", "--out", "out"),
            "of the labelled voxels lie outside the CT")  # fmt: skip


def test_a_crop_of_the_grid_is_placed_by_its_own_header(run, folder, pair):
    part = MATRIX.copy()
    part[:3, 3] += part[:3, :3] @ [3, 2, 5]
    write_volume(folder / "crop.nrrd", pair[5:, 2:, 3:], part)
    answer = run(
        "model", "crop.nrrd", "--ct", "ct.nii.gz", "--out", "out", "--no-picture", "--json"
    )
    assert answer.status == 0, answer.err
    assert any("another grid" in said for said in answer.json["cautions"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--label", "7"), "no label 7; name one of 1, 2"),
        (("--label", "x"), "names no label"),
        (("--label", "1", "--label", "1=a"), "names 1 twice"),
        (("--label", "1=a", "--label", "2=a"), 'two labels are called "a"'),
    ],
)
def test_wrong_words(run, folder, pair, words, said):
    refused(run("model", "labels.nii.gz", *words, "--out", "out"), said)
    assert not (folder / "out").exists()


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (np.zeros((8, 9, 10), np.uint8), "the label map is empty"),
        (np.ones((8, 9, 10), np.uint8), "fills the whole volume"),
        (np.tile(np.arange(10, dtype=np.uint8), (8, 9, 1)), "there are 9 labels"),
    ],
)
def test_maps_that_hold_nothing_to_mesh(run, folder, values, said):
    write_volume(folder / "labels.nrrd", values, np.diag([5.0, 5.0, 5.0, 1.0]))
    refused(run("model", "labels.nrrd"), said)


def test_a_map_of_another_size_is_refused(run, folder, pair):
    write_volume(folder / "labels.nrrd", pair, middled(edges=np.array(EDGES) / 1000.0))
    refused(run("model", "labels.nrrd"), "label 1")


def test_nothing_of_ones_own_is_written_over(run, folder, pair):
    (folder / "out").mkdir()
    (folder / "out/label_1.stl").write_text("mine")
    refused(run("model", "labels.nii.gz", "--out", "out", "--no-picture"), "trajplan did not write")
    assert (folder / "out/label_1.stl").read_text() == "mine"


def test_shifted_values_are_a_doubt(run, folder, pair):
    shifted = (ct_of(BROKEN, MATRIX, SIZE) + 1024).astype(np.int16)
    write_volume(folder / "shifted.nrrd", shifted, MATRIX)
    assert "are not taken for Hounsfield units" in " ".join(
        run("inspect", "shifted.nrrd").out.split()
    )
    assert "Hounsfield units." not in run("inspect", "ct.nii.gz").out
