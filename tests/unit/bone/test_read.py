"""Reading: every format gives the same surface, every broken input one clear sentence."""

import hashlib
import subprocess
import sys

import numpy as np
import pytest
import trimesh
from mesh_files import PLY_HEAD, obj_text, stl_bytes, stl_text, write
from numpy.testing import assert_allclose, assert_array_equal
from specimens import box, cube, empty, joined, sphere, touching_boxes

from trajplan.bone._merge import merge_equal
from trajplan.bone._read import as_surface, read_surface
from trajplan.errors import MeshError


def triangle_set(surface):
    """Triangles as a set that does not mind the order of faces or of first corners."""
    return {
        min(tuple(map(tuple, np.roll(t, -k, axis=0).tolist())) for k in range(3))
        for t in surface.triangles()
    }


@pytest.fixture
def files(tmp_path):
    mesh = sphere(20.0, 2)
    mesh = np.round(mesh[0] * 64) / 64, mesh[1]  # exact in every format
    ply = trimesh.Trimesh(*mesh, process=False)
    return mesh, {
        "binary": write(tmp_path / "binary.stl", stl_bytes(mesh)),
        "binary that begins like text": write(
            tmp_path / "solid.STL", stl_bytes(mesh, comment=b"solid bone")
        ),
        "binary that begins like upper-case text": write(
            tmp_path / "loud.stl", stl_bytes(mesh, comment=b"SOLID")
        ),
        "ascii": write(tmp_path / "ascii.stl", stl_text(mesh)),
        "ascii, other line ends": write(
            tmp_path / "dos.stl", stl_text(mesh).upper().replace("\n", "\r\n")
        ),
        "obj": write(tmp_path / "mesh.obj", obj_text(mesh)),
        "ply": write(tmp_path / "mesh.ply", ply.export(file_type="ply")),
        "ascii ply": write(
            tmp_path / "text.ply", ply.export(file_type="ply", encoding="ascii")
        ),
    }  # fmt: skip


def test_every_format_gives_the_same_triangles(files):
    mesh, paths = files
    expected = triangle_set(as_surface(mesh))
    for kind, path in paths.items():
        surface = read_surface(path)
        assert triangle_set(surface) == expected, kind
        assert len(surface.vertices) == len(mesh[0]), kind
        assert surface.name == path.name
        assert surface.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_stl_counts_merged_corners(files):
    mesh, paths = files
    for kind in ("binary", "binary that begins like text", "ascii"):
        assert read_surface(paths[kind]).merged == 3 * len(mesh[1]) - len(mesh[0]), kind
    assert read_surface(paths["obj"]).merged == 0


def test_vertices_keep_the_order_of_first_appearance(files):
    _, paths = files
    fast, own = (read_surface(paths[k]) for k in ("binary", "binary that begins like text"))
    assert_array_equal(fast.vertices, own.vertices)
    assert_array_equal(fast.faces, own.faces)


def test_only_equal_positions_merge(tmp_path):
    vertices, faces = joined(box((0, 0, 0), (1, 1, 1)), box((1, 0, 0), (2, 1, 1)))
    vertices[8:12, 0] = np.nextafter(np.float32(1.0), np.float32(2.0))  # one float32 step aside
    surface = read_surface(write(tmp_path / "apart.stl", stl_bytes((vertices, faces))))
    assert len(surface.vertices) == 16


def test_minus_zero_is_zero(tmp_path):
    vertices, faces = joined(box((-1, 0, 0), (0, 1, 1)), box((0, 0, 0), (1, 1, 1)))
    vertices[4:8, 0] = -0.0
    for path, content in (("m.stl", stl_bytes), ("m.obj", obj_text)):
        surface = read_surface(write(tmp_path / path, content((vertices, faces))))
        assert len(surface.vertices) == 12
        assert not np.signbit(surface.vertices[surface.vertices == 0.0]).any()
    assert len(as_surface((vertices, faces)).vertices) == 12


def test_merge_equal_against_numpy():
    points = np.random.default_rng(1).integers(0, 4, (500, 3)).astype(float)
    distinct, row = merge_equal(points)
    assert_array_equal(distinct[row], points)
    assert len(distinct) == len(np.unique(points, axis=0))
    assert (np.diff(np.unique(row, return_index=True)[1]) > 0).all()


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1), ("cm", 10), ("m", 1000), ("inch", 25.4)])
def test_units(tmp_path, unit, factor):
    # the inch is 25.4 mm by definition (international yard and pound agreement of 1959)
    vertices, faces = cube(1.5)
    path = write(tmp_path / "cube.obj", obj_text((vertices, faces)))
    assert_array_equal(read_surface(path, unit).vertices, vertices * factor)
    assert_array_equal(as_surface((vertices, faces), unit).vertices, vertices * factor)


def test_surface_cannot_be_changed(tmp_path):
    surface = read_surface(write(tmp_path / "cube.obj", "g a\n" + obj_text(cube())))
    for array in (surface.vertices, surface.faces, surface.groups["a"]):
        assert not array.flags.writeable


# --- OBJ ------------------------------------------------------------------------------


