"""Repairs: each one mends its own dirt, touches nothing else, and says what it did."""

from dataclasses import replace

import dirt
import numpy as np
import pytest
import specimens
from specimens import cube, joined, tube

from trajplan.bone import REPAIRS, as_surface, make_bone, read_surface, repair
from trajplan.errors import MeshError


def shaft():
    return tube(sides=32)


def mended(mesh, *steps):
    surface, log = repair(as_surface(mesh), steps)
    return make_bone(surface), log


#: Dirt, the repairs that mend it, the start of what the last of them says.
MENDS = {
    "unmerged": (dirt.unmerged, ["merge"], "merge: 636 vertices were joined with another one"),
    "slivers": (dirt.with_slivers, ["degenerate"], "degenerate: 13 faces of no area dropped"),
    "repeated": (dirt.repeated, ["duplicate"], "duplicate: 13 faces on another one dropped"),
    "doubled": (dirt.doubled, ["duplicate"], "duplicate: 2 pieces stored twice dropped"),
    "slid": (dirt.slid, ["duplicate"], "duplicate: 2 pieces stored twice dropped"),
    "strays": (dirt.with_strays, ["stray"], "stray: 5 bodies of 7.5 mm² dropped"),
    "turned": (dirt.turned_over, ["winding"], "winding: 13 faces turned over"),
    "dropped": (dirt.dropped, ["holes"], "holes: 3 holes filled with 3 faces"),
    "soiled": (dirt.soiled, REPAIRS, "holes: 1 hole filled with 1 face"),
}


@pytest.mark.parametrize("kind", MENDS)
def test_mends_its_dirt(kind):
    soil, steps, said = MENDS[kind]
    whole = make_bone(as_surface(shaft())).audit
    bone, log = mended(soil(shaft()), *steps)
    assert len(log) == len(steps)
    assert log[-1].startswith(f"Repair {said}")
    found = bone.audit
    assert found.cautions == ()
    assert (found.bodies, found.hollows) == (1, 1)
    assert found.volume == pytest.approx(whole.volume, rel=1e-4)


@pytest.mark.parametrize("step", REPAIRS)
def test_clean_surface_stays_as_it_is(step):
    surface = as_surface(shaft())
    after, (said,) = repair(surface, [step])
    np.testing.assert_array_equal(after.triangles(), surface.triangles())
    assert said.startswith(f"Repair {step}: ")
    assert "no" in said


@pytest.mark.parametrize("kind", MENDS)
def test_nothing_is_repaired_unasked(kind):
    soil, steps, _ = MENDS[kind]
    surface = as_surface(soil(shaft()))
    after, log = repair(surface, ())
    assert log == ()
    np.testing.assert_array_equal(after.triangles(), surface.triangles())
    other = [step for step in REPAIRS if step not in (*steps, "winding", "holes", "merge")]
    after, _ = repair(surface, other)
    if kind != "soiled":
        np.testing.assert_array_equal(after.triangles(), surface.triangles())


def test_unknown_repair_lists_the_known_ones():
    with pytest.raises(MeshError, match='"weld"; name some of merge, degenerate, duplicate, str'):
        repair(as_surface(cube()), ["merge", "weld"])


def test_steps_are_done_in_their_own_order_and_once():
    _, log = repair(as_surface(cube()), ["holes", "merge", "holes"])
    assert [line.split(":")[0] for line in log] == ["Repair merge", "Repair holes"]


def test_nothing_left():
    line = np.array([[0.0, 0, 0], [20, 0, 0], [40, 0, 0]]), np.array([[0, 1, 2]])
    with pytest.raises(MeshError, match='no face is left after the repair "degenerate"'):
        repair(as_surface(line), ["degenerate"])


def test_groups_are_carried_over():
    vertices, faces = cube()
    surface = as_surface((vertices, np.vstack([faces[:1], faces])))
    surface = replace(surface, groups={"low": np.array([0, 1, 2]), "high": np.array([3, 4])})
    after, (said,) = repair(surface, ["duplicate"])
    assert said == "Repair duplicate: 1 face on another one dropped: face 2."
    assert {name: rows.tolist() for name, rows in after.groups.items()} == {
        "low": [0, 1], "high": [2, 3],
    }  # fmt: skip
    for name, rows in after.groups.items():
        kept = surface.groups[name][surface.groups[name] != 1]
        np.testing.assert_array_equal(after.triangles()[rows], surface.triangles()[kept])


