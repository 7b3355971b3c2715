"""The case file: every field, every refusal."""

import hashlib
from pathlib import Path

import pytest

from trajplan.errors import CaseError
from trajplan.files import Case, check_limit_names, read_case

FULL = """
title = "Oblique shaft, bench model 3"
unit = "mm"
frame = "LPS"
catalogue = ["mine.toml"]
[bone]
mesh = "shaft.stl"
cortex = 4.5
[fracture]
plane = { point = [0, 0, 120], normal = [0, 0.707, 0.707] }
[[joint]]
name = "upper joint surface"
mesh = "joint.stl"
[[joint]]
name = "lower joint surface"
group = "joint"
clearance = 4
[[avoid]]
name = "nerve"
mesh = "nerve.stl"
clearance = 8.0
[screws]
count = 3
kinds = ["HA4.5", "HA3.5"]
technique = "position"
hold = "bicortical"
washer = true
approach = { direction = [1, 0, 0], cone = 60 }
candidates = 500
ring = 24
[limits]
max_tilt = 20
"""
LEAST = """
unit = "mm"
[bone]
mesh = "shaft.stl"
[fracture]
group = "fracture"
"""


@pytest.fixture
def read(tmp_path):
    def _read(text):
        path = tmp_path / "case.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_case(path)

    return _read


def test_every_field_arrives(read):
    case = read(FULL)
    assert (case.title, case.unit, case.frame) == ("Oblique shaft, bench model 3", "mm", "LPS")
    assert case.catalogue == ("mine.toml",)
    assert (case.bone.mesh, case.bone.cortex) == ("shaft.stl", 4.5)
    assert case.fracture.plane.point == (0.0, 0.0, 120.0)
    assert case.fracture.plane.normal == (0.0, 0.707, 0.707)
    assert [joint.name for joint in case.joints] == ["upper joint surface", "lower joint surface"]
    assert [joint.clearance for joint in case.joints] == [5.0, 4.0]
    assert [joint.group for joint in case.joints] == [None, "joint"]
    assert (case.avoids[0].name, case.avoids[0].clearance) == ("nerve", 8.0)
    assert (case.screws.count, case.screws.kinds) == (3, ("HA4.5", "HA3.5"))
    assert (case.screws.technique, case.screws.hold) == ("position", "bicortical")
    assert case.screws.washer is True
    assert (case.screws.approach.direction, case.screws.approach.cone) == ((1.0, 0.0, 0.0), 60.0)
    assert (case.screws.candidates, case.screws.ring) == (500, 24)
    assert case.limits == {"max_tilt": 20.0}


def test_defaults(read):
    case = read(LEAST)
    assert (case.title, case.frame, case.catalogue, case.limits) == ("", "", (), {})
    assert (case.joints, case.avoids, case.bone.cortex) == ((), (), None)
    screws = case.screws
    assert (screws.count, screws.kinds, screws.technique) == (2, ("HA4.5",), "lag")
    assert (screws.hold, screws.washer, screws.approach) == ("by thread", False, None)
    assert (screws.candidates, screws.ring) == (2000, 16)


@pytest.mark.parametrize(
    "source",
    [
        "points = [[0, 0, 0], [1, 0, 0], [0, 1.5, 0]]",
        'mesh = "fracture.stl"',
        "plane = { point = [0, 0, 0], normal = [0, 0, 2] }",
    ],
)
def test_each_fracture_source_alone(read, source):
    case = read(LEAST.replace('group = "fracture"', source))
    given = [k for k in ("plane", "points", "mesh", "group") if getattr(case.fracture, k)]
    assert given == [source.split()[0]]


def test_paths_start_at_the_case_file(read, tmp_path):
    case = read(LEAST)
    assert case.resolve("meshes/a.stl") == tmp_path / "meshes/a.stl"
    assert case.resolve("/elsewhere/a.stl") == Path("/elsewhere/a.stl")
    assert case.file == tmp_path / "case.toml"
    assert len(case.sha256) == 64


def test_a_case_made_in_memory_starts_at_the_current_folder():
    case = Case(unit="m", bone={"mesh": "a.stl"}, fracture={"mesh": "b.stl"})
    assert case.resolve("a.stl") == Path("a.stl")
    assert case.sha256 == ""


def test_the_hash_is_that_of_the_bytes(read):
    # sha256 of the same bytes, from the standard library.
    assert read(LEAST).sha256 == hashlib.sha256(LEAST.encode()).hexdigest()


def test_byte_order_mark_and_windows_line_ends(read):
    assert read(b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode()).screws.count == 3


