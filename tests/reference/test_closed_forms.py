"""Trajectories against closed forms: slab, prism, tube, open pipe, sphere and plane.

Source of every formula: elementary geometry (a line against half-spaces, a circle or a
sphere); the derivation stands beside the check. No number here is a product of this package.
"""

import numpy as np
import pytest
from builders import bone_of, in_slab, screw, screws_in, shaft, slab, tilted, zone_of
from specimens import cylinder, pipe, sphere, tube

from trajplan.trajectory import Axes, cast

RING = 16
ROUNDING = 1e-6


def lines_through(count, seed, *, spread=6.0, steep=40.0, centre=(0.0, 0.0, 50.0)):
    """Axes that cross a shaft along z near its middle, at most ``steep`` degrees off level."""
    rng = np.random.default_rng(seed)
    turn = rng.uniform(0, 2 * np.pi, count)
    rise = np.radians(rng.uniform(-steep, steep, count))
    flat = np.cos(rise)
    direction = np.stack([flat * np.cos(turn), flat * np.sin(turn), np.sin(rise)], axis=1)
    middle = np.asarray(centre) + rng.uniform(-spread, spread, (count, 3))
    return middle - 80.0 * direction, direction


def prism_chord(origin, direction, radius, low, high, sides=64):
    """Where lines run in a prism along z whose corners lie on a circle; NaN where they miss.

    A line is in a convex body where it is inside every half-space ``n.x <= c``: the greatest
    of the entering depths to the least of the leaving ones. Side ``i`` has its normal at
    angle ``2 pi (i + 1/2) / sides`` and ``c = radius cos(pi / sides)``.
    """
    turn = 2 * np.pi * (np.arange(sides) + 0.5) / sides
    normal = np.concatenate(
        [np.stack([np.cos(turn), np.sin(turn), np.zeros(sides)], axis=1), [[0, 0, 1], [0, 0, -1]]]
    )
    offset = np.append(np.full(sides, radius * np.cos(np.pi / sides)), [high, -low])
    slope, height = direction @ normal.T, offset - origin @ normal.T
    with np.errstate(divide="ignore"):
        depth = height / slope
    start = np.where(slope < 0, depth, -np.inf).max(axis=1)
    end = np.where(slope > 0, depth, np.inf).min(axis=1)
    return np.where(start < end, [start, end], np.nan)


def bundle_lines(corridors):
    """Origin and direction of every line of every bundle, rebuilt from the ring's definition.

    Ring points lie on a circle of the thread's radius square to the axis, one every
    ``2 pi / k``; where the first one lies is read off the first line's own frame.
    """
    from trajplan.geometry import ring_offsets

    axes = corridors.axes
    offsets = ring_offsets(axes.direction, corridors.radius, corridors.ring)
    offsets = np.concatenate([np.zeros((len(axes), 1, 3)), offsets], axis=1)
    return axes.origin[:, None] + offsets, np.broadcast_to(axes.direction[:, None], offsets.shape)


def test_the_ring_is_a_circle_square_to_the_axis():
    corridors = in_slab(x=np.linspace(-5, 5, 7), angle=25).corridors
    points, direction = bundle_lines(corridors)
    arm = points[:, 1:] - points[:, :1]
    assert np.linalg.norm(arm, axis=2) == pytest.approx(2.25, abs=1e-12)
    assert np.abs(np.einsum("nki,nki->nk", arm, direction[:, 1:])).max() < 1e-12
    step = np.einsum("nki,nki->nk", arm, np.roll(arm, 1, axis=1)) / 2.25**2
    assert step == pytest.approx(np.cos(2 * np.pi / RING), abs=1e-12)


