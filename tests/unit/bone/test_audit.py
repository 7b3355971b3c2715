"""Audit: counts against what was built, real bones against a table, cautions in words."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from specimens import (
    box,
    cube,
    flipped_cube,
    joined,
    nested_cubes,
    open_box,
    pipe,
    real_bone,
    tetra,
    touching_boxes,
    tube,
)

from trajplan.bone import make_bone
from trajplan.bone._audit import audit
from trajplan.bone._read import as_surface, check_size, read_surface
from trajplan.bone._shells import find_shells

NO_CANAL = "no canal is modelled: how thick the cortex is only the case can say, by bone.cortex"


def audit_of(mesh):
    surface = as_surface(mesh)
    return audit(surface, find_shells(surface))


def test_cube():
    found = audit_of(cube())
    assert (found.faces, found.vertices, found.merged) == (12, 8, 0)
    assert found.low.tolist() == [-5.0] * 3
    assert found.high.tolist() == [5.0] * 3
    assert_allclose([found.volume, found.area], [1000.0, 600.0], rtol=1e-12)
    assert found.closed
    assert found.wound
    assert not found.canal
    flaws = (found.open_edges, found.crowded_edges, found.inverted, found.degenerate)
    assert (*flaws, found.duplicate) == (0, 0, 0, 0, 0)
    assert (found.bodies, found.hollows) == (1, 0)
    assert found.cautions == (NO_CANAL,)


@pytest.mark.parametrize(
    ("thick", "closed"), [(0.0, False), (0.04, False), (0.06, True), (3.0, True)]
)
def test_a_flat_sheet_is_no_closed_bone(thick, closed):
    """A plate of 40 by 40 mm: its mean thickness, volume over half its area, is the plate's."""
    found = audit_of(box((0, 0, 0), (40, 40, thick)))
    assert found.closed == closed
    assert any("encloses nothing" in line for line in found.cautions) != closed
    assert found.open_edges == 0


def test_clean_tube_has_no_caution():
    found = audit_of(tube(14.0, 9.0, 100.0, 64, 5.0))
    # prisms on regular 64-gons: n/2 r² sin(2 pi / n) h, outer less canal
    assert_allclose(found.volume, 32 * np.sin(np.pi / 32) * (14**2 * 100 - 9**2 * 90), rtol=1e-12)
    assert found.canal
    assert found.hollows == 1
    assert found.cautions == ()


def test_a_hole_through_is_no_canal():
    found = audit_of(pipe())
    assert found.closed
    assert not found.canal
    assert found.cautions == (NO_CANAL,)


def test_open_box():
    found = audit_of(open_box())
    assert found.open_edges == 4
    assert not found.closed
    assert np.isnan(found.volume)
    assert found.cautions[0] == (
        "4 open edges: the surface is not closed, so inside and outside are estimated near the "
        'gaps; the repair "holes" closes small ones'
    )


def test_face_turned_over():
    vertices, faces = cube()
    faces[4] = faces[4, ::-1]
    found = audit_of((vertices, faces))
    assert found.closed
    assert not found.wound
    assert np.isnan(found.volume)
    assert "disagree on which side is out" in found.cautions[0]


def test_inverted():
    found = audit_of(flipped_cube())
    assert found.inverted == 1
    assert "point into the bone" in found.cautions[0]
    assert_allclose(found.volume, 1000.0)
    assert audit_of(nested_cubes(inner_outward=True)).inverted == 0


def test_degenerate_faces():
    vertices, faces = cube()
    vertices = np.vstack([vertices, [-5.0, -5.0, 0.0], [-5.0, -5.0, 1.0]])
    needle, collapsed = [0, 8, 9], [2, 2, 3]
    found = audit_of((vertices, np.vstack([faces, [needle, collapsed]])))
    assert found.degenerate == 2
    assert '2 faces have no area; the repair "degenerate" drops what has none' in found.cautions


@pytest.mark.parametrize(("height", "count"), [(1e-7, 1), (1e-5, 0)])
def test_degenerate_is_told_by_height(height, count):
    vertices = np.array([[0, 0, 0], [50, 0, 0], [25, height, 0]], dtype=float)
    assert audit_of((vertices, np.array([[0, 1, 2]]))).degenerate == count


def test_duplicate_faces():
    vertices, faces = cube()
    found = audit_of((vertices, np.vstack([faces, np.roll(faces[:2], 1, axis=1)])))
    assert found.duplicate == 2
    assert '2 faces lie on another one; the repair "duplicate" drops the copies' in found.cautions
    assert found.crowded_edges == 5


def test_touching_bodies():
    found = audit_of(touching_boxes())
    assert found.closed
    assert (found.bodies, found.crowded_edges, found.duplicate) == (2, 5, 2)
    assert_allclose(found.volume, 3000.0)
    text = " ".join(found.cautions)
    assert "bodies touch in 2 whole faces" in text
    assert "lie on another one" not in text
    assert "2 separate bodies" in text


