"""Laws that hold for every screw in every bone, on random axes through small meshes."""

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from builders import bone_of, obstacle, screws_in, words, zone_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from specimens import box, flipped, sphere, tube

from trajplan.bone import as_surface, make_bone, shaft_axis
from trajplan.checks import Limits, Surroundings, clearance, pair_rulings, screw_rulings, too_near
from trajplan.trajectory import Trajectories

MESH = tube(sides=24)
BONE = bone_of(MESH)
POINT, NORMAL = np.array([0.0, 0, 50]), np.array([1.0, 0.3, 0.2])
ZONE = zone_of(BONE, POINT, NORMAL)


def around(bone, zone):
    return Surroundings(bone, (zone,), (), None, shaft=shaft_axis(bone.surface))


AROUND = around(BONE, ZONE)
few = settings(max_examples=6, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)
N = 12
#: A ring turned about its axis sees an oblique plane within r tan(a) (1 - cos(pi / k)) of the
#: circle's own extreme: 0.005 mm at 60 degrees with 64 lines, a little more on facets.
TURNED, FINE = 0.05, 64


def lines(seed, n=N):
    """Axes through the middle of the shaft, up to 40 degrees off the fracture normal."""
    rng = np.random.default_rng(seed)
    spin = Rotation.from_rotvec(np.radians(40) * rng.uniform(-0.6, 0.6, (n, 3)))
    direction = spin.apply(NORMAL / np.linalg.norm(NORMAL))
    return POINT + rng.uniform(-4, 4, (n, 3)) - 50 * direction, direction


def screws_at(start, direction, *, bone=BONE, zone=ZONE, **options):
    return screws_in(bone, start, direction, zones=zone, **options)


@cache
def crowd():
    return screws_at(*lines(5, 80))


def arrays(part, prefix=""):
    """Every array of screws by name, those of their parts as well."""
    found = {}
    for field in fields(part):
        value = getattr(part, field.name)
        if isinstance(value, np.ndarray):
            found[prefix + field.name] = value
        elif hasattr(value, "__dataclass_fields__"):
            found |= arrays(value, f"{prefix}{field.name}.")
    return found


#: Arrays with one row a screw: not the ragged spans, not what lies in space.
ROW_BY_ROW = [
    name for name in arrays(screws_at(*lines(0)))
    if not name.startswith(("corridors.solid", "corridors.outer", "corridors.axes"))
]  # fmt: skip
#: What the axis alone decides: the same to rounding, however the ring is turned.
AXIS_ALONE = ["corridors.exit", "walls.near", "walls.far", "crossing.tilt"]
#: What the ring decides.
RING = [
    "gauge", "purchase", "near_thread", "bite_from", "entry_angle", "exit_angle", "seats.seat",
    "holes.gliding_to",
]  # fmt: skip


def same(a, b, names, tolerance):
    left, right = arrays(a), arrays(b)
    for name in names:
        assert left[name] == pytest.approx(right[name], abs=tolerance, nan_ok=True), name


def verdicts(screws, around=AROUND, limits=None):
    return {r.rule: r for r in screw_rulings(screws, limits or Limits(), around)}


def agree(here, there, around=AROUND, margin=0.2):
    """The same verdicts, but for measures so near a limit that the turn of the ring decides.

    A gauge so near a stocked length that the next one is taken is left out as well.
    """
    first, second = verdicts(here), verdicts(there, around)
    alike = here.length == there.length
    assert alike.mean() > 0.7
    for rule, left in first.items():
        right = second[rule]
        near = np.abs(left.measured - left.limit) < margin * (100 if left.unit == "%" else 1)
        assert (near | (left.verdict == right.verdict))[alike].all(), rule


def test_the_law_looks_at_arrays_that_exist():
    known = arrays(screws_at(*lines(0)))
    assert set(AXIS_ALONE + RING) <= set(known)
    assert isinstance(screws_at(*lines(0)), Trajectories)
    assert screws_at(*lines(0)).crossing.inside.mean() > 0.5


@given(seeds)
@few
def test_a_shift_changes_nothing(seed):
    shift = np.random.default_rng(seed).uniform(-200, 200, 3)
    vertices, faces = MESH
    bone = bone_of((vertices + shift, faces))
    start, direction = lines(seed)
    moved = screws_at(
        start + shift, direction, bone=bone, zone=zone_of(bone, POINT + shift, NORMAL)
    )
    here = screws_at(start, direction)
    same(moved, here, ["length", "technique", "corridors.hit", "crossing.inside"], 0)
    same(moved, here, AXIS_ALONE + RING, 1e-7)


