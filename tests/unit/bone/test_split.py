"""Splitting a bone into closed fragments."""

import numpy as np
import pytest
from specimens import cube, cylinder, joined, open_box, sphere, tube

from trajplan.bone import Rough, as_surface, find_shells, make_bone, split_bone
from trajplan.errors import CaseError, MeshError
from trajplan.geometry import Plane

OBLIQUE = Plane.through([0, 0, 50], [0, 0.6, 0.8])
#: Area of a regular polygon of 64 corners on the unit circle.
POLYGON = 32 * np.sin(2 * np.pi / 64)


def plate(size=40.0, height=50.0, steps=8, hole=0.0, lift=lambda x, y: 0.0 * x):
    """A square patch of triangles at a height, perhaps with a square hole in its middle."""
    axis = np.linspace(-size / 2, size / 2, steps + 1)
    x, y = (grid.ravel() for grid in np.meshgrid(axis, axis, indexing="ij"))
    i, j = (grid.ravel() for grid in np.meshgrid(range(steps), range(steps), indexing="ij"))
    a = i * (steps + 1) + j
    faces = np.concatenate([
        np.column_stack([a, a + steps + 1, a + steps + 2]),
        np.column_stack([a, a + steps + 2, a + 1]),
    ])  # fmt: skip
    vertices = np.column_stack([x, y, height + lift(x, y)])
    middles = np.abs(vertices[faces][:, :, :2].mean(axis=1)).max(axis=1)
    return as_surface((vertices, faces[middles >= hole / 2]), name="patch.stl")


def volumes(pieces):
    return [make_bone(piece).audit.volume for piece in pieces]


def cut_points(piece, whole):
    """Vertices that the whole did not have and that lie inside it."""
    return piece.vertices[make_bone(whole).winding.number(0, piece.vertices) > 0.9]


@pytest.mark.parametrize("by", [OBLIQUE, Rough(OBLIQUE, 1.0, seed=4)], ids=["plane", "rough"])
def test_pieces_are_closed_and_make_up_the_whole(by):
    whole = as_surface(tube(), name="tube.stl")
    split = split_bone(whole, by)
    bones = [make_bone(piece) for piece in split.pieces]
    assert split.cautions == ()
    assert [bone.audit.closed and bone.audit.wound for bone in bones] == [True, True]
    # the canal is open at the cut: it is part of the outer surface, not a hollow of its own
    assert [(bone.audit.bodies, bone.audit.hollows) for bone in bones] == [(1, 0), (1, 0)]
    total = sum(bone.audit.volume for bone in bones)
    assert total == pytest.approx(make_bone(whole).audit.volume, rel=1e-9)
    assert [piece.name for piece in split.pieces] == [
        "tube.stl, fragment 1",
        "tube.stl, fragment 2",
    ]


def test_plane_gives_the_volumes_of_the_closed_form():
    low, high = split_bone(as_surface(tube()), Plane.through([0, 0, 30], [0, 0, 1])).pieces
    # a prism less a canal that begins 5 mm from either end
    assert volumes([low]) == pytest.approx([POLYGON * (14**2 * 30 - 9**2 * 25)])
    assert volumes([high]) == pytest.approx([POLYGON * (14**2 * 70 - 9**2 * 65)])


def test_pieces_lie_in_the_order_of_the_normal():
    whole = as_surface(tube())
    up = split_bone(whole, OBLIQUE).pieces
    down = split_bone(whole, Plane.through(OBLIQUE.point, -OBLIQUE.normal)).pieces
    assert up[0].vertices[:, 2].mean() < up[1].vertices[:, 2].mean()
    assert down[0].vertices[:, 2].mean() > down[1].vertices[:, 2].mean()


def test_a_plane_through_two_legs_gives_three_pieces():
    legs = joined(cube(10, (0, 0, 5)), cube(10, (30, 0, 5)))
    beam = as_surface(joined(legs, cube(40, (15, 0, 29))))  # rests on both, 1 mm deep
    pieces = split_bone(beam, Plane.through([0, 0, 4], [0, 0, 1])).pieces
    assert volumes(pieces) == pytest.approx([400, 400, 40**3 + 2 * 500])


@pytest.mark.parametrize("side", [1, -1])
def test_pieces_on_one_side_lie_in_order_too(side):
    legs = joined(cube(10, (0, 0, 5)), cube(10, (30, 0, 5)))
    beam = as_surface(joined(legs, cube(40, (15, 0, 29))))
    tilted = Plane.through([15, 0, 5], [0.1 * side, 0, 1])
    pieces = split_bone(beam, tilted).pieces
    heights = [tilted.height(piece.vertices).mean() for piece in pieces]
    assert heights == sorted(heights)
    assert pieces[0].vertices[:, 0].mean() == pytest.approx(0 if side > 0 else 30, abs=1)


