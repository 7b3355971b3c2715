"""Laws of the mechanics floor: equilibrium, energy, rigid motion, scale."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roofs import strip, zones_of
from scipy.spatial.transform import Rotation

from trajplan.mechanics import (
    Load,
    clamp_load,
    contact_of,
    friction_limit,
    press_surface,
    pull_out,
    slip_reserve,
    solve_contact,
    surface_regions,
)

SEED = st.integers(0, 2**32 - 1)
QUICK = settings(deadline=None, max_examples=60)


def flat(rng, count=300):
    """Random points of an ellipse, and forces that press inside it."""
    reach = np.sqrt(rng.uniform(size=(count, 1)))
    angle = rng.uniform(0, 2 * np.pi, count)
    size = rng.uniform(3, 30, 2)
    points = np.zeros((count, 3))
    points[:, :2] = reach * np.stack([np.cos(angle), np.sin(angle)], axis=1) * size
    areas = rng.uniform(0.1, 1.0, count)
    screws = int(rng.integers(1, 5))
    at = np.zeros((screws, 3))
    at[:, :2] = rng.uniform(-0.6, 0.6, (screws, 2)) * size
    force = rng.normal(0, 100, (screws, 3))
    force[:, 2] = rng.uniform(100, 1000, screws)
    return points, np.array([[0.0, 0.0, 1.0]]), areas, force, at


def curved(rng):
    """The same over a paraboloid."""
    points, _, areas, force, at = flat(rng)
    bend = rng.uniform(-0.03, 0.03, 2)
    points[:, 2] = points[:, :2] ** 2 @ bend
    normals = np.concatenate([-2 * bend * points[:, :2], np.ones((len(points), 1))], axis=1)
    return points, normals, areas, force, at


def left_over(found, points, normals, areas, force, at):
    """Force and moment that pressures and friction do not balance, as shares of the load."""
    normals = normals / np.linalg.norm(normals, axis=1)[:, None]
    push = (found.pressure * areas)[:, None] * normals
    missing = force.sum(axis=0) - push.sum(axis=0) - found.carried.force
    turning = np.cross(at, force).sum(axis=0) - np.cross(points, push).sum(axis=0)
    turning = turning - found.carried.moment_about(np.zeros(3))
    reach = np.linalg.norm(points, axis=1).max()
    size = np.linalg.norm(force.sum(axis=0))
    return np.linalg.norm(missing) / size, np.linalg.norm(turning) / (size * reach)


@pytest.mark.parametrize("surface", [flat, curved])
@given(seed=SEED)
@QUICK
def test_equilibrium(surface, seed):
    case = surface(np.random.default_rng(seed))
    found = solve_contact(*case)
    if not found.balanced:
        assert np.isnan(found.pressure).all()
        return
    assert found.converged
    assert found.pressure.min() >= 0
    assert max(left_over(found, *case)) < 1e-8
    size = np.linalg.norm(case[3].sum(axis=0))
    assert found.force_residual < 1e-8 * size
    assert found.moment_residual < 1e-8 * size * np.linalg.norm(case[0], axis=1).max()


@given(seed=SEED)
@QUICK
def test_flat_contact_inside_the_hull_always_converges(seed):
    found = solve_contact(*flat(np.random.default_rng(seed)))
    assert found.converged


@given(seed=SEED)
@QUICK
def test_flat_contact_carries_only_shear_and_torsion(seed):
    case = flat(np.random.default_rng(seed))
    carried = solve_contact(*case).carried
    size = np.linalg.norm(case[3].sum(axis=0))
    assert carried.force == pytest.approx([*case[3].sum(axis=0)[:2], 0], abs=1e-8 * size)
    assert np.abs(carried.moment[:2]).max() < 1e-6 * size


@given(seed=SEED)
@QUICK
def test_work_of_the_load_is_twice_the_stored_energy(seed):
    """Clapeyron: with k = 1 the closing is the pressure, on points in contact."""
    points, normals, areas, force, at = flat(np.random.default_rng(seed))
    found = solve_contact(points, normals, areas, force, at)
    closing = np.where(found.touching, found.pressure, -found.gap)
    plane = np.linalg.lstsq(np.c_[points[:, :2], np.ones(len(points))], closing, rcond=None)[0]
    work = force[:, 2] @ (at[:, :2] @ plane[:2] + plane[2])
    assert work == pytest.approx(areas @ found.pressure**2, rel=1e-8)


@given(seed=SEED)
@QUICK
def test_pressures_move_with_the_body(seed):
    rng = np.random.default_rng(seed)
    points, normals, areas, force, at = flat(rng)
    turn, shift = Rotation.random(random_state=int(seed % 2**31)), rng.normal(0, 50, 3)
    here = solve_contact(points, normals, areas, force, at)
    there = solve_contact(
        turn.apply(points) + shift,
        turn.apply(normals),
        areas,
        turn.apply(force),
        turn.apply(at) + shift,
    )
    assert there.pressure == pytest.approx(here.pressure, rel=1e-6, abs=1e-7 * here.peak)


@given(seed=SEED, factor=st.floats(0.01, 100))
@QUICK
def test_pressures_grow_with_the_force(seed, factor):
    points, normals, areas, force, at = flat(np.random.default_rng(seed))
    once = solve_contact(points, normals, areas, force, at)
    more = solve_contact(points, normals, areas, factor * force, at)
    assert more.pressure == pytest.approx(factor * once.pressure, rel=1e-6, abs=1e-7 * more.peak)


@given(seed=SEED)
@QUICK
def test_friction_limit_lies_between_its_bounds(seed):
    """Below the weaker of shear and torsion alone, above their straight interaction (convex).

    Torsion alone turns about a point beside the middle of the pressure, so a pull one way may
    help a little against it; the same pull the other way then helps the torsion.
    """
    rng = np.random.default_rng(seed)
    points, _, areas, _, _ = flat(rng, 60)
    normal = np.array([0.0, 0.0, 1.0])
    centre = areas @ points / areas.sum()
    force = np.array([*rng.normal(size=2), 0.0])
    moment = np.array([0.0, 0.0, rng.normal(0, 5)])
    shear, torsion, both, back = (
        friction_limit(points, areas, normal, Load(f, m, centre))
        for f, m in ((force, 0 * moment), (0 * force, moment), (force, moment), (-force, moment))
    )
    assert shear == pytest.approx(areas.sum() / np.linalg.norm(force))
    assert max(both, back) <= shear * (1 + 1e-6)
    assert min(both, back) <= torsion * (1 + 1e-6)
    assert min(both, back) >= 1 / (1 / shear + 1 / torsion) * (1 - 1e-6)


@given(seed=SEED, factor=st.floats(0.01, 100))
@QUICK
def test_slip_reserve_does_not_depend_on_how_hard_all_screws_pull(seed, factor):
    rng = np.random.default_rng(seed)
    force, at = rng.uniform(10, 1000, 3), rng.normal(0, 10, (3, 3)) * [1, 1, 0]
    direction = rng.normal([0, 0, 3], 1, (3, 3))
    once, more = (slip_reserve(f * force, direction, at, [0, 0, 1]) for f in (1.0, factor))
    assert more.estimate == pytest.approx(once.estimate, rel=1e-6)
    assert once.low / 0.3 == pytest.approx(once.high / 0.46)


@given(
    length=st.floats(0.5, 60),
    pitch=st.floats(0.5, 3),
    core=st.floats(1, 5),
    depth=st.floats(0.1, 2),
)
@QUICK
def test_pull_out_grows_with_thread_and_strength(length, pitch, core, depth):
    base = pull_out(3.0, length, core + 2 * depth, core, pitch)
    assert pull_out(6.0, length, core + 2 * depth, core, pitch) == pytest.approx(2 * base)
    assert pull_out(3.0, 2 * length, core + 2 * depth, core, pitch) == pytest.approx(2 * base)
    assert pull_out(3.0, length, core + 2.2 * depth, core, pitch) > base
    assert pull_out(3.0, length, core + 2 * depth, core, 0.9 * pitch) > base


def test_two_ways_of_saying_one_load():
    points, normals, areas, force, at = flat(np.random.default_rng(3))
    summed = Load(force.sum(axis=0), np.cross(at, force).sum(axis=0), np.zeros(3))
    one, two = (
        solve_contact(points, normals, areas, force, at),
        contact_of(points, normals, areas, summed),
    )
    assert one.pressure == pytest.approx(two.pressure)


ROOFS = [
    surface_regions(zones_of(strip(angles)), 2.0)[0]
    for angles in ([30.0, -30.0], [50.0, 0.0, -50.0], [70.0, 20.0, -30.0], [0.0, 4.0])
]


@given(seed=SEED, region=st.sampled_from(ROOFS))
@QUICK
def test_pressures_and_friction_balance_the_screws_on_a_surface_of_many_zones(seed, region):
    """One fragment on all of it: force and moment, whatever zone each screw crosses."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 5))
    zone = rng.choice(region.zones, count)
    spots = np.array([region.points[rng.choice(np.flatnonzero(region.of_zone(z)))] for z in zone])
    normals = region.facing_of(zone)
    way = normals + 0.3 * rng.normal(size=(count, 3))
    load = clamp_load(rng.uniform(100, 1000, count), way, spots, normals)
    pressed = press_surface(region, load, 0.3)
    found = pressed.contact
    if not found.converged:
        assert not found.balanced
        assert np.isnan(pressed.limit)
        return
    push = (found.pressure * region.areas)[:, None] * region.normals
    size = np.linalg.norm(load.force) + 1.0
    left = load.force - push.sum(axis=0) - found.carried.force
    turning = (
        load.moment_about(region.centre)
        - np.cross(region.points - region.centre, push).sum(axis=0)
        - found.carried.moment_about(region.centre)
    )
    assert found.pressure.min() >= 0.0
    assert np.linalg.norm(left) < 1e-8 * size
    assert np.linalg.norm(turning) < 1e-6 * size
    # friction is asked for nothing in a motion that the surface resists
    assert pressed.bends == (found.sliding.shape[1] < 3)
    parts = sum(
        found.pressure[region.of_zone(z)] @ region.areas[region.of_zone(z)] for z in region.zones
    )
    assert parts == pytest.approx(found.pressure @ region.areas)
