"""A spiral fracture in a tube against the closed form of the helicoid.

The helicoid of the screw parameter ``c`` (mm of rise a radian of turn) is

    S(r, t) = (r cos t, r sin t, c t).

Its tangents ``S_r = (cos t, sin t, 0)`` and ``S_t = (-r sin t, r cos t, c)`` give the normal

    S_r x S_t = (c sin t, -c cos t, r),   |S_r x S_t| = sqrt(r^2 + c^2),

so the normal makes the angle ``arctan(c / r)`` with the axis and turns with ``t``; the area
is ``T / 2 [r sqrt(r^2 + c^2) + c^2 asinh(r / c)]`` between two radii for a turn ``T``; and the
outer rim is a helix of length ``T sqrt(R^2 + c^2)``. Derived here; the integrals are those of
any calculus textbook.

A half turn about the ruling ``t = 0`` maps ``(x, y, z)`` to ``(x, -y, -z)`` and the helicoid to
itself. The best plane of a sector from ``-T/2`` to ``T/2`` must map to itself too, so its
normal is ``(0, -sin b, cos b)``, and least squares give
``tan 2b = 2 <yz> / (<yy> - <zz>)``, with means over the area element ``sqrt(r^2 + c^2) dr dt``.
"""

import numpy as np
import pytest
from specimens import tube

from trajplan.bone import as_surface, make_bone, shaft_axis
from trajplan.fracture import (
    distance_to_outline,
    fracture_from_surface,
    fracture_length,
    local_normals,
    obliquity,
    zones_from_patch,
)

INNER, OUTER, RISE, TURN = 9.0, 14.0, 20.0, 1.5 * np.pi
MIDDLE = np.array([0.0, 0.0, 60.0])


def helicoid(turn=TURN, rise=RISE, steps=(12, 240), inner=INNER, noise=0.0):
    """Triangles of a helicoid about z, from the inner to the outer radius."""
    r, t = (
        a.ravel()
        for a in np.meshgrid(
            np.linspace(inner, OUTER, steps[0]), np.linspace(-turn / 2, turn / 2, steps[1])
        )
    )
    vertices = MIDDLE + np.column_stack([r * np.cos(t), r * np.sin(t), rise * t])
    if noise:
        vertices = vertices + noise * np.random.default_rng(0).normal(size=len(r))[
            :, None
        ] * normal_at(r, t, rise)
    i, j = np.meshgrid(np.arange(steps[1] - 1), np.arange(steps[0] - 1), indexing="ij")
    p = (i * steps[0] + j).ravel()
    faces = np.concatenate(
        [
            np.stack([p, p + 1, p + steps[0]], 1),
            np.stack([p + 1, p + steps[0] + 1, p + steps[0]], 1),
        ]
    )
    return as_surface((vertices, faces), name="spiral.stl")


def normal_at(r, t, rise=RISE):
    """Closed form, unit length."""
    normal = np.stack([rise * np.sin(t), -rise * np.cos(t), r], axis=-1)
    return normal / np.linalg.norm(normal, axis=-1, keepdims=True)


def closed_form(zone, rise=RISE):
    """Areas of a zone's triangles, and the helicoid's normals at their middles."""
    corners = zone.patch.triangles() - MIDDLE
    x, y, z = corners.mean(axis=1).T
    t = z / rise
    edges = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return 0.5 * np.linalg.norm(edges, axis=1), normal_at(x * np.cos(t) + y * np.sin(t), t, rise)


def degrees(one, other):
    return np.degrees(np.arccos(np.clip(np.abs(one @ other), 0.0, 1.0)))


BONE = make_bone(as_surface(tube(OUTER, INNER, 120.0, sides=256)))
SPIRAL = fracture_from_surface(BONE, helicoid())


def test_number_of_zones():
    """Of a zone over an angle T the normal, at 60 degrees to the axis in the middle of the
    wall, turns by 2 asin(sin 60 sin(T/2)); 40 degrees are allowed, so 47 degrees of T, and 270
    degrees need six zones or more. Half as many again is still sensible."""
    middle = np.arctan2(RISE, 0.5 * (INNER + OUTER))
    widest = 2.0 * np.arcsin(np.sin(np.radians(20.0)) / np.sin(middle))
    least = int(np.ceil(TURN / widest))
    assert least == 6
    assert least <= len(SPIRAL.zones) <= 9


def test_zones_follow_the_spiral():
    heights = [zone.plane.point[2] for zone in SPIRAL.zones]
    assert (np.diff(heights) > 5.0).all()
    assert [zone.id for zone in SPIRAL.zones] == [f"Z{i + 1}" for i in range(len(heights))]


def test_normals_are_the_helicoids_mean_normals():
    for zone in SPIRAL.zones:
        area, normals = closed_form(zone)
        mean = area @ normals / np.linalg.norm(area @ normals)
        assert degrees(zone.plane.normal, mean) < zone.fit.normal_bound < 15.0
        assert np.average(degrees(normals, zone.plane.normal), weights=area) < 15.0
        assert degrees(normals, zone.plane.normal).max() < 35.0