@pytest.mark.parametrize(
    ("old", "new", "where", "word"),
    [
        ("count = 3", "cout = 3", "screws.cout", '"count"'),
        ("cortex = 4.5", "cortx = 4.5", "bone.cortx", '"cortex"'),
        ('frame = "LPS"', 'colour = "LPS"', "colour", "known are title, unit"),
        ("clearance = 8.0", "clearence = 8.0", "avoid 1.clearence", '"clearance"'),
        ("clearance = 4", "clearence = 4", "joint 2.clearence", '"clearance"'),
        ("cone = 60", "cone = 60, angle = 3", "screws.approach.angle", "cone"),
        ("[[avoid]]", "[[avoids]]", "avoids", '"avoid"'),
        ("normal = [0, 0.707, 0.707]", "norm = [0, 0, 1]", "fracture.plane.normal", "missing"),
        ('unit = "mm"', "", "unit", "missing"),
        ('mesh = "shaft.stl"', "", "bone", "exactly one of mesh, fragments"),
        ('unit = "mm"', 'unit = "ft"', "unit", "'mm', 'cm', 'm' or 'inch'"),
        ('unit = "mm"', "unit = 1", "unit", "'mm'"),
        ('title = "Oblique shaft, bench model 3"', "title = 3", "title", "text"),
        ("cortex = 4.5", "cortex = 0", "bone.cortex", "above 0"),
        ("cortex = 4.5", "cortex = -1.5", "bone.cortex", "above 0"),
        ("cortex = 4.5", "cortex = nan", "bone.cortex", "finite"),
        ("cortex = 4.5", "cortex = inf", "bone.cortex", "finite"),
        ("cortex = 4.5", 'cortex = "4.5"', "bone.cortex", "number"),
        ("cortex = 4.5", "cortex = true", "bone.cortex", "number"),
        ("cortex = 4.5", "cortex = 1979-05-27", "bone.cortex", "number"),
        ('mesh = "shaft.stl"', 'mesh = ""', "bone.mesh", "empty"),
        ("[0, 0.707, 0.707]", "[0, 0, 0]", "fracture.plane.normal", "not zero"),
        ("[0, 0.707, 0.707]", "[0, 0, 1e-13]", "fracture.plane.normal", "not zero"),
        ("[0, 0.707, 0.707]", "[0, 0.707]", "fracture.plane.normal", "three numbers"),
        ("[0, 0.707, 0.707]", "[0, 0.7, 0.7, 0]", "fracture.plane.normal", "three numbers"),
        ("[0, 0.707, 0.707]", '"z"', "fracture.plane.normal", "three numbers"),
        ("[0, 0, 120]", '[0, 0, "120"]', "fracture.plane.point 3", "number"),
        ("[0, 0, 120]", "[0, nan, 120]", "fracture.plane.point 2", "finite"),
        ("clearance = 8.0", "clearance = -8.0", "avoid 1.clearance", "above 0"),
        ("clearance = 4", "clearance = 0", "joint 2.clearance", "above 0"),
        ('group = "joint"', 'group = "joint"\nmesh = "a"', "joint 2", "exactly one"),
        ('group = "joint"', "", "joint 2", "exactly one"),
        ('name = "nerve"', "", "avoid 1.name", "missing"),
        ('name = "nerve"', 'name = "lower joint surface"', None, "two joints or structures"),
        ("count = 3", "count = -1", "screws.count", "not below 0"),
        ("count = 3", "count = 7", "screws.count", "not above 6"),
        ("count = 3", "count = 2.5", "screws.count", "whole number"),
        ("count = 3", 'count = "3"', "screws.count", "whole number"),
        ('kinds = ["HA4.5", "HA3.5"]', "kinds = []", "screws.kinds", "at least 1"),
        ('kinds = ["HA4.5", "HA3.5"]', 'kinds = "HA4.5"', "screws.kinds", "list"),
        ('kinds = ["HA4.5", "HA3.5"]', "kinds = [4.5]", "screws.kinds 1", "text"),
        ('kinds = ["HA4.5", "HA3.5"]', 'kinds = [""]', "screws.kinds 1", "empty"),
        ('technique = "position"', 'technique = "pull"', "screws.technique", "'lag'"),
        ('hold = "bicortical"', 'hold = "both"', "screws.hold", "'by thread'"),
        ("washer = true", "washer = 1", "screws.washer", "true or false"),
        ("direction = [1, 0, 0]", "direction = [0, 0, 0]", "screws.approach.direction", "zero"),
        ("cone = 60", "cone = 0", "screws.approach.cone", "above 0"),
        ("cone = 60", "cone = 181", "screws.approach.cone", "not above 180"),
        ("candidates = 500", "candidates = 49", "screws.candidates", "not below 50"),
        ("candidates = 500", "candidates = 200001", "screws.candidates", "not above 200000"),
        ("ring = 24", "ring = 7", "screws.ring", "not below 8"),
        ("ring = 24", "ring = 257", "screws.ring", "not above 256"),
        ("max_tilt = 20", "max_tilt = -1", "limits.max_tilt", "not below 0"),
        ("max_tilt = 20", "max_tilt = inf", "limits.max_tilt", "finite"),
        ("max_tilt = 20", 'max_tilt = "20"', "limits.max_tilt", "number"),
        ("max_tilt = 20", "max_tilt = 1" + "0" * 400, "limits.max_tilt", ""),
        ("[bone]", "bone = 3\n[bones]", "bone", "table"),
        ("[bone]", '[bone]\nside = "L"', "bone.side", "'left' or 'right'"),
        ("[bone]", '[bone]\nproximal = "up"', "bone.proximal", "three numbers"),
        ("[bone]", "[bone]\nproximal = [0, 0, 0]", "bone.proximal", "not zero"),
        ("[[avoid]]", '[[landmark]]\nname = "tip"\n[[avoid]]', "landmark 1.point", "missing"),
        ("[[avoid]]", "[[landmark]]\npoint = [0, 0, 0]\n[[avoid]]", "landmark 1.name", "missing"),
        ("[[avoid]]", 2 * '[[landmark]]\nname = "tip"\npoint = [0, 0, 0]\n' + "[[avoid]]", None,
         "two landmarks"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_named(read, old, new, where, word):
    assert old in FULL
    with pytest.raises(CaseError) as caught:
        read(FULL.replace(old, new, 1))
    error = caught.value
    assert error.file.endswith("case.toml")
    assert error.where == where
    assert word in f"{error.found}; {error.remedy}"
    assert "\n" not in str(error)
    assert len(str(error)) < 500


@pytest.mark.parametrize(
    ("source", "word"),
    [
        ("", "no source is given"),
        ('mesh = "a.stl"\ngroup = "b"', "both mesh and group are given"),
        ('plane = { point = [0,0,0], normal = [0,0,1] }\nmesh = "a.stl"', "both plane and mesh"),
        ("points = [[0, 0, 0], [1, 0, 0]]", "at least 3"),
        ("points = []", "at least 3"),
        ("points = [[0, 0, 0], [1, 0, 0], [1, 0]]", "three numbers"),
        ('group = ""', "not empty"),
        ('between = "fragments"', "give true"),
        ("between = false", "give true"),
    ],
)
def test_a_wrong_fracture_is_refused(read, source, word):
    with pytest.raises(CaseError) as caught:
        read(LEAST.replace('group = "fracture"', source))
    assert caught.value.where.startswith("fracture")
    assert word in f"{caught.value.found}; {caught.value.remedy}"


def test_several_errors_are_counted(read):
    with pytest.raises(CaseError, match=r"screws\.count.*1 more"):
        read(FULL.replace("count = 3", "count = -1").replace("ring = 24", "ring = 1"))


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        ("", "unit", "missing"),
        ('unit = "mm"\n[bone\n', "line 2", "not TOML"),
        ('unit = "mm"\nunit = "cm"\n', "line 2", "not TOML"),
        ('unit = "mm', None, "at the end"),
        (b"title = '\xe9'", None, "UTF-8"),
        ("a = " + "[" * 5000, None, "nested"),
    ],
)
def test_a_file_that_is_no_case(read, text, where, word):
    with pytest.raises(CaseError) as caught:
        read(text)
    assert caught.value.where == where
    assert word in str(caught.value)


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(CaseError, match=r"none\.toml: there is no such file"):
        read_case(tmp_path / "none.toml")
    with pytest.raises(CaseError, match="folder"):
        read_case(tmp_path)
    with pytest.raises(CaseError, match="cannot be read"):
        read_case(tmp_path / "a\0b")


def test_limit_names(read):
    case = read(FULL)
    check_limit_names(case, ["max_tilt", "min_purchase"])
    with pytest.raises(CaseError) as caught:
        check_limit_names(case, ["maximum_tilt", "min_purchase"])
    assert caught.value.where == "limits.max_tilt"
    assert '"maximum_tilt"' in caught.value.remedy
    assert caught.value.file.endswith("case.toml")


def test_limit_names_of_a_case_made_in_memory():
    bone, fracture = {"mesh": "a.stl"}, {"mesh": "b.stl"}
    case = Case(unit="m", bone=bone, fracture=fracture, limits={"max_tlt": 1})
    with pytest.raises(CaseError, match=r"^limits\.max_tlt: ") as caught:
        check_limit_names(case, ["max_tilt"])
    assert caught.value.file is None
