"""Canal or air: places outside bone that bone walls in all round."""

import numpy as np
import pytest
from builders import bone_of, notched
from specimens import box, cube, halves, joined, lathe, pipe

from trajplan.bone import Gap, gaps
from trajplan.bone._enclosed import walled_share


def ask(mesh, *points):
    bone = mesh if hasattr(mesh, "caster") else bone_of(mesh)
    places = np.array(points, dtype=float).reshape(-1, 3)
    found = gaps(bone, places, slit=np.zeros(len(places), dtype=bool))
    return [Gap(int(gap)) for gap in found]


def test_the_canal_of_a_shaft_open_at_both_ends():
    for z in (50, 80, 91):  # one radius from the open end
        assert ask(pipe(), [0, 0, z], [7, 0, z], [8.9, 0, z]) == [Gap.CANAL] * 3
    assert ask(pipe(), [0, 0, 99.5], [0, 0, 130], [30, 0, 50]) == [Gap.AIR] * 3


def test_the_canal_where_a_fracture_opens_it():
    """Two halves of a shaft, cut at 45 degrees, 1 mm apart; in the slit it has to be told."""
    bone = bone_of(halves(1.0))
    beside = [[x, 0, 50.5 + x + away] for x in (-6, 0, 6) for away in (-3, 3)]
    within = [[x, 0, 50.5 + x] for x in (-6, 0, 6)]
    assert ask(bone, *beside) == [Gap.CANAL] * 6
    assert (gaps(bone, np.array(within), slit=np.ones(3, dtype=bool)) == Gap.CANAL).all()


@pytest.mark.parametrize("depth", [29.9, 29, 25, 15, 5])
def test_a_notch_right_through_is_air_however_deep(depth):
    """20 wide, 30 deep, 50 long: near its roof five directions in six meet bone."""
    places = [[0, depth, 25], [0, depth, 10], [5, depth, 25], [9, depth, 40]]
    assert ask(notched(), *places) == [Gap.AIR] * 4


def test_a_share_of_directions_alone_would_not_tell():
    assert walled_share(notched().caster, np.array([[0.0, 28, 25]]))[0] > 0.8


def test_a_groove_all_round_is_air():
    groove = lathe((10, 10, 6, 6, 10, 10), (0, 40, 40, 44, 44, 80))
    assert ask(groove, *([x, 0, 42] for x in (6.2, 7, 8, 9.5))) == [Gap.AIR] * 4


def test_the_space_between_two_plates_is_air():
    plates = joined(box((-40, -40, -8), (40, 40, 0)), box((-40, -40, -30), (40, 40, -18)))
    assert ask(plates, [0, 0, -13], [20, 0, -10]) == [Gap.AIR] * 2


def test_a_hollow_without_a_shaft_is_not_known_and_nothing_is_nothing():
    assert ask(cube(20), [0, 0, 0]) == [Gap.UNSURE]
    assert ask(cube(20)) == []


def ring(outer=30.0, inner=15.0, height=40.0):
    """A ring of bone as high as it is wide inside, and more: wide as it is, it is no shaft."""
    return pipe(outer, inner, height)


@pytest.mark.parametrize("height", [24.0, 30.0, 40.0])
def test_the_opening_of_a_ring_is_air(height):
    """Open on both sides: a passage, like that of a vertebra."""
    places = [[x, 0, height / 2] for x in (0, 7, 14)]
    assert Gap.CANAL not in ask(ring(height=height), *places)
    assert ask(ring(height=24.0), *places) == [Gap.AIR] * 3


def test_a_piece_of_shaft_too_short_to_be_told_is_not_known():
    """Cut at both ends, 60 long and 28 wide: a canal, or the passage of a stout ring."""
    assert ask(pipe(length=60.0), [0, 0, 30], [5, 0, 25]) == [Gap.UNSURE] * 2


def test_a_blind_hole_in_a_bone_without_a_shaft_is_not_known():
    """The end of a long bone, cut off: its canal, or a cyst that broke through."""
    stump = lathe((20, 20, 6, 6), (0, 44, 44, 12))
    assert ask(stump, [0, 0, 25]) == [Gap.UNSURE]


def drilled(radius, *, off=90.0, length=100.0):
    """A solid shaft 28 wide with a hole through its middle, some degrees off its axis."""
    from manifold3d import Manifold

    body = Manifold.cylinder(length, 14.0, circular_segments=48)
    hole = Manifold.cylinder(300.0, radius, circular_segments=24).translate([0, 0, -150])
    return solid(body - hole.rotate([off, 0, 0]).translate([0, 0, length / 2]))


def solid(body):
    mesh = body.to_mesh64()
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, dtype=np.int64)


@pytest.mark.parametrize("radius", [1.25, 2.25, 4.0])
def test_a_hole_from_side_to_side_is_no_canal(radius):
    found = ask(drilled(radius), [0, 0, 50], [0, 5, 50], [radius / 2, 0, 50])
    assert Gap.CANAL not in found
    assert ask(drilled(radius, off=0.0), [0, 0, 50]) == [Gap.CANAL]


def test_a_wide_hole_from_side_to_side_is_air():
    assert ask(drilled(4.0), [0, 0, 50], [0, 3, 50]) == [Gap.AIR] * 2


@pytest.mark.parametrize("off", [15.0, 20.0, 30.0])
@pytest.mark.parametrize("radius", [0.8, 2.25, 5.0])
def test_a_hole_drilled_askew_is_no_canal(radius, off):
    """It runs along the shaft 2 to 4 times as far as it is wide, walled in all round."""
    assert ask(drilled(radius, off=off, length=160.0), [0, 0, 80]) == [Gap.UNSURE]


def test_the_canal_of_a_spine_is_no_marrow():
    """Six vertebrae in one piece: a passage along them that opens to both sides between two."""
    from manifold3d import Manifold

    ring = Manifold.cube([36, 34, 204], True) - Manifold.cube([22, 20, 300], True)
    spine = ring.translate([0, 27, 102])
    spine += Manifold.cylinder(204.0, 20.0, circular_segments=32).scale([1.2, 0.85, 1.0])
    for level in range(7):
        spine -= Manifold.cube([80, 9, 11], True).translate([0, 24, 34 * level])
    bone = bone_of(solid(spine))
    assert bone.shaft.found
    places = [[x, 27, z] for x in (0, 6) for z in (20, 40, 85, 102, 120)]
    assert Gap.CANAL not in ask(bone, *places)
    assert not bone.audit.canal