def test_one_plane_would_mislead():
    """The check above can fail: against one plane the normals are off by up to 90 degrees."""
    (whole,), _ = zones_from_patch(BONE, helicoid(), most=1)
    assert degrees(closed_form(whole)[1], whole.plane.normal).max() > 60.0


@pytest.mark.parametrize("rise", [10.0, 20.0, 40.0])
def test_normal_of_a_symmetric_sector(rise):
    turn = np.radians(35.0)
    (zone,), _ = zones_from_patch(None, helicoid(turn, rise, (40, 160)), most=1)
    nodes, weights = np.polynomial.legendre.leggauss(20)
    r = 0.5 * (INNER + OUTER) + 0.5 * (OUTER - INNER) * nodes[:, None]
    t = 0.5 * turn * nodes[None]
    share = weights[:, None] * weights[None] * np.hypot(r, rise)
    y, z = r * np.sin(t), rise * t
    b = 0.5 * np.arctan2(2 * np.sum(share * y * z), np.sum(share * (y * y - z * z)))
    assert degrees(zone.plane.normal, np.array([0.0, -np.sin(b), np.cos(b)])) < 0.05
    assert zone.plane.normal[0] == pytest.approx(0.0, abs=1e-3)


def test_all_area_is_covered_once():
    both = np.array([INNER, OUTER])
    antiderivative = both * np.hypot(both, RISE) + RISE**2 * np.arcsinh(both / RISE)
    exact = 0.5 * TURN * np.diff(antiderivative)[0]
    assert sum(zone.area for zone in SPIRAL.zones) == pytest.approx(exact, rel=1e-3)
    triangles = np.concatenate([zone.patch.triangles() for zone in SPIRAL.zones]).reshape(-1, 9)
    whole = helicoid().triangles().reshape(-1, 9)
    assert np.array_equal(triangles[np.lexsort(triangles.T)], whole[np.lexsort(whole.T)])


def test_fracture_line_is_the_outer_helix():
    t = np.linspace(-0.45 * TURN, 0.45 * TURN, 50)
    helix = MIDDLE + np.column_stack([OUTER * np.cos(t), OUTER * np.sin(t), RISE * t])
    canal = MIDDLE + np.column_stack([INNER * np.cos(t), INNER * np.sin(t), RISE * t])
    for zone in SPIRAL.zones:
        assert distance_to_outline(zone, helix).max() < 0.01
        assert distance_to_outline(zone, canal).min() > 4.0
    (line,) = SPIRAL.zones[0].rim
    length = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert length == pytest.approx(TURN * np.hypot(OUTER, RISE) + 5.0, abs=1.0)  # half of each end


def test_length_along_the_shaft():
    axis = shaft_axis(BONE.surface)
    found = fracture_length(SPIRAL.zones, axis)
    assert found.length == pytest.approx(RISE * TURN)
    assert found.diameter == pytest.approx(2 * OUTER, rel=1e-3)
    assert found.ratio == pytest.approx(RISE * TURN / (2 * OUTER), rel=1e-3)


def test_obliquity_is_that_of_the_helicoid():
    """The normal makes arctan(c / r) with the axis: 66 degrees at the canal, 55 outside."""
    axis = shaft_axis(BONE.surface)
    low, high = np.degrees(np.arctan2(RISE, [OUTER, INNER]))
    for zone in SPIRAL.zones:
        assert low - 3.0 < obliquity(zone, axis) < high + 3.0


def test_noise_changes_little():
    rough = fracture_from_surface(BONE, helicoid(noise=0.2))
    assert abs(len(rough.zones) - len(SPIRAL.zones)) <= 2
    for zone in rough.zones:
        corners = zone.patch.triangles().mean(axis=1) - MIDDLE
        t = corners[:, 2] / RISE
        mean = normal_at(corners[:, 0] * np.cos(t) + corners[:, 1] * np.sin(t), t).mean(axis=0)
        assert degrees(zone.plane.normal, mean / np.linalg.norm(mean)) < 8.0


@pytest.mark.parametrize("noise", [0.0, 0.2])
def test_local_normals_are_the_helicoids(noise):
    """Round a crossing the normal is nearer the closed form than that of the zone's plane.

    Places lie half-way through the wall, a reach (5.4 mm for a 2.7 mm thread) off both ends.
    """
    zones = fracture_from_surface(BONE, helicoid(noise=noise)).zones
    r = np.full(200, 0.5 * (INNER + OUTER))
    t = np.linspace(-0.5, 0.5, 200) * (TURN - 2.0 * 5.4 / np.hypot(r, RISE))
    points = MIDDLE + np.column_stack([r * np.cos(t), r * np.sin(t), RISE * t])
    middles = np.array([zone.plane.point for zone in zones])
    nearest = np.linalg.norm(points[:, None] - middles, axis=2).argmin(axis=1)
    local, plane = np.empty((2, *points.shape))
    for number, zone in enumerate(zones):
        rows = nearest == number
        local[rows] = local_normals(zone.pieces, points[rows], np.full(rows.sum(), 2.7))
        plane[rows] = zone.plane.normal
    truth = normal_at(r, t)
    error, before = (
        np.degrees(np.arccos(np.abs(np.einsum("ij,ij->i", found, truth))))
        for found in (local, plane)
    )
    assert error.max() < 2.5
    assert before.max() > 12.0
