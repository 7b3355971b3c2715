"""The fracture between fragments, found from the fragments themselves."""

import numpy as np
import pytest
from manifold3d import Manifold
from scipy.spatial.transform import Rotation
from specimens import box, cube, flipped, joined, lathe, touching_boxes, tube

from trajplan.bone import Rough, as_surface, find_shells, make_bone, split_bone
from trajplan.errors import CaseError
from trajplan.fracture import fracture_between
from trajplan.geometry import Plane

OUTER, INNER, SIDES = 8.0, 5.0, 32
OBLIQUE = Plane.through([0, 0, 20], [0, 0.6, 0.8])
ACROSS = Plane.through([0, 0, 20], [0, 0, 1])
#: Area of a regular polygon of 32 corners on the unit circle.
POLYGON = SIDES / 2 * np.sin(2 * np.pi / SIDES)


def moved(surface, shift=(0, 0, 0), turn=None, about=(0, 0, 0)):
    vertices = surface.vertices - about
    vertices = vertices if turn is None else Rotation.from_rotvec(turn).apply(vertices)
    return as_surface((vertices + about + shift, surface.faces.copy()), name=surface.name)


def boxes(shift=(0, 0, 0)):
    """Two boxes that share a square of 10 mm at x = 10, the second one shifted."""
    first, second = as_surface(box()), as_surface(box((10, 0, 0), (30, 10, 10)))
    return between(first, moved(second, shift))


def hollow():
    return tube(OUTER, INNER, 40, SIDES)


def solid():
    """A shaft in short rings, which a rough cut leaves without long slivers."""
    return lathe(np.full(21, OUTER), np.linspace(0, 40, 21), SIDES)


def halves(whole, by=OBLIQUE):
    return split_bone(as_surface(whole), by).pieces


def between(*surfaces, **options):
    return fracture_between(make_bone(surfaces), **options)


def tilt(zone, normal):
    return np.degrees(np.arccos(min(1.0, abs(zone.plane.normal @ normal))))


def test_boxes_that_touch():
    fracture = boxes()
    (zone,), (report,) = fracture.zones, fracture.reports
    assert (fracture.source, fracture.cautions) == ("between", ())
    assert (zone.id, zone.fragments) == ("Z1", (0, 1))
    assert (report.fragments, report.zones, report.islands) == ((0, 1), ("Z1",), 0)
    assert zone.plane.normal == pytest.approx([1, 0, 0])
    assert zone.plane.point[0] == pytest.approx(10)
    assert zone.area == pytest.approx(100) == report.area
    assert report.gap.mean == pytest.approx(0, abs=1e-9) == report.gap.largest
    assert report.step.largest == pytest.approx(0, abs=1e-9)
    assert report.rim_found == 1.0
    assert (report.overlap.volume, report.overlap.depth) == pytest.approx((0, 0))
    assert np.isnan(report.overlap.where).all()


def test_gap_between_boxes():
    fracture = boxes((1.5, 0, 0))
    (zone,), (report,) = fracture.zones, fracture.reports
    assert zone.plane.point[0] == pytest.approx(10.75)
    assert (report.gap.mean, report.gap.largest) == pytest.approx((1.5, 1.5))
    assert report.gap.where[0] == pytest.approx(10.75)
    assert report.step.largest == pytest.approx(0, abs=1e-9)
    assert report.area == pytest.approx(100)
    assert fracture.cautions == ()


def test_wide_gap_is_said():
    assert (
        boxes((2.5, 0, 0)).cautions[0].startswith("Fragments 1 and 2 lie 2.5 mm apart on average")
    )


def test_overlap_of_boxes():
    fracture = boxes((-0.8, 0, 0))
    (report,) = fracture.reports
    assert report.gap.mean == pytest.approx(-0.8)
    assert report.overlap.depth == pytest.approx(0.8)
    assert report.overlap.volume == pytest.approx(80)
    assert report.overlap.where[0] == pytest.approx(9.6)
    assert "overlap by up to 0.8 mm at (9.6, " in fracture.cautions[0]
    assert "80 mm³" in fracture.cautions[0]