def test_obj_groups_objects_and_polygons(tmp_path):
    text = """# invented
v 0 0 0 1.0 0.5 0.5
v 10 0 0
v 10 10 0   # a corner
v 0 10 0
  v 5 15 0
vt 0 0
vn 0 0 1
f 1/1 2/1/1 3//1
o upper piece
g wall shared
f 1 2 3 4 # front
g fracture shared
f 1 2 3 \\
  4 5
o lower
f -5 -4 -3
g
f 1 2 3
g unused
"""
    surface = read_surface(write(tmp_path / "m.obj", text))
    assert_array_equal(
        surface.faces,
        [[0, 1, 2], [0, 1, 2], [0, 2, 3], [0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 1, 2], [0, 1, 2]],
    )
    assert {name: rows.tolist() for name, rows in surface.groups.items()} == {
        "upper piece": [1, 2, 3, 4, 5],
        "wall": [1, 2],
        "shared": [1, 2, 3, 4, 5],
        "fracture": [3, 4, 5],
        "lower": [6, 7],
    }


def test_obj_negative_corners_count_back_from_their_own_line(tmp_path):
    text = "v 0 0 0\nv 9 0 0\nv 0 9 0\nf -3 -2 -1\nv 0 0 9\nf -4 -1 -2\n"
    surface = read_surface(write(tmp_path / "m.obj", text))
    assert_array_equal(surface.faces, [[0, 1, 2], [0, 3, 2]])


def test_obj_groups_survive_merging(tmp_path):
    vertices, faces = touching_boxes()
    lines = obj_text((vertices, faces)).splitlines()
    lines.insert(len(vertices), "g left")
    lines.insert(len(vertices) + 13, "g right")
    surface = read_surface(write(tmp_path / "m.obj", "\n".join(lines)))
    assert surface.merged == 4
    assert_allclose(surface.triangles()[surface.groups["right"]], vertices[faces[12:]])


# --- PLY ------------------------------------------------------------------------------


def test_ply_polygons_become_triangles(tmp_path):
    head = PLY_HEAD.replace("vertex 3", "vertex 5")
    rows = "0 0 0\n10 0 0\n15 10 0\n5 15 0\n-5 10 0\n3 0 1 2\n5 0 1 2 3 4\n"
    surface = read_surface(write(tmp_path / "m.ply", head + rows))
    assert_array_equal(surface.faces, [[0, 1, 2], [0, 1, 2], [0, 2, 3], [0, 3, 4]])


# --- from memory ----------------------------------------------------------------------


def test_as_surface_takes_what_libraries_hold():
    import pyvista

    vertices, faces = sphere(10.0, 1)
    poly = pyvista.PolyData.from_regular_faces(vertices, faces)
    for mesh in ((vertices, faces), trimesh.Trimesh(vertices, faces, process=False), poly):
        surface = as_surface(mesh, name="ball")
        assert_array_equal(surface.vertices, vertices)
        assert_array_equal(surface.faces, faces)
        assert surface.name == "ball"
    assert as_surface(surface) is surface


def test_as_surface_cuts_polygons_of_polydata():
    import pyvista

    surface = as_surface(pyvista.Cube(x_length=10, y_length=20, z_length=30).clean())
    assert surface.faces.shape == (12, 3)
    assert_allclose(np.ptp(surface.vertices, axis=0), [10, 20, 30])


def test_as_surface_copies():
    vertices, faces = cube()
    surface = as_surface((vertices, faces))
    vertices[0] = 99.0
    faces[0] = 0
    assert surface.vertices.max() == 5.0
    assert surface.faces[0].tolist() == cube()[1][0].tolist()
    assert vertices.flags.writeable


def test_as_surface_digest_follows_the_numbers():
    vertices, faces = cube()
    first = as_surface((vertices, faces)).sha256
    assert as_surface((vertices.tolist(), faces.tolist())).sha256 == first
    assert as_surface((vertices + 1e-9, faces)).sha256 != first
    assert as_surface((vertices, faces[::-1])).sha256 != first


@pytest.mark.parametrize(
    ("mesh", "part"),
    [
        ("a string", "type str is no surface"),
        (None, "type NoneType"),
        (empty(), "no faces"),
        ((cube()[0], cube()[1] + 0.5), "faces are not whole numbers"),
        ((cube()[0][:, :2], cube()[1]), "vertices are not rows of three"),
        ((cube()[0], np.zeros((2, 4), int)), "faces are not rows of three"),
        ((cube()[0], [[0, 1], [0, 1, 2]]), "faces are not rows of three"),
        ((cube()[0].astype(str), cube()[1]), "vertices are not real numbers"),
        ((cube()[0], cube()[1] + 1), "not there"),
        ((cube()[0], cube()[1] - 1), "not there"),
        ((cube()[0] * np.inf, cube()[1]), "not a finite"),
    ],
)
@pytest.mark.filterwarnings("ignore:invalid value encountered in multiply")
def test_as_surface_refuses(mesh, part):
    with pytest.raises(MeshError) as caught:
        as_surface(mesh, name="upper")
    assert part in caught.value.found
    assert caught.value.file == "upper"


def test_reading_leaves_drawing_unloaded(tmp_path):
    path = write(tmp_path / "m.stl", stl_bytes(cube()))
    code = (
        "import sys; from trajplan.bone._read import as_surface, read_surface\n"
        f"s = read_surface({str(path)!r}); as_surface((s.vertices, s.faces))\n"
        "print([m for m in ('pyvista', 'matplotlib', 'trimesh', 'igl') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
