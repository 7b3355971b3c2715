"""`trajplan inspect` of a CT and of a label map: what it tells, and what it refuses in one line."""

import numpy as np
import pytest
from volume_files import (
    BONE,
    SIZE,
    ball,
    ball_ct,
    matrix_of,
    slices,
    turned,
    write_series,
    write_volume,
)

from trajplan.cautions import CAUTION_TEXT
from trajplan.volume import Ct, LabelMap, label_bodies, read_volume

MATRIX = matrix_of(turned())


def two_halves(gap=1):
    """A ball cut across by a gap of voxels, and a crumb beside it."""
    inside = ball(MATRIX).astype(np.uint8)
    inside[9 : 9 + gap] = 0
    inside[16, 20, 24] = 1
    return inside


def test_a_series(run, folder):
    write_series(folder / "ct", slices(ball_ct(MATRIX), MATRIX))
    answer = run("inspect", "ct")
    assert (answer.status, answer.err) == (0, "")
    assert " ".join(CAUTION_TEXT.split()) in " ".join(answer.out.split())
    for line in ("voxels              26 x 22 x 18", "values HU           -1000 to 900",
                 "voxel mm            0.9 x 1.1 x 1.25", "tube voltage        120 kV",
                 "right to left; front to back; lower end to upper end"):  # fmt: skip
        assert line in answer.out
    told = run("inspect", "ct", "--json").json
    assert (told["what"], told["size"], told["values"]) == ("CT", list(SIZE), [-1000, BONE])
    assert np.abs(np.array(told["matrix"]) - MATRIX).max() < 1e-5


def test_labels(run, folder):
    write_volume(folder / "labels.nii.gz", two_halves(), MATRIX)
    answer = run("inspect", "labels.nii.gz")
    assert (answer.status, answer.err) == (0, "")
    assert "label map" in answer.out
    assert "3, largest" in answer.out
    (label,) = run("inspect", "labels.nii.gz", "--json").json["labels"]
    assert label["voxels"] == int(two_halves().sum()) == sum(label["pieces"])
    assert label["volume"] == pytest.approx(label["voxels"] * 0.9 * 1.1 * 1.25, rel=1e-6)
    assert label["cut"] == []


def test_what_the_border_cuts_off_is_named_by_the_patients_side(run, folder):
    inside = two_halves()
    inside[:4, 8:12, 8:12] = 2
    inside[8:10, 8:12, 20:] = 3
    write_volume(folder / "a.nrrd", inside, MATRIX)
    turned_over = matrix_of(turned() * [-1, 1, 1])
    write_volume(folder / "b.nrrd", inside, turned_over)
    cut = [[label["cut"] for label in run("inspect", name, "--json").json["labels"]]
           for name in ("a.nrrd", "b.nrrd")]  # fmt: skip
    assert cut == [[[], ["lower end"], ["left"]], [[], ["lower end"], ["right"]]]


def test_a_gap_of_one_voxel_parts_two_pieces(tmp_path):
    found = read_volume(write_volume(tmp_path / "a.mha", two_halves(), MATRIX))
    (body,) = label_bodies(found)
    assert len(body.pieces) == 3
    assert body.pieces[-1] == 1
    assert np.abs(body.middle - found.grid.points(
        np.argwhere(two_halves())[:, ::-1]).mean(axis=0)).max() < 1e-9  # fmt: skip


def test_a_ct_is_told_from_labels_by_its_values(tmp_path):
    values = ball_ct(MATRIX)
    assert isinstance(read_volume(write_volume(tmp_path / "a.nii", values, MATRIX)), Ct)
    noise = np.random.default_rng(0).integers(0, 3000, values.shape, dtype=np.int16)
    assert isinstance(read_volume(write_volume(tmp_path / "b.nii", noise, MATRIX)), Ct)
    assert isinstance(read_volume(write_volume(tmp_path / "c.nii", two_halves(), MATRIX)), LabelMap)


@pytest.mark.parametrize(
    ("content", "words", "said"),
    [
        (b"", (), "0 bytes"),
        (b"no volume" * 100, (), "no NIfTI-1"),
        (None, ("--unit", "m"), "--unit is for meshes"),
    ],
)
def test_wrong_input_is_one_line(run, folder, content, words, said):
    path = write_volume(folder / "a.nii", two_halves(), MATRIX)
    if content is not None:
        path.write_bytes(content)
    answer = run("inspect", "a.nii", *words)
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.count("\n") == 1
    assert said in answer.err