@given(seeds)
@few
def test_a_rigid_motion_changes_no_depth_length_or_verdict(seed):
    turn = Rotation.random(rng=np.random.default_rng(seed))
    shift = np.array([30.0, -50, 70])
    vertices, faces = MESH
    bone = bone_of((turn.apply(vertices) + shift, faces))
    zone = zone_of(bone, turn.apply(POINT) + shift, turn.apply(NORMAL))
    start, direction = lines(seed)
    here = screws_at(start, direction, ring=FINE)
    there = screws_at(
        turn.apply(start) + shift, turn.apply(direction), bone=bone, zone=zone, ring=FINE
    )
    same(there, here, AXIS_ALONE, 1e-5)
    same(there, here, ["crossing.inside", "technique"], 0)
    assert there.crossing.axis == pytest.approx(here.crossing.axis, abs=1e-6)
    for side in ("shallow", "deep"):
        left, right = getattr(there.crossing, side), getattr(here.crossing, side)
        assert left == pytest.approx(right, abs=TURNED)
    assert there.corridors.deepest_exit == pytest.approx(here.corridors.deepest_exit, abs=TURNED)
    agree(here, there, around(bone, zone))


@given(seeds, st.booleans())
@few
def test_a_mirrored_bone_gives_the_mirrored_screws(seed, turned_over):
    """Left for right: every depth stays, whichever way the mirrored faces are wound."""
    mirror = np.array([-1.0, 1, 1])
    vertices, faces = flipped(MESH) if turned_over else MESH
    bone = bone_of((vertices * mirror, faces))
    zone = zone_of(bone, POINT * mirror, NORMAL * mirror)
    start, direction = lines(seed)
    here = screws_at(start, direction, ring=FINE)
    there = screws_at(start * mirror, direction * mirror, bone=bone, zone=zone, ring=FINE)
    same(there, here, AXIS_ALONE, 1e-6)
    assert there.corridors.axes.origin * mirror == pytest.approx(
        here.corridors.axes.origin, abs=1e-6
    )
    assert there.gauge + there.seats.seat == pytest.approx(here.gauge + here.seats.seat, abs=TURNED)
    agree(here, there, around(bone, zone))


@given(seeds)
@few
def test_head_and_tip_swapped_swaps_near_and_far(seed):
    start, direction = lines(seed)
    there, back = screws_at(start, direction), screws_at(start + 100 * direction, -direction)
    exits = there.corridors.axes.at(there.corridors.exit)
    assert back.corridors.axes.origin == pytest.approx(exits, abs=1e-6)
    assert back.corridors.exit == pytest.approx(there.corridors.exit, abs=1e-6)
    assert back.walls.near == pytest.approx(there.walls.far, abs=1e-6)
    assert back.walls.far == pytest.approx(there.walls.near, abs=1e-6)
    swapped = there.corridors.exit - there.crossing.axis
    assert back.crossing.axis == pytest.approx(swapped, abs=1e-6)
    assert back.crossing.tilt == pytest.approx(there.crossing.tilt, abs=1e-5)
    assert np.array_equal(back.crossing.inside, there.crossing.inside)
    fine, turned = (
        screws_at(start, direction, ring=FINE),
        screws_at(start + 100 * direction, -direction, ring=FINE),
    )
    assert turned.entry_angle == pytest.approx(fine.exit_angle, abs=0.5)
    deep = fine.corridors.exit - np.nanmin(fine.corridors.line_entry, axis=1)
    assert turned.corridors.deepest_exit == pytest.approx(deep, abs=TURNED)


@given(seeds)
@few
def test_a_model_in_metres_equals_the_same_in_millimetres(seed):
    vertices, faces = MESH
    bone = make_bone(as_surface((vertices / 1000.0, faces), "m"))
    start, direction = lines(seed)
    here = screws_at(start, direction)
    there = screws_at(start, direction, bone=bone, zone=zone_of(bone, POINT, NORMAL))
    same(there, here, ROW_BY_ROW, 1e-6)


@given(seeds)
@few
def test_a_finer_ring_only_deepens_the_gauge_and_widens_the_fracture(seed):
    start, direction = lines(seed)
    coarse, fine = (screws_at(start, direction, ring=k) for k in (8, 16))
    assert (fine.gauge >= coarse.gauge - 1e-9).all()
    assert (fine.crossing.deep >= coarse.crossing.deep - 1e-9).all()
    assert (fine.crossing.shallow <= coarse.crossing.shallow + 1e-9).all()
    assert (fine.gauge > coarse.gauge + 1e-6).any()
    assert fine.crossing.axis == pytest.approx(coarse.crossing.axis, abs=1e-12, nan_ok=True)