def test_step_between_boxes():
    """Sides at y stand 1.2 mm apart, those at z do not; the facing area is what both cover.

    Closed form, up to the 3 mm of rim over which steps are averaged: on the rim of the
    common face of 8.8 by 10 mm, two sides of 10 mm have a step of 1.2 mm.
    """
    fracture = boxes((0.4, 1.2, 0))
    (report,) = fracture.reports
    assert report.gap.mean == pytest.approx(0.4)
    assert report.step.largest == pytest.approx(1.2)
    assert report.step.where[1] == pytest.approx(1.2, abs=0.8) or report.step.where[
        1
    ] == pytest.approx(10, abs=0.8)
    assert report.step.mean == pytest.approx(1.2 * 20 / 37.6, abs=0.05)
    assert report.area == pytest.approx(88, abs=8)  # follows the rim in triangles of 1.5 mm
    assert report.rim_found == 1.0
    assert "stand 0.6 mm apart in height along the rim" in fracture.cautions[0]


@pytest.mark.parametrize("whole", [solid(), hollow()], ids=["solid", "with canal"])
def test_halves_that_fit(whole):
    """All of the section and nothing of the outside is found: its area is the closed form."""
    (zone,) = between(*halves(whole)).zones
    canal = 0 if len(find_shells(as_surface(whole)).closed) == 1 else INNER**2
    assert tilt(zone, OBLIQUE.normal) < 1e-5
    assert zone.area == pytest.approx(POLYGON * (OUTER**2 - canal) / 0.8, rel=1e-6)
    assert len(zone.region.geoms[0].interiors) == (1 if canal else 0)


@pytest.mark.parametrize("gap", [1.3, -0.7])
def test_shift_along_the_normal(gap):
    """A shift along an oblique normal is a gap, and a step where the surface faces along it."""
    low, high = halves(hollow())
    (report,) = (fracture := between(low, moved(high, gap * OBLIQUE.normal))).reports
    assert tilt(fracture.zones[0], OBLIQUE.normal) < 1e-5
    assert (report.gap.mean, report.gap.largest) == pytest.approx((gap, gap))
    # across the surface, at y = ±8: 0.6 of the shift; averaging takes a little off
    assert report.step.largest == pytest.approx(0.6 * abs(gap), abs=0.1)


def test_shift_across_the_normal_is_a_step():
    low, high = halves(hollow())
    (report,) = between(low, moved(high, [1, 0, 0])).reports
    assert report.gap.mean == pytest.approx(0, abs=1e-3)
    assert report.step.largest == pytest.approx(1.0, abs=0.1)
    assert abs(report.step.where[0]) > 6


def test_turned_half_opens_like_a_wedge():
    """Turned by ``t`` about the line x = z = 0: normals bisect, gap = 2 (x - x0) tan(t / 2).

    With the axis at the rim ``x = -8`` the gap, along the bisector at a distance ``r``
    from the axis on the mid-surface, is ``2 r tan(t / 2)``, and so in the mean that of the
    middle.
    """
    turn = np.radians(3.0)
    low, high = halves(solid(), ACROSS)
    opened = moved(high, turn=[0, -turn, 0], about=[-OUTER, 0, 20])
    fracture = between(low, opened)
    (report,) = fracture.reports
    bisector = Rotation.from_rotvec([0, -turn / 2, 0]).apply([0, 0, 1])
    assert all(tilt(zone, bisector) < 0.01 for zone in fracture.zones)
    assert report.gap.mean == pytest.approx(2 * OUTER * np.tan(turn / 2), abs=0.02)
    assert report.gap.largest == pytest.approx(4 * OUTER * np.tan(turn / 2), abs=0.05)
    assert report.gap.where[0] > 6


def test_a_gap_that_opens_beyond_reach_is_seen_in_part():
    low, high = halves(solid(), ACROSS)
    opened = moved(high, turn=[0, -np.radians(35), 0], about=[-OUTER, 0, 20])
    fracture = between(low, opened)
    assert 0.2 < fracture.reports[0].rim_found < 0.8
    assert any("lies at the outer surface of both" in line for line in fracture.cautions)
    assert between(low, opened, reach=12).reports[0].rim_found > 0.9


