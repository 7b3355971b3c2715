"""Plates against handbook formulas and printed measurements.

Beam theory, the wedge with friction, the core of a section and the transformed section stand
in every strength-of-materials text; the numbers were worked out from them by hand or by
numerical integration here, not by the program. Measurements are named beside their check.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad, solve_bvp
from specimens import pipe

from trajplan.bone import as_surface, make_bone
from trajplan.errors import DegenerateError
from trajplan.fracture import fracture_from_plane
from trajplan.implants import load_catalogue
from trajplan.mechanics import (
    Friction,
    Range,
    axial_squeeze,
    bonded,
    buttress_force,
    contact_of,
    overbend,
    plate_pull,
    plate_section,
    region_quadrature,
    resultant,
    shaft_section,
    wedge_share,
)

PLATES = load_catalogue().plates
NARROW = PLATES["Narrow4.5"]
TUBE = shaft_section(25.0, 15.0, 17000.0)


def force(value):
    return Range(*(np.array([float(value)]) for _ in range(3)))


def of(width, thickness, modulus=193000.0):
    material = replace(NARROW.material, modulus=modulus)
    return plate_section(replace(NARROW, width=width, thickness=thickness, material=material))


# ---- stiffness


def test_stiffness_and_yield_of_a_narrow_plate():
    # T1: E w t³ / 12 and s_y w t² / 6.
    section = plate_section(NARROW)
    assert section.stiffness / 1e6 == pytest.approx(9.005, abs=5e-4)
    assert section.yield_moment / 1e3 == pytest.approx(17.88, abs=5e-3)


@pytest.mark.parametrize(
    ("width", "thickness", "stiffness"),
    [(16, 4.5, 23.450), (10, 3.0, 4.343), (10, 2.8, 3.531), (17, 2.0, 2.187)],
)
def test_stiffness_of_other_plates(width, thickness, stiffness):
    assert of(width, thickness).stiffness / 1e6 == pytest.approx(stiffness, abs=6e-4)  # T2


def test_four_point_bending():
    # T3: rollers as in standards for bending bone plates (ISO 9585:1990), h 40, k 60 mm:
    # stiffness of load on deflection 259.8 N/mm. The beam is integrated here.
    h, k, stiffness = 40.0, 60.0, plate_section(NARROW).stiffness
    load = 500.0

    def bend(x, y):
        moment = load / 2.0 * np.minimum(np.minimum(x, 2 * h + k - x), h)
        return np.vstack([y[1], -moment / stiffness])

    x = np.linspace(0.0, 2 * h + k, 281)
    found = solve_bvp(bend, lambda a, b: np.array([a[0], b[0]]), x, np.zeros((2, len(x))))
    assert load / found.sol(h)[0] == pytest.approx(259.8, rel=1e-3)
    assert load / 2.0 * h / 1000.0 == 10.0


@pytest.mark.parametrize(("moment", "strain"), [(1, 200), (5, 999), (10, 1999)])
def test_strain_of_a_plate_alone(moment, strain):
    assert plate_section(NARROW).strain(moment * 1e3) * 1e6 == pytest.approx(strain, abs=0.6)  # T4


@pytest.mark.parametrize(
    ("modulus", "shift", "stiffness", "share"),
    [(193000.0, 8.72, 958, 0.61), (105000.0, 6.57, 790, 0.46)],
)
def test_plate_and_bone_as_one(modulus, shift, stiffness, share):
    # T5 and T6: tube 25/15 at 17 GPa with 12 x 3.6 of steel, of titanium.
    found = bonded(of(12, 3.6, modulus), TUBE)
    assert found.shift == pytest.approx(shift, abs=0.006)
    assert found.stiffness / 1e6 == pytest.approx(stiffness, abs=0.6)
    assert found.axial_share == pytest.approx(share, abs=0.005)


def test_section_of_a_third_tube():
    # Against integration over the sector of the ring.
    plate = PLATES["ThirdTube3.5"]
    inner, half = plate.back, np.arcsin(plate.width / (2 * plate.back))

    def integral(f):
        return dblquad(lambda r, a: f(r * np.cos(a)) * r, -half, half, inner, inner + 1.0)[0]

    area, first = integral(lambda y: 1.0), integral(lambda y: y)
    section = plate_section(plate)
    assert section.area == pytest.approx(area)
    assert section.height == pytest.approx(first / area - inner * np.cos(half))
    assert section.second == pytest.approx(integral(lambda y: (y - first / area) ** 2))
    # hollow it is much stiffer than the same strip flat
    assert section.second > 5.0 * plate_section(replace(plate, back=None)).second


# ---- the wedge


def test_share_of_a_wedge():
    drive, reaches = wedge_share(45.0, 0.2, 0.37)  # T7
    assert drive == pytest.approx(0.667, abs=5e-4)
    assert reaches == pytest.approx(0.297, abs=5e-4)
    # it slides only past atan 0.2 + atan 0.37 = 31.6 degrees
    assert wedge_share(31.4, 0.2, 0.37)[1] == 0.0
    assert wedge_share(31.9, 0.2, 0.37)[1] > 0.0


# Screws of 3.5 mm: what hands tighten them to, 500 to 1000 N (the range of the project's own
# preloads); measured in print for a 4.5 mm screw: 1522 N at the most.
TENSION = Range(np.array([500.0]), np.array([750.0]), np.array([1000.0]))


def test_measured_force_of_one_and_of_two_eccentric_screws():
    # T8: 131 and 296 N (spread 39 and 49), 3.5 mm plate on acetal rods, Ferringo et al. 2023,
    # PLoS One 18:e0286937 (abstract). The slope of 45 degrees is an assumption.
    one = axial_squeeze(TENSION, 45.0, shift=1.0)
    two = axial_squeeze(TENSION, 45.0, shift=1.0, screws=2)
    assert one.low[0] < 131.0 < one.high[0]
    assert two.low[0] < 296.0 < two.high[0]
    assert 1.5 < two.estimate[0] / one.estimate[0] < 3.0  # measured 2.26
    three = axial_squeeze(TENSION, 45.0, shift=1.0, screws=3)
    assert three.high[0] == two.high[0]


def test_a_gap_at_the_far_cortex_leaves_little_or_nothing():
    # T9: Mechanics of dynamic compression plate application, Clin Biomech 2024 (abstract).
    gaps = np.array([0.0, 0.5, 1.0, 2.0, np.nan])
    wide = Range(*(np.full(5, v[0]) for v in (TENSION.low, TENSION.estimate, TENSION.high)))
    found = axial_squeeze(wide, 45.0, shift=1.0, far_gap=gaps)
    assert found.estimate[0] > 100.0
    assert np.isnan(found.estimate[[1, 4]]).all()
    np.testing.assert_array_equal(found.low[1:], 0.0)
    np.testing.assert_array_equal(found.high[2:4], 0.0)
    np.testing.assert_array_equal(found.estimate[2:4], 0.0)


def test_without_a_slope_there_is_no_force():
    found = axial_squeeze(TENSION, NARROW.hole.slope, shift=NARROW.hole.shift)
    assert np.isnan([found.low, found.estimate, found.high]).all()


def test_friction_that_holds_the_plate_lets_nothing_through():
    sticky = Friction(0.9, 1.0, 1.1)
    assert axial_squeeze(TENSION, 45.0, shift=1.0, bone=sticky).high[0] == 0.0


# ---- overbend


@pytest.mark.parametrize(
    ("outer", "inner", "width", "thick", "between", "length", "newton", "angles", "offs", "gap"),
    [
        (25, 15, 12, 3.6, 25, 135, 1000, (1.60, 2.27, 2.95), (0.94, 1.34, 1.74), 0.125),
        (25, 15, 12, 3.6, 25, 135, 600, (0.96, 1.36, 1.77), (0.57, 0.80, 1.04), 0.075),
        (28, 15, 16, 4.5, 25, 151, 1000, (0.72, 0.99, 1.27), (0.47, 0.65, 0.84), 0.067),
        (14, 8, 10, 3.0, 16, 85, 300, (0.39, 0.54, 0.69), (0.15, 0.20, 0.25), 0.023),
        (14, 8, 10, 3.0, 16, 85, 1000, (1.30, 1.79, 2.28), (0.48, 0.67, 0.85), 0.077),
    ],
)
def test_overbend(outer, inner, width, thick, between, length, newton, angles, offs, gap):
    # T11 and B6 to B10: beam theory. Taught: 1 to 2 mm (AO Foundation, online surgery
    # reference, transverse fractures), about 2 mm for a narrow plate (Wheeless' Textbook of
    # Orthopaedics, prebending of plates), about 1 mm for a low one (AO, distal ulna).
    bone = shaft_section(outer, inner, 17000.0)
    found = overbend(of(width, thick), bone, force(newton), between=between, length=length)
    for told, due, slack in ((found.angle, angles, 0.006), (found.stand_off, offs, 0.006)):
        assert [told.low[0], told.estimate[0], told.high[0]] == pytest.approx(due, abs=slack)
    assert found.straight_gap[0] == pytest.approx(gap, abs=6e-4)


def test_stand_off_at_the_elastic_limit():
    found = overbend(plate_section(NARROW), TUBE, force(1000), between=25, length=135)
    assert found.elastic[0] == pytest.approx(1.68, abs=0.006)


def test_a_broad_plate_needs_less():
    # T13. Sign: Gotzen and Hütter 1976, Arch Orthop Unfallchir 85:129 (abstract).
    narrow, broad = (
        overbend(section, TUBE, force(1000), between=25, length=135).stand_off.estimate[0]
        for section in (of(12, 3.6), of(16, 4.5))
    )
    assert broad < narrow


def test_a_force_in_a_wide_range_has_no_one_overbend():
    wide = Range(np.array([100.0]), np.array([300.0]), np.array([900.0]))
    found = overbend(plate_section(NARROW), TUBE, wide, between=25, length=135)
    assert np.isnan([found.stand_off.low[0], found.stand_off.high[0]]).all()
    assert found.stand_off.estimate[0] == pytest.approx(0.4, abs=0.01)
    with pytest.raises(DegenerateError, match="length of the plate must be above 0"):
        overbend(plate_section(NARROW), TUBE, wide, between=25, length=0)


LEVER, CORE = 12.5 + 1.8, (12.5**2 + 7.5**2) / 50.0


@pytest.mark.parametrize(
    ("stand_off", "newton", "near", "far"),
    [(0.6, 1000, True, False), (1.34, 1000, True, True), (1.3, 600, False, True)],
)
def test_the_pressure_field_agrees(stand_off, newton, near, far):
    # T12: a foundation that cannot pull under the real section, against the core of a ring.
    # Signs: C4 and C6 (Clin Biomech 2024, abstract), lift-off of a straight plate: Field 1998.
    lever = resultant(plate_section(NARROW), stand_off, newton, between=25.0, length=135.0)
    assert (lever <= LEVER + CORE) == near
    assert (lever >= LEVER - CORE) == far
    bone = make_bone(as_surface(pipe(12.5, 7.5, 100.0, 128)))
    zone = fracture_from_plane(bone, (0, 0, 50), (0, 0, 1)).zones[0]
    region = region_quadrature(zone, 0.8)
    load = plate_pull(newton, lever * newton, (LEVER, 0, 50), (0, 0, 1), (1, 0, 0))
    found = contact_of(region.points, region.normals, region.areas, load)
    assert found.converged
    x = region.points[:, 0]
    assert (found.pressure[x > 11.5].min() > 0.0) == near
    assert (found.pressure[x < -11.5].min() > 0.0) == far
    if near and far:  # 1.34 mm is the even one
        assert found.pressure.max() < 1.1 * found.pressure.min()


def test_overbend_of_one_and_a_half_at_600_newton():
    lever = resultant(plate_section(NARROW), 1.5, 600.0, between=25.0, length=135.0)
    assert lever == pytest.approx(26.7, abs=0.05)
    assert pytest.approx(18.55, abs=0.01) == LEVER + CORE


# ---- buttress


def test_push_that_keeps_a_split_fragment():
    # T21: P cot(a + phi), 30 degrees, 1000 N.
    assert buttress_force(1000.0, 30.0, 0.4) == pytest.approx(787.0, abs=0.5)
    assert buttress_force(1000.0, 30.0, 0.0) == pytest.approx(1732.0, abs=0.5)
    assert buttress_force(1000.0, 80.0, 0.4) == 0.0
