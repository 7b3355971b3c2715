"""Forces of screws: what a seat that gives way leaves, and how a curved fracture splits them."""

import numpy as np
import pytest
from builders import grid, in_slab, level, screw, slab

from trajplan.checks import Limits, Surroundings
from trajplan.fracture import zones_from_patch
from trajplan.mechanics import find_bone_class
from trajplan.planner._head_limit import head_limit
from trajplan.planner._strength import screw_forces
from trajplan.planner._tightening import HANDS, tightening_of, turns_to_hold
from trajplan.trajectory import Within, everywhere, head_footprint

HEAD = np.pi * (4.0**2 - 2.25**2)  # mm² of an 8 mm head over a gliding hole of 4.5 mm


def forces(screws, zones, bone_class="normal"):
    return screw_forces(screws, Surroundings(slab(), zones, (), None), find_bone_class(bone_class))


def test_a_head_on_sound_cortex_bears_all_that_hands_tighten_to():
    found = forces(in_slab(cortex=8.0), (level(slab(), 8.0),))
    assert found.preload.estimate == pytest.approx(found.aimed.estimate)
    assert found.bearing.use.high[0] < 1.0


def test_each_screw_is_tightened_to_what_its_own_core_bears():
    """By hand: 1312 N·mm times the cube of the core over 2.4 mm, over p/2π + 0.3 (r_t + r_h)."""
    for kind, core, arm in (
        ("HA1.5", 1.1, 0.5 / (2 * np.pi) + 0.3 * (2.6 + 4.5) / 4),
        ("HA4.5", 3.0, 1.75 / (2 * np.pi) + 0.3 * (7.5 + 12.5) / 4),
    ):
        found = forces(in_slab(cortex=8.0, kind=kind), (level(slab(), 8.0),))
        assert found.preload.estimate == pytest.approx(1312 * (core / 2.4) ** 3 / arm)


def test_a_head_turns_on_the_rim_of_the_hole_that_is_drilled():
    """HB4.0 without a washer: a hole of 2.5 mm is drilled, not one of its core of 1.9."""
    found = forces(in_slab(60.0, 20.0, cortex=1.5, kind="HB4.0"), (level(slab(60.0), 20.0),))
    arm = 1.75 / (2 * np.pi) + 0.3 * ((4.0 + 1.9) / 4 + (6.0 + 2.5) / 4)
    assert found.aimed.estimate == pytest.approx(1312 * (1.9 / 2.4) ** 3 / arm)


def test_the_torque_and_friction_of_a_case():
    screws, zones = in_slab(cortex=8.0), (level(slab(), 8.0),)
    around = Surroundings(slab(), zones, (), None)
    given = tightening_of(1.0, 0.25)
    found = screw_forces(screws, around, find_bone_class("normal"), given)
    arm = 1.75 / (2 * np.pi) + 0.25 * (7.5 + 12.5) / 4
    assert found.preload.estimate == pytest.approx(1000 / arm)
    assert (given.friction.low, given.friction.high) == (0.2, 0.4)
    assert tightening_of(None, 0.5).friction.high == 0.5


def test_poor_bone_asks_for_more_thread():
    """By hand, HB6.5: a fifth of its force over 17.71 mm²/mm, the shear strength and the pitch."""
    kind = screw("HB6.5")
    arm = 2.75 / (2 * np.pi) + 0.3 * (9.5 + 14.5) / 4
    force = 0.2 * 1312 * (3.0 / 2.4) ** 3 / arm
    for name in ("normal", "poor"):
        bone = find_bone_class(name)
        wanted = force / (17.713 * bone.cancellous.shear.estimate * 2.75)
        found = turns_to_hold([kind, screw("HA4.5")], bone, Limits(), HANDS)
        assert found == pytest.approx(wanted, rel=1e-3)
    assert (
        found
        > Limits().turns_soft
        > turns_to_hold([kind], find_bone_class("normal"), Limits(), HANDS)
    )
    assert turns_to_hold([kind], find_bone_class("foam 12"), Limits(), HANDS) == 0.0


BLIND = {"kind": "HB6.5", "hold": "unicortical", "thickness": 60.0, "fracture": 25.0}


