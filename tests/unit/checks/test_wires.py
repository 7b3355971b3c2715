"""Rules for provisional wires, on a slab where every distance is known."""

import numpy as np
import pytest
from builders import in_slab, level, obstacle, slab, wires
from specimens import box

from trajplan.checks import (
    Limits,
    Verdict,
    wire_clear,
    wire_clearance,
    wire_hold,
    wire_path,
    wire_tilt,
)
from trajplan.trajectory import Axes, plan_wires


def test_path_of_a_wire_is_that_of_the_slab():
    paths = wires(angle=20.0)
    slope = 1.0 / np.cos(np.radians(20.0))
    assert paths.corridors.exit == pytest.approx([20.0 * slope])
    assert paths.crossing.axis == pytest.approx([8.0 * slope])
    assert paths.near == pytest.approx([8.0 * slope])
    assert paths.far == pytest.approx([12.0 * slope])
    assert paths.entry_angle == pytest.approx([20.0])
    start, end = wire_path(paths, Limits())
    assert np.linalg.norm(end - start) == pytest.approx(60.0 + 20.0 * slope)


@pytest.mark.parametrize(
    ("angle", "verdict"), [(0.0, Verdict.PASS), (30.0, Verdict.PASS), (31.0, Verdict.NOTE)]
)
def test_tilt(angle, verdict):
    ruling = wire_tilt(wires(angle=angle), Limits())
    assert ruling.verdict[0] == verdict
    assert ruling.measured == pytest.approx([angle])


@pytest.mark.parametrize(
    ("fracture", "verdict"), [(5.0, Verdict.PASS), (4.9, Verdict.FAIL), (15.1, Verdict.FAIL)]
)
def test_hold_counts_the_weaker_side(fracture, verdict):
    ruling = wire_hold(wires(fracture=fracture), Limits())
    assert ruling.verdict[0] == verdict
    assert ruling.measured == pytest.approx([min(fracture, 20.0 - fracture)])


def test_wire_that_does_not_cross_the_fracture_fails_to_hold():
    paths = wires(fracture=8.0)
    lost = plan_wires(
        slab(20.0),
        Axes.along(paths.corridors.axes.origin, paths.corridors.axes.direction),
        np.array([1.6]),
        (level(slab(20.0), 8.0),),
        np.array([0]),
    )
    crossing = type(lost.crossing)(
        lost.crossing.lines, np.array([False]), lost.crossing.tilt, lost.crossing.zone,
        lost.crossing.bound, lost.crossing.on_patch,
    )  # fmt: skip
    astray = type(lost)(
        lost.corridors, crossing, lost.diameter, lost.entry_angle, lost.near, lost.far
    )
    assert wire_hold(astray, Limits()).verdict[0] == Verdict.FAIL
    assert wire_tilt(astray, Limits()).verdict[0] == Verdict.UNKNOWN


def test_clear_of_screw_counts_head_and_drill_guide():
    # The guide (8 mm) and the head (8 mm) are the widest: 10 - 4 - 0.8 = 5.2 mm are left.
    screws = in_slab(20.0, 8.0)
    ruling = wire_clear(wires(x=(10.0, 5.7, 5.9)), screws, Limits())
    assert ruling.measured == pytest.approx([5.2, 0.9, 1.1])
    assert ruling.verdict.tolist() == [Verdict.PASS, Verdict.FAIL, Verdict.PASS]


def test_no_screws_leave_every_wire_clear():
    ruling = wire_clear(wires(), in_slab(20.0, 8.0, x=()), Limits())
    assert ruling.verdict[0] == Verdict.PASS


def test_clearance_is_exact_along_the_whole_wire_outside_too():
    # A block whose nearest face stands 7 mm beside the wire, 40 mm above the bone.
    block = obstacle(box((7, -5, 40), (17, 5, 45)), role="avoid", clearance=6.2)
    ruling = wire_clearance(wires(), block, Limits())
    assert ruling.measured == pytest.approx([7.0 - 0.8])
    assert ruling.verdict[0] == Verdict.PASS
    near = wire_clearance(wires(x=(0.1,)), block, Limits())
    assert near.verdict[0] == Verdict.FAIL
    assert near.rule == "avoid_clearance"


def test_what_a_wire_overlaps_is_told_as_an_overlap():
    """Through a screw's guide (4 - 0.8 - 2 mm aside), and through the middle of a block."""
    meets, near = wire_clear(wires(x=(2.0, 5.7)), in_slab(20.0, 8.0), Limits()).findings("ab")
    assert meets.measured == pytest.approx(-2.8)
    assert "they overlap by 2.8 mm, 1.0 mm between them" in meets.why
    assert "0.9 mm between them" in near.why
    block = obstacle(box((0.5, -5, 40), (17, 5, 45)), role="avoid", clearance=6.2)
    beside = wire_clearance(wires(x=(0.0, -5.0)), block, Limits())
    cuts, stays = beside.findings("ab")
    assert cuts.measured == pytest.approx(-0.3)
    assert cuts.why == "The wire cuts 0.3 mm into joint; 6.2 mm must be kept clear."
    assert "comes within 4.7 mm of joint" in stays.why