def test_overlapping_tubes_keep_the_canal_wall_apart():
    """Where walls overlap, the outside of one lies before the canal of the other."""
    low, high = halves(hollow(), Rough(OBLIQUE, 1.0, seed=3))
    (report,) = (fracture := between(low, moved(high, -0.7 * OBLIQUE.normal))).reports
    assert report.gap.mean == pytest.approx(-0.7, abs=0.02)
    assert report.overlap.depth < 0.9
    assert len(fracture.zones) == 1


def test_outer_surface_under_an_overhang_is_not_caught():
    """Steeper against the outside than the set angle, so that only the third rule helps."""
    plane = Plane.through([0, 0, 20], [0, np.sin(np.radians(60)), np.cos(np.radians(60))])
    low, high = halves(solid(), plane)
    fracture = between(low, moved(high, [0, 2.0, 0] - 2.0 * plane.normal[1] * plane.normal))
    assert len(fracture.zones) == 1
    assert tilt(fracture.zones[0], plane.normal) < 1e-3
    assert abs(fracture.reports[0].gap.largest) < 0.3


def test_what_own_bone_hides_is_not_seen():
    """The floor of a slot faces the other fragment through the slot's own roof, in reach."""
    block = Manifold.cube([20, 20, 4]) - Manifold.cube([16, 20, 1]).translate([2, -2, 2])
    mesh = block.to_mesh64()
    slotted = as_surface((mesh.vert_properties[:, :3], mesh.tri_verts.astype(np.int64)))
    (report,) = between(slotted, as_surface(box((0, 0, 4), (20, 20, 14)))).reports
    assert report.area == pytest.approx(400)
    assert report.gap.largest == pytest.approx(0, abs=1e-9)


def test_both_fragments_must_face_each_other():
    """The slab hangs over the box, but lines from its underside pass the box's edge."""
    slab = as_surface(box((-0.5, 1, 0), (0.5, 9, 4)))
    turn = [0, np.radians(-40), 0]
    hanging = moved(moved(slab, turn=turn), [9.0, 0, 12.5])
    with pytest.raises(CaseError, match="no surfaces of theirs face"):
        between(as_surface(box()), hanging)


def test_normals_that_point_inwards_change_nothing():
    low, high = halves(hollow())
    inwards = as_surface(flipped((high.vertices, high.faces)))
    mixed = high.faces.copy()
    mixed[::3] = mixed[::3, ::-1]
    mixed = as_surface((high.vertices, mixed))
    expected = between(low, high).reports[0].area
    assert between(low, inwards).reports[0].area == pytest.approx(expected)
    assert between(low, mixed).reports[0].area == pytest.approx(expected)


def test_bodies_of_one_mesh_are_fragments():
    one = fracture_between(make_bone(as_surface(touching_boxes())))
    assert one.zones[0].fragments == (0, 1)
    assert one.reports[0].area == pytest.approx(100)


def test_three_fragments_give_three_fractures():
    """A wedge off a tube: each pair meets in a plane of its own, whose gap is its own shift."""
    low, rest = halves(hollow())
    cut = Plane.through([0, 0, 22], [0, -0.6, 0.8])
    wedge, high = split_bone(rest, cut).pieces
    shifts = np.array([[0, 0, 0], [0, 0.5, 0.3], [0, 0, 0.8]])
    parts = [moved(part, shift) for part, shift in zip((low, wedge, high), shifts, strict=True)]
    fracture = between(*parts)
    assert [zone.id for zone in fracture.zones] == ["Z1", "Z2", "Z3"]
    assert [zone.fragments for zone in fracture.zones] == [(0, 1), (0, 2), (1, 2)]
    normals = [OBLIQUE.normal, OBLIQUE.normal, cut.normal]
    for zone, report, normal in zip(fracture.zones, fracture.reports, normals, strict=True):
        first, second = report.fragments
        assert tilt(zone, normal) < 1e-5
        assert report.gap.mean == pytest.approx((shifts[second] - shifts[first]) @ normal)
        assert report.rim_found == 1.0  # seams between fractures are no part of the rim