def test_what_lies_there_counts_and_not_the_thread():
    """A 6.5 mm screw in a cortex of 8 mm: before, soft bone bore its head and held its thread."""
    zones = (level(slab(60.0), 25.0),)
    screws = in_slab(cortex=8.0, inside=everywhere(Within.MARROW), **BLIND | {"hold": "bicortical"})
    found = screw_forces(
        screws, Surroundings(slab(60.0), zones, (), None), find_bone_class("normal")
    )
    cortex = find_bone_class("normal").cortical.compression
    assert found.bearing.use.estimate[0] == pytest.approx(
        found.preload.estimate[0] / (found.bearing.area[0] * cortex.estimate)
    )
    assert found.bearing.use.estimate[0] < 1.0


def test_a_thin_wall_bears_until_it_is_punched_through():
    """By hand: π d t τ, and in a bone end the cancellous bone below; d of a ring as large."""
    bone = find_bone_class("normal")
    found = {}
    for within in Within:
        screws = in_slab(cortex=0.5, inside=everywhere(within), **BLIND)
        area = head_footprint(slab(60.0), screws)
        found[within] = head_limit(screws, area, bone)
        hole = screws.holes.gliding
    edge = np.sqrt(hole**2 + 4 * area / np.pi)
    plug = np.pi * edge * 0.5 * bone.cortical.shear.estimate
    soft = area * bone.cancellous.compression.estimate
    assert found[Within.MARROW].estimate == pytest.approx(plug)
    assert found[Within.CANCELLOUS].estimate == pytest.approx(plug + soft)
    assert found[Within.UNTOLD].estimate == pytest.approx(plug)
    assert found[Within.UNTOLD].high == pytest.approx(found[Within.CANCELLOUS].high)
    thinner = np.pi * edge * 0.375 * bone.cortical.shear.low  # an assumed wall may be thinner
    assert found[Within.MARROW].low == pytest.approx(thinner)


def test_a_head_on_a_wall_that_nobody_knows_is_untold():
    screws = in_slab(inside=everywhere(Within.CANCELLOUS), **BLIND)
    bone, area = find_bone_class("normal"), np.array([30.0])
    found = head_limit(screws, area, bone)
    assert np.isnan(found.estimate).all()
    assert found.low == pytest.approx(30.0 * bone.cancellous.compression.low)
    assert found.high == pytest.approx(30.0 * bone.cortical.compression.high)


def test_a_head_that_sinks_holds_what_its_seat_bears_and_no_more():
    """By hand: foam of grade 10 under 34 mm² of head; the thread alone would pull more."""
    screws, zones = in_slab(cortex=8.0), (level(slab(), 8.0),)
    found = forces(screws, zones, "foam 10")
    strength = find_bone_class("foam 10").cortical.compression
    assert found.bearing.area[0] == pytest.approx(HEAD, rel=0.02)
    for bound in ("estimate", "high"):  # at the low end the thread gives way first
        seat = found.bearing.area[0] * getattr(strength, bound)
        assert getattr(found.preload, bound)[0] == pytest.approx(seat)
        assert getattr(found.squeeze, bound)[0] == pytest.approx(seat)
    pull = found.bearing.pressure.estimate * found.bearing.area
    assert pull[0] > found.preload.estimate[0]
    assert found.bearing.use.estimate[0] == pytest.approx(pull[0] / found.preload.estimate[0])
    assert found.bearing.use.estimate[0] > 1.0


def test_the_surface_splits_the_force_and_not_the_plane_of_its_zone():
    """A bowl, level at x = 0 and 24 degrees steep at x = 12; its zone's plane is level."""
    zones, _ = zones_from_patch(
        None, grid(lambda x, _: -8.0 - np.tan(np.radians(24.0)) * x**2 / 24.0, 61, 60.0), most=1
    )
    found = forces(in_slab(zones=zones, x=[0.0, 12.0], cortex=8.0), zones)
    share = found.shear.estimate / found.preload.estimate
    assert share == pytest.approx(np.sin(np.radians([0.0, 24.0])), abs=0.01)
    assert np.hypot(found.squeeze.high, found.shear.high) == pytest.approx(found.preload.high)


def test_a_plane_splits_it_by_its_own_normal():
    zones = (level(slab(), 8.0),)
    found = forces(in_slab(angle=15.0, cortex=8.0), zones)
    assert found.shear.low / found.preload.low == pytest.approx(np.sin(np.radians(15.0)))
