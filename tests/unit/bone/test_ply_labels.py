"""Whole numbers that a PLY file gives to its faces become groups."""

import struct

import numpy as np
import pytest
from mesh_files import write

from trajplan.bone import group_surface, make_bone, read_surface
from trajplan.errors import MeshError

CORNERS = [(0, 0, 0), (20, 0, 0), (20, 20, 0), (0, 20, 0), (0, 0, 20)]
FACES = [(0, 2, 1), (0, 3, 2), (0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)]


def head(style, faces, *properties):
    return (
        f"ply\nformat {style} 1.0\ncomment made for a test\nelement vertex {len(CORNERS)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {faces}\nproperty list uchar int vertex_indices\n"
        + "".join(f"property {p}\n" for p in properties)
        + "end_header\n"
    )


def text(faces, columns, *properties):
    rows = [" ".join(map(str, corner)) for corner in CORNERS]
    for face, *values in zip(faces, *columns, strict=True):
        rows.append(" ".join(map(str, (len(face), *face, *values))))
    return head("ascii", len(faces), *properties) + "\n".join(rows) + "\n"


def binary(faces, labels, kind="int label", code="i", end="<"):
    style = "binary_little_endian" if end == "<" else "binary_big_endian"
    body = b"".join(struct.pack(end + "3f", *corner) for corner in CORNERS)
    body += b"".join(
        struct.pack(f"{end}B{len(face)}i{code}", len(face), *face, label)
        for face, label in zip(faces, labels, strict=True)
    )
    return head(style, len(faces), kind).encode() + body


def groups_of(tmp_path, content):
    surface = read_surface(write(tmp_path / "labelled.ply", content))
    return {name: rows.tolist() for name, rows in surface.groups.items()}


LABELS = [2, 2, 0, 1, 0, 1]
BY_LABEL = {"label=0": [2, 4], "label=1": [3, 5], "label=2": [0, 1]}


@pytest.mark.parametrize(
    "content",
    [
        text(FACES, [LABELS], "int label"),
        binary(FACES, LABELS),
        binary(FACES, LABELS, end=">"),
        binary(FACES, LABELS, "uchar label", "B"),
    ],
)
def test_each_value_is_a_group(tmp_path, content):
    assert groups_of(tmp_path, content) == BY_LABEL


def test_negative_labels_and_several_properties(tmp_path):
    columns = [[-1, 7, 7, 7, 7, 7], [3, 3, 3, 4, 4, 4]]
    found = groups_of(tmp_path, text(FACES, columns, "short region", "ushort material_index"))
    assert list(found) == ["region=-1", "region=7", "material_index=3", "material_index=4"]
    assert found["region=-1"] == [0]


def test_reals_and_colours_are_no_labels(tmp_path):
    columns = [[0.5] * 6, [255] * 6, [1] * 6]
    assert groups_of(tmp_path, text(FACES, columns, "float quality", "uchar red", "int id")) == {
        "id=1": [0, 1, 2, 3, 4, 5]
    }


def test_a_polygon_hands_its_label_to_its_triangles(tmp_path):
    """Four corners in the first face only: the rows differ in length."""
    faces = [(0, 3, 2, 1), *FACES[2:]]
    surface = read_surface(write(tmp_path / "m.ply", text(faces, [[5, 1, 1, 1, 1]], "int label")))
    assert surface.groups["label=5"].tolist() == [0, 1]
    assert surface.groups["label=1"].tolist() == [2, 3, 4, 5]
    assert make_bone(surface).audit.closed


@pytest.mark.parametrize("write_as", [lambda f, v: text(f, [v], "int label"), binary])
def test_nothing_but_quads(tmp_path, write_as):
    faces = [(0, 3, 2, 1), (0, 1, 2, 4)]
    surface = read_surface(write(tmp_path / "m.ply", write_as(faces, [1, 2])))
    corners = [[0, 3, 2], [0, 2, 1], [0, 1, 2], [0, 2, 4]]
    np.testing.assert_array_equal(surface.faces, corners)
    assert surface.groups["label=2"].tolist() == [2, 3]


@pytest.mark.parametrize(("count", "groups"), [(64, 64), (65, 0)])
def test_numbers_of_faces_are_no_labels(tmp_path, count, groups):
    faces = [FACES[0]] * count
    assert len(groups_of(tmp_path, text(faces, [range(count)], "int label"))) == groups


def test_no_label_no_group(tmp_path):
    assert groups_of(tmp_path, text(FACES, [])) == {}


def test_a_group_is_taken_out_by_its_name(tmp_path):
    surface = read_surface(write(tmp_path / "m.ply", binary(FACES, LABELS)))
    joint = group_surface(surface, "label=2")
    np.testing.assert_array_equal(joint.triangles(), surface.triangles()[:2])
    with pytest.raises(MeshError, match="label=0, label=1, label=2"):
        group_surface(surface, "label=9")


def test_face_of_two_corners_is_refused(tmp_path):
    content = text([*FACES[:5], (3, 4)], [LABELS], "int label")
    with pytest.raises(MeshError, match="face 6 has fewer than three corners"):
        groups_of(tmp_path, content)