def test_the_fracture_line_leaves_out_the_canal_and_other_fractures():
    """Of a tube's halves a ring round the outside; of three fragments, lines that end inside.

    Where surfaces go only part of the way round, their longest border also runs along the
    canal (radius 5) and where the three meet; answers of neighbours blur its ends by 2 mm.
    """
    low, rest = halves(hollow())
    wedge, high = split_bone(rest, Plane.through([0, 0, 22], [0, -0.6, 0.8])).pieces
    (whole,) = between(low, rest).zones[0].rim
    assert (whole[0] == whole[-1]).all()
    assert np.hypot(*whole[:, :2].T).min() > OUTER - 1.5
    zones = between(low, wedge, high).zones
    assert [len(zone.rim) for zone in zones] == [1, 1, 1]
    for zone in zones:
        (line,) = zone.rim
        assert np.hypot(*line[2:-2, :2].T).min() > INNER + 0.5
        assert not (line[0] == line[-1]).all()


def test_a_zone_small_for_a_screw_is_said():
    """A square of 10 mm against discs of 3 x 4.5 and 3 x 3.5 mm: 143 and 87 mm²."""
    surfaces = as_surface(box()), as_surface(box((10, 0, 0), (30, 10, 10)))
    (line,) = between(*surfaces, thread=4.5).cautions
    assert line.startswith("Zone Z1 is only 100 mm²: small for a screw of 4.5 mm")
    assert between(*surfaces, thread=3.5).cautions == ()


def test_a_fragment_far_off_is_said():
    low, high = halves(hollow())
    fracture = between(low, high, as_surface(cube(5, (0, 0, 90))))
    assert [report.fragments for report in fracture.reports] == [(0, 1)]
    assert fracture.cautions == (
        "Fragment 3: no surface faces another fragment, the nearest of which is 47.5 mm away.",
    )


def test_the_same_fragments_give_the_same_fracture():
    one, two = (between(*halves(solid(), Rough(OBLIQUE, 1.0))) for _ in range(2))
    assert (one.zones[0].plane.normal == two.zones[0].plane.normal).all()
    assert one.reports[0].gap.mean == two.reports[0].gap.mean


def test_fragments_changed_about_measure_the_same():
    low, high = halves(solid(), Rough(OBLIQUE, 1.0))
    high = moved(high, 0.5 * OBLIQUE.normal)
    one, two = between(low, high).reports[0], between(high, low).reports[0]
    assert two.gap.mean == pytest.approx(one.gap.mean, abs=0.01)
    assert two.step.mean == pytest.approx(one.step.mean, abs=0.02)
    assert two.area == pytest.approx(one.area, rel=0.02)


def case_of(name):
    low, high = halves(solid())
    return {
        "one": [low],
        "twice": [low, moved(low)],
        "inside": [as_surface(solid()), as_surface(cube(5, (0, 0, 20)))],
        "apart": [low, moved(high, [0, 0, 20])],
        "aside": [as_surface(cube(10)), as_surface(cube(10, (12, 12, 0)))],
    }[name]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("one", "the bone is one piece"),
        ("twice", "fragments 1 and 2 are the same surface"),
        ("inside", "fragment 2 lies inside fragment 1"),
        ("apart", r"the nearest fragments are 16\.0 mm apart"),
        ("aside", r"come within 2\.8 mm of each other, but no surfaces of theirs face"),
    ],
)
def test_fragments_without_a_fracture(name, said):
    with pytest.raises(CaseError, match=said) as caught:
        between(*case_of(name))
    assert caught.value.where == "fracture.between"


@pytest.mark.parametrize("options", [{"reach": 0.0}, {"facing": 0.0}, {"facing": 90.0}])
def test_settings_out_of_range(options):
    with pytest.raises(ValueError, match="reach must be above 0"):
        between(*case_of("one"), **options)


def test_joined_meshes_of_one_file_that_are_one_body_are_one_piece():
    with pytest.raises(CaseError, match="the bone is one piece"):
        fracture_between(make_bone(as_surface(joined(cube(30), flipped(cube(10))))))
