"""Manifests: CSV and TOML, what each row changes, what is wrong with a row or with all."""

import pytest
from batch_cases import write_base

from trajplan.batch import find_jobs
from trajplan.errors import CaseError, ManifestError


@pytest.fixture
def rows(tmp_path):
    write_base(tmp_path)

    def _rows(text, name="m.csv"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        return find_jobs([tmp_path / name])

    return _rows


def test_cells_take_the_type_of_their_key(rows):
    (job,) = rows(
        "id,case,title,bone.mesh,screws.kinds,screws.count,fracture.plane.point,"
        "limits.max_tilt,fracture.between\n"
        'a,base.toml,12,bone1.stl,HA4.5; HB6.5,2,"[0, 0, 40]",7.5,\n'
    )
    assert job.changes == {
        "title": "12",  # a text, though it looks like a number
        "bone": {"mesh": "bone1.stl"},
        "screws": {"kinds": ["HA4.5", "HB6.5"], "count": 2},
        "fracture": {"plane": {"point": [0, 0, 40]}},
        "limits": {"max_tilt": 7.5},
    }
    case = job.read()
    assert (case.title, case.screws.count, case.limits) == ("12", 2, {"max_tilt": 7.5})


def test_an_empty_cell_leaves_the_base_as_it_is(rows):
    (job,) = rows("case,title,screws.count\nbase.toml,,\n")
    assert job.changes == {}
    assert job.read().title == "base"


def test_a_row_without_an_id_is_named_after_the_manifest(rows):
    assert [job.id for job in rows("case\nbase.toml\nbase.toml\n")] == ["m-0002", "m-0003"]


def test_toml_rows(rows):
    plain, changed = rows(
        'base = "base.toml"\n[[row]]\nid = "a"\n[[row]]\nid = "b"\naxes = "axes.csv"\n'
        'screws.count = 3\n[[row.joint]]\nname = "j"\nmesh = "bone1.stl"\n',
        "m.toml",
    )
    assert (plain.id, plain.changes, plain.axes) == ("a", {}, None)
    assert changed.axes.name == "axes.csv"
    case = changed.read()
    assert (case.screws.count, case.joints[0].mesh) == (3, "bone1.stl")


def test_paths_start_at_the_manifest(tmp_path):
    write_base(tmp_path / "base")
    (tmp_path / "rows").mkdir()
    (tmp_path / "rows" / "m.toml").write_text(
        'base = "../base/base.toml"\n[[row]]\nid = "a"\ncatalogue = ["mine.toml"]\n'
        'bone.fragments = ["a.stl", "/b.stl"]\n'
        '[[row.avoid]]\nname = "n"\nmesh = "nerve.stl"\n'
    )
    (job,) = find_jobs([tmp_path / "rows" / "m.toml"])
    case = job.read()
    for path, name in [(case.bone.paths[0], "a.stl"), (case.avoids[0].mesh, "nerve.stl"),
                       (case.catalogue[0], "mine.toml")]:  # fmt: skip
        assert path == f"../rows/{name}"
        assert case.resolve(path).resolve() == tmp_path / "rows" / name
    assert case.bone.paths[1] == "/b.stl"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "it lists no case"),
        ("case\n", "it lists no case"),
        ("id,case,limits.max_tlit\na,base.toml,3\n", 'write "limits.max_tilt"'),
        ("id,case,case\na,base.toml,base.toml\n", 'the column "case" is there twice'),
        ("id,title\na,b\n", 'the column "case" is missing'),
        ('case\n"base', "this is no CSV text"),
    ],
)
def test_a_table_that_is_wrong_as_a_whole(rows, text, found):
    with pytest.raises(ManifestError, match=r"m\.csv") as caught:
        rows(text)
    assert found in str(caught.value)


@pytest.mark.parametrize("text", ["row = 3\n", "row = [1]\n", 'base = "b"\nlimits.max_tilt = 3\n'])
def test_toml_that_is_wrong_as_a_whole(rows, text):
    with pytest.raises(ManifestError, match=r"m\.toml"):
        rows(text, "m.toml")


@pytest.mark.parametrize(
    ("row", "trouble"),
    [
        ("a,,1", "no base case is named"),
        ("../a,base.toml,1", "the id is"),
        (".hidden,base.toml,1", "the id is"),
        ("a ,base.toml,1", ""),
        (f"{'a' * 101},base.toml,1", "the id is"),
        ("a,base.toml,1,2", "there are 4 cells under 3 columns"),
    ],
)
def test_a_wrong_row_is_trouble_for_itself_alone(rows, row, trouble):
    good, bad = rows(f"id,case,screws.count\ngood,base.toml,1\n{row}\n")
    assert not good.trouble
    assert (trouble in bad.trouble) if trouble else not bad.trouble
    assert not trouble or "m.csv, row 3" in bad.trouble
    assert "/" not in bad.id


def test_a_toml_row_whose_paths_are_no_texts(rows):
    (bad,) = rows("[[row]]\ncase = 3\n", "m.toml")
    assert "case is 3" in bad.trouble


def test_a_cell_cannot_bring_keys_of_its_own(rows):
    (job,) = rows('case,screws.count\nbase.toml,"1\nunit = ""m"""\n')
    assert job.changes == {"screws": {"count": '1\nunit = "m"'}}
    with pytest.raises(CaseError, match=r"screws\.count"):
        job.read()