@pytest.mark.parametrize("body", ["tube", "pipe", "annulus"])
def test_shaft_with_a_canal_against_the_polygonal_prism(body):
    """Outer prism less inner prism, for the axis and for every line of its ring."""
    outer, inner, n = 14.0, 9.0, 1000
    if body == "tube":
        mesh, canal = tube(outer, inner), (5.0, 95.0)
    elif body == "pipe":
        mesh, canal = pipe(outer, inner), (0.0, 100.0)
    else:
        import trimesh

        ring = trimesh.creation.annulus(r_min=inner, r_max=outer, height=100.0, sections=64)
        ring.apply_translation([0, 0, 50])
        mesh, canal = (np.array(ring.vertices), np.array(ring.faces)), (0.0, 100.0)
    bone = bone_of(mesh)
    start, direction = lines_through(n, seed=3)
    corridors = cast(bone, Axes.along(start, direction), np.full(n, 2.25), ring=RING)
    assert corridors.hit.all()
    first, last = prism_chord(start, direction, outer, 0, 100)
    moved = np.einsum("ij,ij->i", corridors.axes.origin - start, direction)
    assert moved == pytest.approx(first, abs=ROUNDING)
    assert corridors.exit == pytest.approx(last - first, abs=ROUNDING)
    points, along = bundle_lines(corridors)
    flat = points.reshape(-1, 3), along.reshape(-1, 3)
    begin, end = prism_chord(*flat, outer, 0, 100)
    assert corridors.line_entry.ravel() == pytest.approx(begin, abs=ROUNDING)
    assert corridors.line_exit.ravel() == pytest.approx(end, abs=ROUNDING)
    gap_from, gap_to = prism_chord(*flat, inner, *canal)
    through = np.isfinite(gap_from)
    want = np.where(through, (end - begin) - (gap_to - gap_from), end - begin)
    rows = np.repeat(np.arange(len(want)), np.diff(corridors.solid.offsets))
    bone_length = np.bincount(rows, corridors.solid.end - corridors.solid.start, len(want))
    assert bone_length == pytest.approx(want, abs=ROUNDING)
    pieces = np.diff(corridors.solid.offsets)
    clear = np.where(through, gap_to - gap_from, 1.0) > 1e-3
    assert (pieces[clear] == np.where(through, 2, 1)[clear]).all()
    assert corridors.decided.all()
    assert not corridors.leaves.any()
    assert np.isnan(corridors.again).all()


@pytest.mark.parametrize("mesh", [tube(), pipe()], ids=["closed canal", "open canal"])
def test_cortex_near_and_far_against_the_prism(mesh):
    bone, n = bone_of(mesh), 400
    start, direction = lines_through(n, seed=4, spread=3.0)
    screws = screws_in(bone, start, direction, zones=zone_of(bone, [0, 0, 50], [1, 0, 0]))
    assert screws.walls.basis.tolist() == [0] * n  # modelled
    first, last = prism_chord(start, direction, 14, 0, 100)
    canal_from, canal_to = prism_chord(start, direction, 9, 0, 100)
    assert screws.walls.near == pytest.approx(canal_from - first, abs=ROUNDING)
    assert screws.walls.far == pytest.approx(last - canal_to, abs=ROUNDING)


def test_thread_purchase_beyond_the_fracture_against_the_prism():
    """Mean over the ring of bone between the plane and the nearer of far wall and tip."""
    bone, n = shaft(), 300
    start, direction = lines_through(n, seed=5, spread=3.0, steep=20.0)
    screws = screws_in(bone, start, direction, zones=zone_of(bone, [0, 0, 50], [1, 0.2, 0.1]))
    points, along = bundle_lines(screws.corridors)
    flat = points[:, 1:].reshape(-1, 3), along[:, 1:].reshape(-1, 3)
    _, end = prism_chord(*flat, 14, 0, 100)
    canal_from, canal_to = prism_chord(*flat, 9, 5, 95)
    normal = np.array([1, 0.2, 0.1])
    plane = ((np.array([0, 0, 50]) - flat[0]) @ normal) / (flat[1] @ normal)
    low = np.maximum(plane, np.repeat(screws.bite_from, RING))
    high = np.minimum(end, np.repeat(screws.tip, RING))
    whole = np.clip(high - low, 0, None)
    hollow = np.clip(np.minimum(high, canal_to) - np.maximum(low, canal_from), 0, None)
    want = (whole - np.nan_to_num(hollow)).reshape(n, RING).mean(axis=1)
    rows = screws.crossing.inside
    assert rows.sum() > 200
    assert screws.purchase[rows] == pytest.approx(want[rows], abs=ROUNDING)
    assert np.isnan(screws.purchase[~rows]).all()


