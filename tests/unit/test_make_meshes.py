"""The demo bones: the same bytes every time, closed, wound outwards, nested, plausible."""

import tomllib
from itertools import chain
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from scripts import make_meshes
from scripts.make_meshes import END_PLANE, OBLIQUE_SHIFT, SHAFT_PLANE, Mesh, combine, files, main
from trajplan.files import read_case

MESHES = Path(__file__).parents[2] / "meshes"
CASES = sorted(MESHES.glob("*.toml"))


@pytest.fixture(scope="module")
def meshes() -> dict[str, Mesh]:
    return make_meshes.meshes()


def as_trimesh(mesh: Mesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def test_the_script_writes_the_committed_bytes(tmp_path, capsys):
    main(tmp_path)
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    kept = {p.name: p.read_bytes() for p in MESHES.iterdir() if p.suffix in {".stl", ".obj"}}
    assert written.keys() == kept.keys()
    for name, content in written.items():
        assert content == kept[name], name
    assert str(len(written["end.stl"])) in capsys.readouterr().out.replace(",", "")


def test_files_stay_small():
    assert all(len(content) < 400_000 for content in files().values())


FRAGMENTS = {
    "oblique": ["oblique_lower", "oblique_upper"],
    "wedge": ["wedge_lower", "wedge_upper", "wedge_piece"],
}


@pytest.mark.parametrize("name", ["shaft", "end", "shaft_nerve", *chain(*FRAGMENTS.values())])
def test_bodies_are_closed_and_wound(meshes, name):
    mesh = as_trimesh(meshes[name])
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0
    assert mesh.body_count == (2 if name == "shaft" else 1)  # skin and canal
    assert mesh.area_faces.min() > (0.01 if name == "wedge_piece" else 0.05)  # it has a sharp edge


@pytest.mark.parametrize("name", FRAGMENTS)
def test_fragments_make_up_the_shaft(meshes, name):
    """Their volumes add up to the shaft's, but for the chords of two different meshings."""
    parts = [as_trimesh(meshes[part]).volume for part in FRAGMENTS[name]]
    assert sum(parts) == pytest.approx(as_trimesh(meshes["shaft"]).volume, rel=0.01)
    assert min(parts) > 2000.0


def test_the_oblique_fragments_share_their_broken_face(meshes):
    lower, upper = (meshes[part].vertices for part in FRAGMENTS["oblique"])
    apart = cKDTree(lower).query(upper - OBLIQUE_SHIFT)[0]
    assert np.count_nonzero(apart < 2e-4) == 48 * 6  # rings of 48 corners, six of them
    assert np.linalg.norm(OBLIQUE_SHIFT) == pytest.approx(np.hypot(0.6, 0.8))


def test_the_spiral_joins_a_helix_and_a_line_on_the_skin(meshes):
    patch, bone = as_trimesh(meshes["spiral_fracture"]), as_trimesh(meshes["shaft"])
    edges, count = np.unique(patch.edges_sorted, axis=0, return_counts=True)
    rim = patch.vertices[np.unique(edges[count == 1])]
    rim = rim[np.argsort(rim[:, 2], kind="stable")]
    within = np.abs(rim[:, 2] - 112.0) < 39.9  # the ends run through the bone
    gap = trimesh.proximity.closest_point(bone, rim[within])[1]
    assert gap.max() < 0.15  # the chords of the bone's own facets
    levels = rim[within].reshape(-1, 2, 3)  # both ends of each straight line through the bone
    off = np.angle((levels[..., 0] + 1j * levels[..., 1]) / 1j)  # from the bearing of 90 degrees
    near, far = np.abs(off).min(axis=1), np.abs(off).max(axis=1)
    assert near.max() < np.radians(6.0)  # one end on a straight line, but for the shaft's bow
    turn = np.ptp(np.unwrap(np.where(np.abs(off[:, 0]) == far, *off.T)))
    assert np.degrees(turn) == pytest.approx(240.0, abs=10.0)
    assert np.ptp(rim[:, 2]) == pytest.approx(80.0)


@pytest.mark.parametrize(("bone", "plane"), [("shaft", SHAFT_PLANE), ("end", END_PLANE)])
def test_the_fracture_follows_its_plane_and_ends_on_the_skin(meshes, bone, plane):
    point, normal = plane
    patch = as_trimesh(meshes[f"{bone}_fracture"])
    height = (patch.vertices - point) @ (normal / np.linalg.norm(normal))
    assert 0.05 < np.sqrt((height**2).mean()) < 0.5
    assert (patch.face_normals @ normal > 0.8).all()
    edges, count = np.unique(patch.edges_sorted, axis=0, return_counts=True)
    rim = patch.vertices[np.unique(edges[count == 1])]
    gap = trimesh.proximity.closest_point(as_trimesh(meshes[bone]), rim)[1]
    assert len(rim) >= 72
    assert gap.max() < 0.15  # the chords of the bone's own facets


def test_the_fracture_covers_the_whole_ring_of_bone(meshes):
    point, normal = SHAFT_PLANE
    section = as_trimesh(meshes["shaft"]).section(plane_normal=normal, plane_origin=point)
    flat, _ = section.to_2D()
    assert as_trimesh(meshes["shaft_fracture"]).area == pytest.approx(flat.area, rel=0.05)


def test_the_joint_is_made_of_the_bones_own_triangles(meshes):
    bone, joint = meshes["end"], meshes["end_joint"]

    def keys(vertices, faces):
        return {vertices[face].tobytes() for face in faces}

    assert keys(joint.vertices, joint.faces) == keys(
        bone.vertices, bone.faces[bone.groups["joint"]]
    )
    assert as_trimesh(joint).face_normals[:, 2].min() > 0.5  # it faces up


def test_sizes_are_those_of_bones(meshes):
    assert np.ptp(meshes["shaft"].vertices[:, 2]) == pytest.approx(220.0)
    near = meshes["shaft"].vertices[np.abs(meshes["shaft"].vertices[:, 2] - 110) < 10]
    assert np.ptp(near[:, 0]) == pytest.approx(26.0, abs=1.5)
    assert np.ptp(meshes["end"].vertices[:, 0]) == pytest.approx(80.0, abs=1.0)


@pytest.mark.parametrize(
    ("bone", "groups"),
    [("shaft", {"outer", "canal", "fracture"}), ("end", {"outer", "joint", "fracture"})],
)
def test_obj_files_hold_the_named_groups(meshes, bone, groups):
    text = (MESHES / f"{bone}.obj").read_text("ascii")
    names = [line[2:] for line in text.splitlines() if line.startswith("g ")]
    assert set(names) == groups
    faces = sum(line.startswith("f ") for line in text.splitlines())
    assert faces == len(meshes[bone].faces) + len(meshes[f"{bone}_fracture"].faces)


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name)
def test_cases_read_and_name_files_that_exist(path):
    case = read_case(path)
    named = [*case.bone.paths, case.fracture.mesh, *(j.mesh for j in case.joints)]
    named += [avoid.mesh for avoid in case.avoids]
    assert all(case.resolve(name).is_file() for name in named if name)


def test_the_case_states_the_plane_that_the_patch_was_built_on():
    plane = tomllib.loads((MESHES / "shaft.toml").read_text())["fracture"]["plane"]
    assert plane["point"] == SHAFT_PLANE[0].tolist()
    assert plane["normal"] == SHAFT_PLANE[1].tolist()


def test_combine_drops_points_that_no_face_uses():
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [9, 9, 9]])
    mesh = combine({"part": (points, np.array([[0, 1, 2]]))})
    assert len(mesh.vertices) == 3
    assert mesh.groups["part"].tolist() == [0]
