"""Sliding against closed forms: Coulomb's angle, clutch discs, and a brute-force search."""

import numpy as np
import pytest
from specimens import cylinder, pipe

from trajplan.bone import as_surface, make_bone
from trajplan.fracture import fracture_from_plane
from trajplan.mechanics import (
    BONE_FRICTION,
    Friction,
    Load,
    critical_tilt,
    friction_limit,
    region_quadrature,
    slip_reserve,
)

Z = np.array([0.0, 0.0, 1.0])


def tilted(degrees, way=0.0):
    tilt, way = np.radians(degrees), np.radians(way)
    return np.array([np.sin(tilt) * np.cos(way), np.sin(tilt) * np.sin(way), np.cos(tilt)])


def load(force=(0, 0, 0), moment=(0, 0, 0), point=(0, 0, 0)):
    return Load(*(np.array(v, dtype=float) for v in (force, moment, point)))


# Derived, arctan μ (Coulomb; common practice)
@pytest.mark.parametrize(
    ("mu", "degrees"),
    [(0.2, 11.3), (0.3, 16.7), (0.37, 20.3), (0.4, 21.8), (0.46, 24.7), (0.6, 31.0)],
)
def test_critical_tilt(mu, degrees):
    assert critical_tilt(mu) == pytest.approx(degrees, abs=0.05)


@pytest.mark.parametrize("mu", [0.2, 0.3, 0.4, 0.46, 0.6])
def test_single_screw_slides_at_arctan_mu(mu):
    friction = Friction(mu, mu, mu)
    for off, holds in ((-1e-6, True), (1e-6, False)):
        tilt = float(critical_tilt(mu)) + off
        found = slip_reserve([981.0], [tilted(tilt, 40)], [[3, -8, 2]], Z, friction=friction)
        assert (found.estimate > 1.0) == holds
        assert found.estimate == pytest.approx(1.0, abs=1e-6)


def test_twenty_degrees_need_a_third():
    # Textbook limit of 20 degrees: tan 20° = 0.364 (geometry)
    found = slip_reserve([500.0], [tilted(20)], [[0, 0, 0]], Z, friction=Friction(0.3, 0.364, 0.46))
    assert found.estimate == pytest.approx(1.0, abs=1e-3)
    assert found.low < 1.0 < found.high


def test_crossed_screws_cancel_their_shears():
    direction = [tilted(30), tilted(-30)]
    found = slip_reserve([700.0, 700.0], direction, [[-5, 0, 0], [5, 0, 0]], Z)
    assert found.low == np.inf
    assert found.squeeze.sum() == pytest.approx(1400 * np.cos(np.radians(30)))


def test_crossed_screws_side_by_side_twist_the_fragments():
    """Shears cancel as forces, not as a couple: each spot slides when its own screw would."""
    direction = [tilted(30), tilted(-30)]
    found = slip_reserve([700.0, 700.0], direction, [[0, -5, 0], [0, 5, 0]], Z)
    assert found.estimate == pytest.approx(BONE_FRICTION.estimate / np.tan(np.radians(30)))


def test_one_straight_one_tilted_screw():
    """The fragment turns about the straight one: the tilted one's own limit decides."""
    found = slip_reserve([900.0, 900.0], [tilted(30), Z], [[0, -10, 0], [0, 10, 0]], Z)
    assert found.estimate == pytest.approx(
        BONE_FRICTION.estimate / np.tan(np.radians(30)), rel=1e-5
    )


@pytest.mark.parametrize(("outer", "inner"), [(14.0, None), (14.0, 9.0)])
def test_torsion_is_that_of_a_disc_clutch(outer, inner):
    """Even pressure: M = 2/3 μ N (R³ - r³)/(R² - r²), every handbook of machine elements."""
    mesh = cylinder(outer, 100.0, 256) if inner is None else pipe(outer, inner, 100.0, 256)
    bone = make_bone(as_surface(mesh))
    region = region_quadrature(fracture_from_plane(bone, (0, 0, 50), Z).zones[0], 1.0)
    pressing = region.areas * 1000.0 / region.area
    inner = inner or 0.0
    due = 2 / 3 * 1000 * (outer**3 - inner**3) / (outer**2 - inner**2)
    limit = friction_limit(region.points, pressing, Z, load(moment=[0, 0, -1]))
    assert limit == pytest.approx(due, rel=1e-3)
    shear = friction_limit(region.points, pressing, Z, load(force=[0.6, -0.8, 0]))
    assert shear == pytest.approx(1000.0)


@pytest.mark.parametrize("seed", range(6))
def test_shear_with_torsion_against_every_centre_of_turning(seed):
    """Brute force: the least work over a fine grid of centres that the fragment turns about."""
    rng = np.random.default_rng(seed)
    points = np.concatenate([rng.normal(0, 5, (40, 2)), np.zeros((40, 1))], axis=1)
    pressing = rng.uniform(0, 10, 40)
    force, torsion = rng.normal(size=2), rng.normal(0, 5)
    limit = friction_limit(points, pressing, Z, load([*force, 0], [0, 0, torsion]))
    reach = 10 ** np.linspace(-2, 4, 240)
    way = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    x, y = (np.outer(reach, f(way)).ravel() for f in (np.cos, np.sin))
    # turning by 1 about c = (x, y): a point p moves at |p - c|, the load works by its moment
    work = np.abs(torsion + y * force[0] - x * force[1])
    spent = sum(n * np.hypot(p[0] - x, p[1] - y) for n, p in zip(pressing, points, strict=True))
    searched = (spent / work).min()
    assert limit <= searched * (1 + 1e-9)
    assert limit == pytest.approx(searched, rel=3e-3)


def test_contact_pressures_serve_as_bearing():
    """A screw's own shear acts where its squeeze is centred: pressures do not matter."""
    points = np.array([[x, y, 0.0] for x in range(-5, 6) for y in range(-5, 6)])
    pressing = (points[:, 0] + 6) * (points[:, 1] + 7)
    centre = pressing @ points / pressing.sum()
    total = pressing.sum() / np.cos(np.radians(25))
    found = slip_reserve(
        [total], [tilted(25)], [centre], Z, bearing_points=points, bearing_forces=pressing
    )
    assert found.estimate == pytest.approx(
        BONE_FRICTION.estimate / np.tan(np.radians(25)), rel=1e-9
    )


def test_nothing_presses_and_nothing_known():
    flat = slip_reserve([100.0], [[1, 0, 0]], [[0, 0, 0]], Z)
    assert flat.high == 0.0
    unknown = slip_reserve([100.0, np.nan], [Z, Z], [[0, 0, 0], [5, 0, 0]], Z)
    assert np.isnan([unknown.low, unknown.estimate, unknown.high]).all()
