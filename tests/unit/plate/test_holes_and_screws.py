"""Screws in the holes of a plate: cone, seat, length, what they cross, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
import specimens
from scipy.spatial.transform import Rotation

from trajplan.bone import as_surface, make_bone
from trajplan.errors import CaseError
from trajplan.fracture import fracture_from_plane
from trajplan.implants import load_catalogue
from trajplan.plate import (
    Pose,
    bed_of,
    cone_share,
    drill_offsets,
    fracture_under,
    hole_uses,
    lag_through,
    lay,
    plate_screws,
    tilted,
    tilts,
)
from trajplan.trajectory import Settings

CATALOGUE = load_catalogue()
NARROW, HA45 = CATALOGUE.plates["Narrow4.5"], CATALOGUE.screws["HA4.5"]
SIDE = 30.0  # mm, of the square bone
ALL = np.arange(6)


@pytest.fixture(scope="module")
def bone():
    return make_bone(as_surface(specimens.box((0, -15, -100), (SIDE, 15, 100))))


@pytest.fixture(scope="module")
def laid(bone):
    frame = np.array([[[0, 0, 1.0], [0, 1.0, 0], [-1.0, 0, 0]]])
    return lay(bed_of(bone), NARROW, 6, Pose(np.zeros((1, 3)), frame), slide=0.0, turn=0.0)


def lifted(laid, by):
    points = laid.shape.points + by * laid.shape.frames[:, :, 2]
    return replace(laid, shape=replace(laid.shape, points=points), gap=laid.gap + by)


def square(laid, count=6):
    return tilted(laid, 0, np.arange(count), np.zeros(count), np.zeros(count))


def test_tilts_are_found_again(laid):
    along, across = np.linspace(-25, 25, 6), np.linspace(7, -7, 6)
    direction = tilted(laid, 0, ALL, along, across)
    np.testing.assert_allclose(np.linalg.norm(direction, axis=1), 1.0)
    found = tilts(laid, 0, ALL, direction)
    np.testing.assert_allclose(found, [along, across], atol=1e-9)
    turned = Rotation.from_rotvec([0, np.radians(-25), 0]).apply(laid.into_bone[0, 0])
    np.testing.assert_allclose(
        tilted(laid, 0, ALL[:1], [25.0], [0.0])[0] @ [1, 0, 0], turned @ [1, 0, 0]
    )


def test_cone_of_a_hole():
    # 25 degrees along and 7 across: Wheeless' Textbook of Orthopaedics, reconstruction plates.
    along, across = np.array([0.0, 25.0, 0.0, 20.0, 26.0]), np.array([0.0, 0.0, 7.0, 6.0, 0.0])
    share = cone_share(NARROW.hole, along, across)
    np.testing.assert_array_equal(share <= 1.0, [True, True, True, False, False])
    untold = replace(NARROW.hole, tilt_along=None)
    assert np.isnan(cone_share(untold, along, across)[[1, 3, 4]]).all()
    np.testing.assert_allclose(cone_share(untold, along, across)[[0, 2]], [0.0, 1.0])


@pytest.mark.parametrize(
    ("obliquity", "limit", "off"), [(60, 25, 5.0), (60, 40, 0.0), (70, 25, 0.0), (45, 25, 20.0)]
)
def test_a_lag_screw_square_to_the_fracture(laid, obliquity, limit, off):
    # T15: it tilts by 90 - obliquity; 25 degrees serve 65 and more, 40 serve 50 and more.
    plate = replace(NARROW, hole=replace(NARROW.hole, tilt_along=float(limit)))
    lean = np.radians(obliquity)
    normal = [np.sin(lean), 0.0, np.cos(lean)]
    for sense in (1.0, -1.0):
        lag = lag_through(replace(laid, plate=plate), 0, ALL, sense * np.array(normal))
        np.testing.assert_allclose(lag.wanted, 90.0 - obliquity, atol=1e-6)
        np.testing.assert_allclose(lag.off, off, atol=1e-5)
        along, _ = tilts(laid, 0, ALL, lag.direction)
        np.testing.assert_allclose(along, min(90.0 - obliquity, limit), atol=1e-6)


def test_a_cone_that_nobody_tells_leaves_squareness_open(laid):
    plate = replace(NARROW, hole=replace(NARROW.hole, tilt_along=None))
    lag = lag_through(replace(laid, plate=plate), 0, ALL, [1.0, 0.0, 0.5])
    assert np.isnan(lag.off).all()


@pytest.mark.parametrize(("gap", "length"), [(0.0, 32.0), (1.5, 34.0)])
def test_gauge_counts_plate_and_gap(bone, laid, gap, length):
    # Half of the head's sphere, radius 4, lies in a plate of 3.6: its lowest point is 0.4 mm
    # below the underside, so the gauge reads 30 + gap - 0.4.
    found = plate_screws(bone, lifted(laid, gap), 0, [HA45] * 6, ALL, square(laid), Settings())
    np.testing.assert_allclose(found.gauge, SIDE + gap - 0.4, atol=1e-6)
    np.testing.assert_allclose(found.seat, 0.4 - gap, atol=1e-6)
    np.testing.assert_array_equal(found.length, length)
    np.testing.assert_allclose(found.proud, length - found.gauge, atol=1e-9)
    # thread begins below the head, which reaches 0.4 mm below a plate that lies on the bone
    np.testing.assert_allclose(found.bite, SIDE - max(0.4 - gap, 0.0), atol=1e-6)
    np.testing.assert_allclose(found.stands_out, gap + 3.6, atol=1e-6)


def test_a_tilted_screw_turns_about_the_middle_of_its_head(bone, laid):
    tilt = np.radians(20.0)
    direction = tilted(laid, 0, ALL, np.full(6, 20.0), np.zeros(6))
    found = plate_screws(bone, laid, 0, [HA45] * 6, ALL, direction, Settings())
    ball = laid.centres[0] + 3.6 * laid.shape.frames[0, laid.strip.hole, 2]
    np.testing.assert_allclose(
        found.corridors.axes.at(found.seat), ball + 4.0 * direction, atol=1e-6
    )
    # from the middle 33.6 mm square through plate and bone; the hole's rim reaches deepest
    deepest = 33.6 / np.cos(tilt) + 1.6 * np.tan(tilt) - 4.0
    np.testing.assert_allclose(found.gauge, deepest, atol=0.01)


def test_a_thin_plate_lets_the_head_stand_out(bone, laid):
    thin = replace(laid, plate=replace(NARROW, thickness=1.0))
    found = plate_screws(bone, thin, 0, [HA45], ALL[:1], square(laid, 1), Settings())
    # the head's sphere is as wide as the thread at the underside: its top is so far above
    assert found.stands_out[0] == pytest.approx(np.sqrt(16 - 2.25**2), abs=1e-6)


def test_what_crosses_the_fracture(bone, laid):
    zones = fracture_from_plane(bone, (15, 0, 10), (0, 0, 1)).zones
    # holes lie at z = -44.5 -28.5 -12.5 12.5 28.5 44.5; a thread of 4.5 at 12.5 is 0.25 mm clear
    upright = plate_screws(bone, laid, 0, [HA45] * 6, ALL, square(laid), Settings(), zones)
    assert not upright.crosses.any()
    leaning = tilted(laid, 0, ALL, np.full(6, -20.0), np.zeros(6))
    across = plate_screws(bone, laid, 0, [HA45] * 6, ALL, leaning, Settings(), zones)
    np.testing.assert_array_equal(across.crosses, [False, False, False, True, False, False])
    # its axis starts on the far side and leans away: the ring's near line alone would not do
    slightly = tilted(laid, 0, ALL, np.full(6, -1.0), np.zeros(6))
    grazed = plate_screws(bone, laid, 0, [HA45] * 6, ALL, slightly, Settings(), zones)
    np.testing.assert_array_equal(grazed.crosses, [False, False, False, True, False, False])


def test_distance_of_holes_to_the_fracture(bone, laid):
    lean = np.radians(30.0)
    zones = fracture_from_plane(bone, (0, 0, 10), (np.sin(lean), 0, np.cos(lean))).zones
    along = fracture_under(laid, 0, zones)[:, 0]
    np.testing.assert_allclose(along, 10.0 - laid.centres[0, :, 2], atol=1e-5)
    lengthwise = fracture_from_plane(bone, (0, 0, 0), (0, 1, 0)).zones
    assert np.isinf(fracture_under(laid, 0, lengthwise)).all()


@pytest.mark.parametrize(
    ("kind", "hole", "said"),
    [
        ("HA3.5", [0], "Narrow4.5 takes screws of 4.5 or 6.5 mm, and HA3.5 is none"),
        ("HA4.5", [6], "hole 7 is none of the 6 of this plate"),
    ],
)
def test_what_a_plate_does_not_take(bone, laid, kind, hole, said):
    screws = [CATALOGUE.screws[kind]] * len(hole)
    with pytest.raises(CaseError, match=said):
        plate_screws(bone, laid, 0, screws, np.array(hole), square(laid, len(hole)), Settings())


def test_a_head_that_does_not_sit_in_the_hole(bone, laid):
    other = replace(laid, plate=replace(NARROW, hole=replace(NARROW.hole, seat=3.0)))
    with pytest.raises(CaseError, match="of radius 4 mm, does not sit in the holes of Narrow"):
        plate_screws(bone, other, 0, [HA45], ALL[:1], square(laid, 1), Settings())


# ---- uses


def under(*places):
    """Distances of six holes 16 mm apart, the first at 0, to fractures at places."""
    return np.asarray(places) - 16.0 * ALL[:, None]


def test_uses_of_the_holes_of_a_compressing_plate():
    # "as close as possible to the fracture defect" (AO Foundation, online surgery reference,
    # tibial shaft); the eccentric hole's end away from the fracture (Wheeless' Textbook of
    # Orthopaedics, theory of compression plates).
    along = under(40.0)
    uses = hole_uses(along, 3.25, eccentric=1)
    assert uses == ("neutral", "neutral", "neutral", "eccentric", "neutral", "neutral")
    other = hole_uses(along, 3.25, eccentric=2, first_low=False)
    assert other == ("neutral", "eccentric", "eccentric", "neutral", "neutral", "neutral")
    np.testing.assert_allclose(
        drill_offsets(uses, along, NARROW.hole), [-0.1, -0.1, -0.1, 1.0, 0.1, 0.1]
    )
    # turned end for end: the same holes, the other way round
    turned = hole_uses(-along[::-1], 3.25, eccentric=1, first_low=False)
    assert turned[::-1] == uses


def test_a_hole_over_the_fracture_stays_empty_but_for_a_lag_screw():
    along = under(34.0)  # 2 mm past the third hole
    assert hole_uses(along, 3.25)[2] == "empty"
    uses = hole_uses(along, 3.25, eccentric=1, lag=2)
    assert uses == ("neutral", "neutral", "lag", "eccentric", "neutral", "neutral")
    assert drill_offsets(uses, along, NARROW.hole)[2] == 0.0
    # between two zones lies a piece that is neither fragment
    assert hole_uses(under(24.0, 56.0), 3.25)[2:4] == ("empty", "empty")
    # the fracture runs along the plate: no hole lies over it
    assert hole_uses(np.full((6, 1), np.inf), 3.25) == ("neutral",) * 6


def test_a_plate_that_only_protects_is_drilled_in_the_middle():
    along = under(40.0)
    assert not drill_offsets(hole_uses(along, 3.25), along, NARROW.hole).any()


def test_uses_that_the_plate_cannot_have():
    with pytest.raises(CaseError, match=r"2 eccentric screws want as many holes .* has 1 there"):
        hole_uses(under(70.0), 3.25, eccentric=2)
    with pytest.raises(CaseError, match="hole 7 for the lag screw is none of the 6"):
        hole_uses(under(40.0), 3.25, lag=6)
    along = under(40.0)
    with pytest.raises(CaseError, match="no source tells how far an eccentric screw moves"):
        drill_offsets(hole_uses(along, 3.25, eccentric=1), along, replace(NARROW.hole, shift=None))


def test_an_eccentric_screw_is_drilled_off_the_middle(bone, laid):
    off = np.array([0.0, 0.0, -0.1, 1.0, 0.0, 0.0])
    found = plate_screws(bone, laid, 0, [HA45] * 6, ALL, square(laid), Settings(), offset=off)
    along = found.corridors.axes.origin[:, 2] - laid.centres[0, :, 2]
    np.testing.assert_allclose(along, off, atol=1e-6)