@given(seeds, st.integers(0, N - 1))
@few
def test_one_axis_alone_is_what_it_is_in_the_batch(seed, row):
    start, direction = lines(seed)
    many = arrays(screws_at(start, direction))
    one = arrays(screws_at(start[row : row + 1], direction[row : row + 1]))
    for name in ROW_BY_ROW:
        assert one[name][0] == pytest.approx(many[name][row], abs=1e-9, nan_ok=True), name


@given(seeds)
@few
def test_shuffled_axes_are_shuffled_answers(seed):
    start, direction = lines(seed)
    order = np.random.default_rng(seed).permutation(N)
    here, there = screws_at(start, direction), screws_at(start[order], direction[order])
    left, right = arrays(here), arrays(there)
    for name in ROW_BY_ROW:
        assert right[name] == pytest.approx(left[name][order], abs=1e-9, nan_ok=True), name
    first, second = verdicts(here), verdicts(there)
    assert {r: words(second[r]) for r in second} == {
        r: [words(first[r])[i] for i in order] for r in first
    }


#: Which way each limit gets stricter.
UP = {
    "thread_margin", "turns_least", "turns_wanted", "tip_least", "edge_least", "edge_wanted",
    "rim_contact", "rim_least", "guide_length", "screw_gap", "screw_spacing", "support_least",
    "support_wanted", "along_angle", "plunge", "plunge_least",
}  # fmt: skip
DOWN = {
    "friction", "friction_most", "max_tilt", "near_thread", "tip_most", "tip_worst", "breach",
    "entry_angle", "entry_angle_noted", "entry_angle_most", "exit_angle", "exit_angle_most",
    "along_length", "along_most", "bone_share", "bone_share_most",
}  # fmt: skip
#: Settings of the trajectory or of wires, and the width of the guide, which moves the place
#: where it rests: no rule of a screw compares with them.
OTHER = {
    "tip_past", "tip_short", "tip_spare", "countersink_share", "guide_diameter", "thread_clear",
    "turns_soft",
}  # fmt: skip
#: Limits of wires, of plates, of screws aimed off the fracture, of axes parallel to a joint, of
#: forces, and of the plan as a whole.
NOT_OF_A_SCREW = (
    "plate", "growth_plate", "wire", "parallel", "alone", "one_approach", "overlap", "holding",
    "contact_share", "placement", "fragment", "transverse", "aim",
)  # fmt: skip


def test_every_limit_is_placed():
    names = {f.name for f in fields(Limits) if not f.name.startswith(NOT_OF_A_SCREW)}
    assert names == UP | DOWN | OTHER


@pytest.mark.parametrize("name", sorted(UP | DOWN))
@pytest.mark.parametrize("factor", [1.3, 4.0])
def test_a_stricter_limit_never_turns_a_fail_into_a_pass(name, factor):
    screws = crowd()
    usual = Limits()
    value = getattr(usual, name)
    strict = replace(usual, **{name: value * factor if name in UP else value / factor})
    for judge in (
        lambda limits: screw_rulings(screws, limits, AROUND),
        lambda limits: pair_rulings(screws, limits),
    ):
        for before, after in zip(judge(usual), judge(strict), strict=True):
            assert (after.verdict >= before.verdict).all(), before.rule


@pytest.mark.parametrize("name", ["max_tilt", "turns_least", "edge_wanted", "entry_angle"])
def test_a_stricter_limit_bites(name):
    screws = crowd()
    value = getattr(Limits(), name)
    strict = replace(Limits(), **{name: value * 4 if name in UP else value / 4})
    before, after = (
        sum(int(r.verdict.sum()) for r in screw_rulings(screws, limits, AROUND))
        for limits in (Limits(), strict)
    )
    assert after > before


@given(seeds)
@few
def test_another_obstacle_never_raises_a_clearance(seed):
    rng = np.random.default_rng(seed)
    first = sphere(4.0, 1, centre=rng.uniform(-30, 30, 3) + POINT)
    corner = rng.uniform(-30, 30, 3) + POINT
    second = box(corner, corner + rng.uniform(1, 20, 3))
    vertices = np.concatenate([first[0], second[0]])
    both = vertices, np.concatenate([first[1], second[1] + len(first[0])])
    screws = screws_at(*lines(seed))
    one, two, union = (clearance(screws, obstacle(m)) for m in (first, second, both))
    want = np.minimum(one.measured, two.measured)
    assert union.measured == pytest.approx(want, abs=1e-9, nan_ok=True)
    assert words(too_near(screws, obstacle(both))) == words(union)
