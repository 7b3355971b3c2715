"""Broken files: each is refused with one sentence that says what, where and how to mend it."""

import numpy as np
import pytest
import trimesh
from mesh_files import PLY_HEAD, obj_text, stl_bytes, stl_text, write
from specimens import cube, empty

from trajplan.bone._read import read_surface
from trajplan.errors import MeshError

GOOD_STL = stl_bytes(cube())
GOOD_TEXT = stl_text(cube())
GOOD_OBJ = obj_text(cube())
BROKEN = {
    "empty.stl": (b"", "empty"),
    "empty.obj": (b"", "empty"),
    "words.stl": ("a note to the surgeon\n" * 20, "text that is not STL"),
    "obj.stl": (GOOD_OBJ, "text that is not STL"),
    "truncated.stl": (GOOD_STL[:-120], "promises 12 faces, but its size fits 9"),
    "longer.stl": (GOOD_STL + b"\0" * 50, "promises 12 faces, but its size fits 13"),
    "count.stl": (stl_bytes(cube(), count=7), "promises 7 faces"),
    "solid.stl": (stl_bytes(cube(), comment=b"solid x")[:-1] + b"", "promises 12 faces"),
    "header.stl": (b"\0" * 40, "fewer than the 84"),
    "none.stl": (stl_bytes(empty()), "no faces"),
    "notext.stl": ("solid x\nendsolid x\n", "no faces"),
    "short.stl": (GOOD_TEXT[: len(GOOD_TEXT) // 2], "stops without 'endsolid'"),
    "unended.stl": (GOOD_TEXT.replace("endsolid", ""), "without 'endsolid' after 12 whole"),
    "words.stl.stl": (GOOD_TEXT.replace("endsolid", "facet\nendsolid"), "too few words"),
    "quad.stl": (GOOD_TEXT.replace(" endloop", "vertex 0 0 0\n endloop", 1), "endloop"),
    "comma.stl": (GOOD_TEXT.replace("-5", "-5,0"), "'-5,0' for a number"),
    "nan.stl": (stl_bytes((np.where(cube()[0] > 0, np.nan, 1.0), cube()[1])), "not a finite"),
    "nantext.stl": (GOOD_TEXT.replace("-5", "nan", 1), "not a finite"),
    "inf.obj": (GOOD_OBJ.replace("5.0", "inf", 1), "not a finite"),
    "huge.obj": (GOOD_OBJ.replace("5.0", "1e30", 1), "too large"),
    "two.obj": ("v 1 2\n" + GOOD_OBJ, "three numbers"),
    "letter.obj": (GOOD_OBJ.replace("5.0", "x", 1), "three numbers"),
    "corner.obj": (GOOD_OBJ + "f 1 2 x\n", "no number"),
    "python.obj": (GOOD_OBJ + "f 1 2 1_0\n", "no number"),
    "slash.obj": (GOOD_OBJ + "f 1 2 /3\n", "no number"),
    "fraction.obj": (GOOD_OBJ + "f 1 2 3.5\n", "no number"),
    "endless.obj": (GOOD_OBJ + "f 1 2 99999999999999999999999\n", "not there"),
    "bare.obj": ("v\n" + GOOD_OBJ, "three numbers"),
    "corners.obj": (GOOD_OBJ + "f 1 2\n", "fewer than three corners"),
    "range.obj": (GOOD_OBJ + "f 1 2 9\n", "names vertex 9"),
    "zero.obj": (GOOD_OBJ + "f 0 1 2\n", "names vertex 0"),
    "back.obj": (GOOD_OBJ + "f -1 -2 -9\n", "names vertex -9"),
    "points.obj": ("v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no faces"),
    "stl.obj": (GOOD_STL, "no faces"),
    "words.ply": ("a note", "PLY header"),
    "stl.ply": (GOOD_STL, "PLY header"),
    "rows.ply": (PLY_HEAD + "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n", "promises 5 rows, it has 4"),
    "range.ply": (PLY_HEAD + "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n3 0 1 3\n", "not there"),
    "nan.ply": (PLY_HEAD + "0 0 nan\n1 0 0\n0 1 0\n3 0 1 2\n3 0 1 2\n", "not a finite"),
    "junk.ply": (PLY_HEAD + "0 0 x\n1 0 0\n0 1 0\n3 0 1 2\n3 0 1 2\n", "cannot be read"),
    "mesh.vtk": (b"anything", "'.vtk' is not one that can be read"),
    "mesh": (b"anything", "'' is not one that can be read"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_say_what_and_where_and_how_to_mend(tmp_path, name):
    content, part = BROKEN[name]
    path = write(tmp_path / name, content)
    with pytest.raises(MeshError) as caught:
        read_surface(path)
    assert caught.value.file == str(path)
    assert part in caught.value.found
    assert caught.value.remedy
    assert "\n" not in str(caught.value)
    assert "np.float64" not in str(caught.value)


@pytest.mark.parametrize(
    ("name", "where"),
    [
        ("corner.obj", "line 21"),
        ("two.obj", "line 1"),
        ("back.obj", "line 21"),
        ("range.ply", "face 2"),
        ("nantext.stl", "face 1"),
        ("quad.stl", "face 1"),
    ],
)
def test_broken_files_name_the_line_or_face(tmp_path, name, where):
    with pytest.raises(MeshError) as caught:
        read_surface(write(tmp_path / name, BROKEN[name][0]))
    assert caught.value.where == where


def test_binary_ply_cut_off(tmp_path):
    whole = trimesh.Trimesh(*cube(), process=False).export(file_type="ply")
    for cut in (1, 13, 80, 200):
        with pytest.raises(MeshError, match=r"cannot be read|promises"):
            read_surface(write(tmp_path / "cut.ply", whole[:-cut]))


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(MeshError, match=r"none\.stl: there is no such file"):
        read_surface(tmp_path / "none.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(MeshError, match="this is a folder"):
        read_surface(tmp_path / "folder.stl")


def test_unknown_unit(tmp_path):
    path = write(tmp_path / "m.stl", GOOD_STL)
    with pytest.raises(MeshError, match="'ft' is not known; use one of mm, cm, m, inch"):
        read_surface(path, "ft")