def test_bodies_and_hollows():
    found = audit_of(joined(nested_cubes(30, 10), cube(10, (100, 0, 0))))
    assert (found.bodies, found.hollows, found.canal) == (2, 1, True)
    assert_allclose(found.volume, 27000 - 1000 + 1000)


def test_solid_inside_a_canal_is_bone_again():
    found = audit_of(joined(cube(30), cube(20), cube(10)))
    assert_allclose(found.volume, 27000 - 8000 + 1000)
    assert (found.bodies, found.hollows) == (1, 1)


def test_open_piece_inside_is_no_canal():
    vertices, faces = joined(cube(50), (tetra()[0], tetra()[1][:1]))
    found = audit_of((vertices, faces))
    assert not found.canal
    assert found.bodies == 1
    text = " ".join(found.cautions)
    assert "1 open piece lies inside another one and is not taken for a canal" in text
    assert '"stray"' in text


def test_box_covers_used_vertices_only():
    vertices, faces = box((1, 2, 3), (4, 5, 6))
    found = audit_of((np.vstack([vertices, [900.0, 0, 0]]), faces))
    assert found.low.tolist() == [1, 2, 3]
    assert found.high.tolist() == [4, 5, 6]


# Measured with a general mesh library from the files of the PyPI package myo-sim 0.2.3
# (Apache-2.0): triangles, box in mm, every edge shared by two triangles, volume in cm³
# where closed. They are rounded as written, hence the tolerances.
BONES = {
    "r_femur": (908, (70.3, 452.7, 99.5), True, 348.5),
    "r_tibia": (390, (57.5, 376.0, 68.9), False, None),
    "r_fibula": (240, (28.7, 364.0, 31.7), True, 55.5),
    "r_talus": (194, (46.1, 30.1, 41.6), True, 21.2),
    "r_patella": (140, (26.1, 52.9, 51.4), True, 27.9),
    "r_pelvis": (246, (137.9, 214.8, 132.8), False, None),
    "sacrum": (380, (92.6, 128.2, 94.4), True, 274.0),
    "humerus": (588, (48.6, 326.3, 70.2), False, None),
    "radius": (390, (55.0, 246.0, 46.7), False, None),
    "ulna": (396, (42.4, 259.7, 70.2), False, None),
    "clavicle": (398, (50.3, 39.7, 124.1), False, None),
    "scaphoid": (3654, (14.1, 17.8, 21.2), True, 1.4),
    "2mc": (8360, (20.4, 64.9, 20.3), True, 4.5),
    "2proxph": (5122, (16.6, 40.9, 14.0), True, 2.0),
    "lumbar3": (424, (66.5, 40.5, 64.9), True, 37.6),
}


@pytest.mark.parametrize("bone", BONES)
def test_real_bones(bone):
    triangles, sides, closed, volume = BONES[bone]
    surface = read_surface(real_bone(f"{bone}.stl"), "m")
    check_size(surface, "m")
    found = audit(surface, find_shells(surface))
    assert found.faces == triangles
    assert_allclose(found.high - found.low, sides, atol=0.051)
    assert found.closed is closed
    assert not found.canal
    if closed:
        assert_allclose(found.volume / 1000.0, volume, atol=0.051)
    else:
        assert np.isnan(found.volume)
        assert found.open_edges > 0
        assert "the surface is not closed" in found.cautions[0]


# Edges that are not shared by exactly two triangles, counted with a general mesh library
# in a package that holds the same three shapes.
@pytest.mark.parametrize(("bone", "edges"), [("humerus", 48), ("ulna", 36), ("radius", 70)])
def test_edges_without_one_partner(bone, edges):
    surface = read_surface(real_bone(f"{bone}.stl"), "m")
    found = audit(surface, find_shells(surface))
    assert found.open_edges + found.crowded_edges == edges


def test_clavicle_is_in_two_pieces():
    surface = read_surface(real_bone("clavicle.stl"), "m")
    found = audit(surface, find_shells(surface))
    assert found.bodies == 2


def test_a_file_for_each_fragment_needs_no_word():
    parts = [as_surface(cube(10.0)), as_surface(cube(10.0, (11.0, 0.0, 0.0)))]
    assert not any("separate bodies" in said for said in make_bone(parts).audit.cautions)
    one = as_surface(joined(cube(10.0), cube(10.0, (11.0, 0.0, 0.0))))
    (said,) = (said for said in make_bone(one).audit.cautions if "separate bodies" in said)
    assert said.endswith("take the right ones with bone.body")
    three = make_bone([one, as_surface(cube(10.0, (22.0, 0.0, 0.0)))]).audit.cautions
    assert any("3 separate bodies in 2 files" in said and '"stray"' in said for said in three)
