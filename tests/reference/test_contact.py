"""Contact against foundation handbooks: eccentric loads on rectangle, circle and ring.

Closed forms of every foundation handbook (strength of materials, no-tension base): full
contact inside the kern, p = F/A (1 ± 6e/b); beyond it p = 2F / (3a (b/2 - e)); kerns b/6,
R/4 and (R² + r²)/(4R).
"""

from itertools import pairwise

import numpy as np
import pytest
from specimens import box, cylinder, pipe

from trajplan.bone import as_surface, make_bone
from trajplan.fracture import fracture_from_plane
from trajplan.mechanics import clamp_forces, region_quadrature, solve_contact

Z = (0.0, 0.0, 1.0)
A, B = 10.0, 20.0  # width and length of the rectangle, along y and x
F = 1000.0
RECTANGLE = box((-B / 2, -A / 2, 0), (B / 2, A / 2, 100))


def region_of(mesh, size=1.0):
    bone = make_bone(as_surface(mesh))
    return region_quadrature(fracture_from_plane(bone, (0, 0, 50), Z).zones[0], size)


def press(region, e, force=F):
    at = [[e, 0.0, 50.0]]
    return solve_contact(region.points, region.normals, region.areas, [[0, 0, force]], at)


def edge_pressure(region, found, x):
    """Pressure at an x, continued from the points in contact (it is linear there)."""
    on = found.touching
    slope, start = np.polyfit(region.points[on, 0], found.pressure[on], 1)
    return slope * x + start


@pytest.mark.parametrize("e", [0.0, 1.0, 2.5, B / 6])
def test_rectangle_inside_the_kern(e):
    region = region_of(RECTANGLE)
    found = press(region, e)
    assert found.converged
    assert found.share == pytest.approx(1.0)
    assert found.mean == pytest.approx(F / (A * B))
    for x, sign in ((B / 2, 1), (-B / 2, -1)):
        due = F / (A * B) * (1 + sign * 6 * e / B)
        assert edge_pressure(region, found, x) == pytest.approx(due, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("e", [4.0, 6.0, 8.0])
def test_rectangle_beyond_the_kern(e):
    region = region_of(RECTANGLE, 0.5)
    found = press(region, e)
    assert found.converged
    assert edge_pressure(region, found, B / 2) == pytest.approx(
        2 * F / (3 * A * (B / 2 - e)), rel=3e-3
    )
    assert found.share == pytest.approx(3 * (B / 2 - e) / B, abs=0.01)


def test_finer_pieces_come_nearer():
    """Peak at the outermost point, against the pressure of the edge."""
    e = 6.0
    due = 2 * F / (3 * A * (B / 2 - e))
    error = [1 - press(region_of(RECTANGLE, size), e).peak / due for size in (4.0, 2.0, 1.0, 0.5)]
    assert all(fine < 0.7 * coarse for coarse, fine in pairwise(error))
    assert 0 < error[-1] < 0.01


@pytest.mark.parametrize(
    ("mesh", "kern"),
    [
        (RECTANGLE, B / 6),
        (cylinder(14.0, 100.0, 512), 14.0 / 4),
        (pipe(14.0, 9.0, 100.0, 512), (14.0**2 + 9.0**2) / (4 * 14.0)),
    ],
)
def test_kern(mesh, kern):
    """Inside the kern all is closed; past it the far edge opens, and with fine pieces at once."""
    for size, slack in ((2.0, 1.06), (0.7, 1.025)):
        region = region_of(mesh, size)
        assert press(region, 0.999 * kern).share == pytest.approx(1.0)
        assert press(region, slack * kern).share < 1.0


def test_circle_kern_peak_is_twice_the_mean():
    """At the kern the pressure runs from 0 to twice the mean, on any of the three shapes."""
    region = region_of(cylinder(14.0, 100.0, 512), 0.7)
    found = press(region, 14.0 / 4)
    assert edge_pressure(region, found, 14.0) == pytest.approx(2 * found.mean, rel=1e-3)
    assert edge_pressure(region, found, -14.0) == pytest.approx(0.0, abs=2e-3 * found.mean)


def test_two_symmetric_screws_press_evenly():
    """From opposite sides of the bone, tilted towards each other."""
    region = region_of(pipe(14.0, 9.0, 100.0, 512))
    lean = np.radians(15)
    direction = np.array([[np.sin(lean), 0, np.cos(lean)], [np.sin(lean), 0, -np.cos(lean)]])
    force = clamp_forces([500.0, 500.0], direction, Z)
    at = [[6.0, 0, 50], [-6.0, 0, 50]]
    found = solve_contact(region.points, region.normals, region.areas, force, at)
    even = 2 * 500 * np.cos(lean) / region.area
    assert found.pressure == pytest.approx(np.full(len(region.areas), even))
    assert found.carried.force == pytest.approx(np.zeros(3), abs=1e-9)