def test_round_bar_at_its_chord_error():
    """Level chord at distance d: 2 sqrt(rho^2 - d^2), rho between the polygon's two circles."""
    d = np.linspace(-9.5, 9.5, 200)
    start = np.column_stack([np.full(200, -60.0), d, np.full(200, 50.0)])
    axes = Axes.along(start, np.tile([1.0, 0, 0], (200, 1)))
    corridors = cast(bone_of(cylinder()), axes, np.full(200, 0.1), ring=8)
    within = 10.0 * np.cos(np.pi / 64)
    assert (corridors.exit <= 2 * np.sqrt(10.0**2 - d**2) + ROUNDING).all()
    assert (corridors.exit >= 2 * np.sqrt(within**2 - d**2) - ROUNDING).all()


def test_ball_at_its_chord_error():
    """Chord at distance d from the middle: between those of the inscribed and the outer ball."""
    vertices, faces = sphere(20.0, 4)
    a, b, c = vertices[faces].transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    within = np.abs(np.einsum("ij,ij->i", normal, a) / np.linalg.norm(normal, axis=1)).min()
    n = 3000
    start, direction = lines_through(n, 6, spread=9.0, steep=89.0, centre=(0, 0, 0))
    middle = start + 80.0 * direction
    d2 = (middle**2).sum(axis=1) - np.einsum("ij,ij->i", middle, direction) ** 2
    axes = Axes.along(start, direction)
    corridors = cast(bone_of((vertices, faces)), axes, np.full(n, 1.0), ring=8)
    assert corridors.hit.all()
    assert (corridors.exit <= 2 * np.sqrt(20.0**2 - d2) + ROUNDING).all()
    assert (corridors.exit >= 2 * np.sqrt(within**2 - d2) - ROUNDING).all()


@pytest.mark.parametrize("angle", [0.0, 5.0, 20.0, 45.0, 60.0])
def test_slab_of_thickness_t_at_a_tilt(angle):
    """The axis runs T / cos a in it; the ring's deepest exit lies r tan a past that.

    A ring of k lines comes within a factor cos(pi / k) of the circle's own extreme.
    """
    thickness, a = 20.0, np.radians(angle)
    screws = in_slab(thickness, 8.0, x=np.linspace(-9, 0, 5), angle=angle, ring=RING)
    corridors = screws.corridors
    chord, lift = thickness / np.cos(a), 2.25 * np.tan(a)
    least = lift * np.cos(np.pi / RING)
    assert corridors.exit == pytest.approx(chord, abs=ROUNDING)
    assert (corridors.deepest_exit <= chord + lift + ROUNDING).all()
    assert (corridors.deepest_exit >= chord + least - ROUNDING).all()
    shallowest = np.fmin.reduce(corridors.line_exit, axis=1)
    assert (shallowest >= chord - lift - ROUNDING).all()
    assert (shallowest <= chord - least + ROUNDING).all()
    assert screws.entry_angle == pytest.approx(angle, abs=1e-4)
    assert screws.exit_angle == pytest.approx(angle, abs=1e-4)
    reading = screws.gauge + screws.seats.seat  # at the rim of the 3.2 mm thread hole
    assert (reading <= chord + 1.6 * np.tan(a) + ROUNDING).all()
    assert (reading >= chord + 1.6 * np.tan(a) * np.cos(np.pi / RING) - ROUNDING).all()
    assert screws.crossing.axis == pytest.approx(8.0 / np.cos(a), abs=ROUNDING)
    fine = in_slab(thickness, 8.0, angle=angle, ring=256).corridors
    assert fine.deepest_exit == pytest.approx(chord + lift, abs=1e-3)