def test_faces_are_named_and_the_rest_counted():
    _, (said,) = repair(as_surface(dirt.turned_over(cube(), 0.25)), ["winding"])
    assert said == "Repair winding: 3 faces turned over: faces 3, 8, 10."
    vertices, faces = cube()
    _, (said,) = repair(as_surface((vertices, np.vstack([faces, faces[:7]]))), ["duplicate"])
    assert said.endswith("7 faces on another one dropped: faces 13, 14, 15, 16, 17 and 2 more.")


def test_vertices_a_little_too_far_apart_are_not_merged():
    vertices, faces = joined(cube(), cube(centre=(10.0, 0.0, 0.0)))
    for gap, count in ((0.0009, 4), (0.0011, 0)):
        moved = vertices + np.where(np.arange(16) < 8, 0.0, gap)[:, None] * [1.0, 0.0, 0.0]
        surface, (said,) = repair(as_surface((moved, faces)), ["merge"])
        assert len(np.unique(surface.faces)) == 16 - count
        assert said.startswith("Repair merge: 4 vert") is bool(count)


def test_bodies_that_touch_in_a_face_keep_it():
    surface = as_surface(specimens.touching_boxes())
    after, (said,) = repair(surface, ["duplicate"])
    assert said == "Repair duplicate: no face lies on another one of the same piece."
    assert len(after.faces) == 24


def test_winding_turns_bodies_outwards_and_hollows_inwards():
    mesh = joined(specimens.flipped_cube(30.0), cube(10.0), specimens.flipped_cube(10.0))
    mesh[0][16:] += [40.0, 0.0, 0.0]
    bone, _ = mended(mesh, "winding")
    assert bone.shells.nesting.tolist() == [0, 1, 0]
    assert bone.shells.outward.tolist() == [1, -1, 1]


@pytest.mark.parametrize("over", [1, 8])
def test_winding_of_an_open_surface_goes_by_most_of_its_faces(over):
    vertices, faces = specimens.open_box()
    faces[:over] = faces[:over, ::-1]
    surface = as_surface((vertices, faces))
    after, (said,) = repair(surface, ["winding"])
    few = min(over, len(faces) - over)
    assert said.startswith(f"Repair winding: {few} face")
    outward = np.einsum("ij,ij->", np.cross(*np.diff(after.triangles(), axis=1).transpose(1, 0, 2)),
                        after.triangles()[:, 0])  # fmt: skip
    assert bool(outward > 0) is (over < 5)


def test_small_fragments_are_no_strays():
    """Area 600 mm² beside 600,000: a thousandth exactly; then a little less."""
    for size, left in ((10.0, 2), (9.9, 1)):
        bone, _ = mended(joined(cube(316.2), cube(size, (250.0, 0.0, 0.0))), "stray")
        assert bone.audit.bodies == left


def test_hole_of_many_sides_is_filled_round_its_middle():
    """A prism without its lid: the lid is flat, so the fill restores it exactly."""
    vertices, faces = specimens.cylinder(10.0, 50.0, 32)
    lid = (vertices[faces][:, :, 2] == 50.0).all(axis=1)
    bone, (said,) = mended((vertices, faces[~lid]), "holes")
    whole = make_bone(as_surface((vertices, faces))).audit
    assert bone.audit.closed
    assert bone.audit.wound
    assert bone.audit.volume == pytest.approx(whole.volume)
    assert "1 hole filled with 32 faces, 312 mm² in all, the widest 20 mm across" in said


@pytest.mark.parametrize("name", ["r_tibia", "humerus", "clavicle", "r_pelvis", "radius", "ulna"])
def test_real_open_bones_have_fewer_flaws(name):
    surface = read_surface(specimens.real_bone(f"{name}.stl"), "m")
    before = make_bone(surface).audit
    after = make_bone(repair(surface, REPAIRS)[0]).audit
    assert after.open_edges == 0
    assert after.crowded_edges <= before.crowded_edges + before.open_edges
