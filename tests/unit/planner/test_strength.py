"""Forces of screws: what a seat that gives way leaves, and how a curved fracture splits them."""

import numpy as np
import pytest
from builders import grid, in_slab, level, slab

from trajplan.checks import Surroundings
from trajplan.fracture import zones_from_patch
from trajplan.mechanics import LAG_FORCE, find_bone_class
from trajplan.planner._strength import screw_forces

HEAD = np.pi * (4.0**2 - 2.25**2)  # mm² of an 8 mm head over a gliding hole of 4.5 mm


def forces(screws, zones, bone_class="normal"):
    return screw_forces(screws, Surroundings(slab(), zones, (), None), find_bone_class(bone_class))


def test_a_head_on_sound_cortex_bears_all_that_is_published():
    found = forces(in_slab(cortex=8.0), (level(slab(), 8.0),))
    assert found.preload.low[0] == pytest.approx(LAG_FORCE[0])
    assert found.bearing.use.high[0] < 1.0


def test_a_head_that_sinks_holds_what_its_seat_bears_and_no_more():
    """By hand: foam of grade 10 under 34 mm² of head; the thread alone would pull more."""
    screws, zones = in_slab(cortex=8.0), (level(slab(), 8.0),)
    found = forces(screws, zones, "foam 10")
    strength = find_bone_class("foam 10").cortical.compression
    assert found.bearing.area[0] == pytest.approx(HEAD, rel=0.02)
    for bound in ("low", "estimate", "high"):
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