def test_fracture_depth_on_the_ring_of_thousands_of_axes():
    """A ring line crosses at axis - (arm.n) / (d.n): within r tan(tilt) of the axis."""
    n = 3000
    rng = np.random.default_rng(7)
    bone, normal = slab(60.0), np.array([0.2, -0.1, 1.0])
    direction = np.array([tilted(a, b) for a, b in rng.uniform([0, 0], [35, 360], (n, 2))])
    start = np.column_stack([rng.uniform(-10, 10, (n, 2)), np.zeros(n)]) - 20.0 * direction
    screws = screws_in(bone, start, direction, zones=zone_of(bone, [0, 0, -25], normal))
    points, along = bundle_lines(screws.corridors)
    want = ((np.array([0, 0, -25]) - points) @ normal) / (along @ normal)
    assert screws.crossing.lines == pytest.approx(want, abs=ROUNDING)
    cosine = np.abs(direction @ normal) / np.linalg.norm(normal)
    tilt = np.arccos(np.clip(cosine, 0, 1))
    assert screws.crossing.tilt == pytest.approx(np.degrees(tilt), abs=1e-5)
    lift = 2.25 * np.tan(tilt)
    for reach in (
        screws.crossing.deep - screws.crossing.axis,
        screws.crossing.axis - screws.crossing.shallow,
    ):
        assert (reach <= lift + ROUNDING).all()
        assert (reach >= lift * np.cos(np.pi / RING) - ROUNDING).all()


@pytest.mark.parametrize(("technique", "hole"), [("lag", 4.5), ("position", 3.2)])
def test_a_ball_on_the_rim_of_a_hole(technique, hole):
    """A ball of radius R on a hole of radius h reaches R - sqrt(R^2 - h^2) below the rim.

    Head radius 4.0 mm: from memory (ISO 5835); the formula holds for any.
    """
    screws = in_slab(technique=technique)
    assert screws.seats.seat == pytest.approx(4.0 - np.sqrt(16.0 - (hole / 2) ** 2), abs=ROUNDING)
    assert screws.seats.rim_contact == pytest.approx(1.0)
    assert screws.seats.countersink == pytest.approx(0.0)


def test_a_washer_on_a_flat_stands_by_its_thickness():
    from builders import catalogue

    washer = catalogue().washers["13.0"]
    screws = in_slab(washers=(washer,))
    assert screws.seats.seat == pytest.approx(-washer.thickness, abs=ROUNDING)
    assert screws.gauge == pytest.approx(20.0 + washer.thickness, abs=ROUNDING)


def test_the_length_is_the_next_one_stocked_past_gauge_and_tip():
    """Past the margin of 2 mm, rounded up to the stocked step of 2 mm, but never past 3 mm.

    1 to 2 mm past the far cortex are taught (AO Foundation, online surgery reference, tibial
    shaft, screw length), so steps of 2 mm leave no screw less than 1 or more than 3 mm proud.
    """
    for thickness in (13.0, 12.3, 13.6, 15.0, 20.0, 29.9):
        screws = in_slab(thickness, 5.0)
        need = screws.gauge[0] + 2.0
        reaches = min(n for n in screw().lengths if n >= need - ROUNDING)
        assert screws.length[0] in (reaches, reaches - 2.0)
        assert 1.0 - ROUNDING <= screws.proud[0] <= 3.0 + ROUNDING
        assert (screws.length[0] < reaches) == (reaches - screws.gauge[0] > 3.0 + ROUNDING)


@pytest.mark.parametrize("cortex", [2.0, 4.0, 7.0, 15.0])
def test_assumed_cortex_leaves_two_walls_of_bone(cortex):
    """Bone of [8, 20] within [0, c] and [20 - c, 20]; all of it where the walls meet."""
    screws = in_slab(20.0, 8.0, cortex=cortex)
    want = 12.0 if 2 * cortex >= 20 else min(cortex, 12.0)
    assert screws.purchase == pytest.approx(want, abs=ROUNDING)
    tilted_screws = in_slab(20.0, 8.0, cortex=cortex, angle=25)
    want = min(cortex / np.cos(np.radians(25)), 20.0 / np.cos(np.radians(25)))
    assert tilted_screws.walls.near == pytest.approx(want, abs=1e-4)