def test_rough_cut_stays_within_its_amplitude_and_keeps_to_its_seed():
    whole = as_surface(cylinder(14, 100))
    one, two, other = (
        split_bone(whole, Rough(OBLIQUE, 1.5, seed=seed)).pieces[0] for seed in (1, 1, 2)
    )
    height = np.abs(OBLIQUE.height(cut_points(one, whole)))
    assert 0.5 < height.max() <= 1.5 + 1e-9
    assert one.sha256 == two.sha256
    assert one.sha256 != other.sha256


def test_flat_patch_cuts_like_a_plane():
    whole = as_surface(tube())
    split = split_bone(whole, plate(40, 30))
    assert volumes(split.pieces) == pytest.approx(
        volumes(split_bone(whole, Plane.through([0, 0, 30], [0, 0, 1])).pieces)
    )
    assert split.cautions == ()


def test_wavy_patch_is_followed_exactly():
    whole = as_surface(cylinder(14, 100))
    low, _ = split_bone(whole, plate(40, steps=16, lift=lambda x, _: 2 * np.sin(x / 4))).pieces
    points = cut_points(low, whole)
    knots = np.linspace(-20, 20, 17)
    assert points[:, 2] == pytest.approx(50 + np.interp(points[:, 0], knots, 2 * np.sin(knots / 4)))


def test_short_patch_is_continued_and_it_is_said():
    whole = as_surface(tube())
    split = split_bone(whole, plate(15, 30))
    assert volumes(split.pieces) == pytest.approx(
        volumes(split_bone(whole, Plane.through([0, 0, 30], [0, 0, 1])).pieces)
    )
    (caution,) = split.cautions
    assert "of the rim of patch.stl ends within the bone" in caution


def test_hole_of_a_patch_over_the_canal_is_nothing_to_say():
    split = split_bone(as_surface(tube()), plate(40, 50, steps=10, hole=8))
    assert split.cautions == ()
    assert len(split.pieces) == 2


def test_hole_of_a_patch_in_bone_is_said():
    split = split_bone(as_surface(cylinder(14, 100)), plate(40, 50, steps=10, hole=8))
    assert "ends within the bone" in split.cautions[0]


def test_open_surface_is_closed_first_and_it_is_said():
    split = split_bone(as_surface(open_box(10)), Plane.through([0, 0, 0], [1, 0, 0]))
    assert sum(volumes(split.pieces)) == pytest.approx(1000)
    (caution,) = split.cautions
    assert "4 edges round 1 opening, the widest 10 mm" in caution


def test_faces_that_disagree_are_turned_first_and_it_is_said():
    vertices, faces = cube(10)
    faces[3] = faces[3, ::-1]
    split = split_bone(as_surface((vertices, faces)), Plane.through([0, 0, 0], [1, 0, 0]))
    assert volumes(split.pieces) == pytest.approx([500, 500])
    assert "turned round" in split.cautions[0]


def test_flap_on_an_edge_comes_off_closed():
    """A third face at an edge belongs to no solid: it must not keep the pieces from closing."""
    vertices, faces = cube(10)
    vertices = np.concatenate([vertices, [[9, 9, 0]]])
    faces = np.concatenate([faces, [[faces[0, 0], faces[0, 1], 8]]])
    split = split_bone(as_surface((vertices, faces)), Plane.through([0, 0, 0], [0, 0, 1]))
    assert any("were drawn 0.01 mm apart" in line for line in split.cautions)
    for piece in split.pieces:
        assert find_shells(piece).closed.all()
    assert sum(volumes(split.pieces)) == pytest.approx(1000, rel=0.01)


@pytest.mark.parametrize(
    ("by", "said"),
    [
        (Plane.through([0, 0, 200], [0, 0, 1]), "the cut misses the bone"),
        (Rough(Plane.through([0, 0, 200], [0, 0, 1]), 1.0), "the cut misses the bone"),
        (plate(40, 200), "the patch lies outside the bone"),
        (Rough(OBLIQUE, -1.0), "make no surface"),
        (Rough(OBLIQUE, 1.0, wavelength=0.0), "make no surface"),
        (Rough(OBLIQUE, 1.0, wavelength=0.01), "give a longer wavelength"),
        (as_surface(sphere(10, centre=(0, 0, 50))), "the patch folds over"),
    ],
)
def test_cuts_that_cannot_be(by, said):
    with pytest.raises(CaseError, match=said):
        split_bone(as_surface(cylinder(14, 100)), by)


def test_a_surface_without_volume_is_refused():
    flat = as_surface(([[0, 0, 0], [10, 0, 0], [0, 10, 0]], [[0, 1, 2]]))
    with pytest.raises(MeshError, match="bounds no volume"):
        split_bone(flat, OBLIQUE)
