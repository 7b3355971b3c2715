"""Holding strength from engaged lengths: range, unknowns, planned screws in whole bones."""

import numpy as np
import pytest
from specimens import box, pipe, tube

from trajplan.bone import as_surface, make_bone
from trajplan.errors import DegenerateError
from trajplan.fracture import fracture_from_plane
from trajplan.implants import find_screw, load_catalogue
from trajplan.mechanics import (
    Engaged,
    engaged,
    find_bone_class,
    holding,
    pull_out,
    thread_shape_factor,
    trajectory_holding,
)
from trajplan.trajectory import (
    Axes,
    Settings,
    Technique,
    Within,
    dimensions,
    everywhere,
    plan_trajectories,
)

HA45 = (4.5, 3.0, 1.75)


def lengths(cortical=0.0, cancellous=0.0, untold=0.0):
    return Engaged(
        *(np.array([float(v)]) for v in (cortical, cancellous, untold)), np.zeros(1, bool)
    )


def planned(mesh, kind, cortex, point=(0, 0, 50), origin=(-60, 0, 50), within=Within.MARROW):
    """One screw along x through a bone broken across x."""
    bone = make_bone(as_surface(mesh))
    screw = find_screw(load_catalogue(), kind)
    zones = fracture_from_plane(bone, point, (1, 0, 0)).zones
    technique = Technique.PARTIAL if screw.partial else Technique.GLIDING
    return plan_trajectories(
        bone,
        Axes.along([origin], [(1, 0, 0)]),
        dimensions([screw], np.zeros(1, dtype=np.int64)),
        zones,
        zone=np.zeros(1, dtype=np.int64),
        technique=np.array([int(technique)]),
        bicortical=np.ones(1, dtype=bool),
        settings=Settings(cortex=cortex, inside=everywhere(within)),
    )


BLOCK = box((-15, -15, 0), (15, 15, 100))


def test_limits_of_the_thread_shape_factor():
    # By hand: no thread depth leaves half the cylinder; d = p gives 0.5 + tan 30°.
    assert thread_shape_factor(4.0, 4.0 - 1e-9, 1.0) == pytest.approx(0.5, abs=1e-8)
    assert thread_shape_factor(6.0, 4.0, 1.0) == pytest.approx(0.5 + np.tan(np.pi / 6), abs=1e-5)


def test_thread_with_no_bone_is_unknown_not_zero():
    assert np.isnan(pull_out(68.0, 0.0, *HA45))
    hold = holding([lengths()] * 3, find_bone_class("normal"), *HA45)
    assert np.isnan([hold.low, hold.estimate, hold.high]).all()


def test_unknown_length_stays_unknown():
    assert np.isnan(pull_out(68.0, np.nan, *HA45))


@pytest.mark.parametrize(
    "bad",
    [
        {"shear_strength": 0.0},
        {"shear_strength": np.nan},
        {"length": -1.0},
        {"core": 4.5},
        {"pitch": 0.0},
        {"thread": np.inf},
    ],
)
def test_impossible_screw_or_bone(bad):
    good = {"shear_strength": 68.0, "length": 5.0, "thread": 4.5, "core": 3.0, "pitch": 1.75}
    with pytest.raises(DegenerateError):
        pull_out(**(good | bad))


def test_two_materials_add_up():
    bone_class = find_bone_class("normal")
    hold = holding([lengths(4.0, 10.0)] * 3, bone_class, *HA45)
    for bound in ("low", "estimate", "high"):
        hard = pull_out(getattr(bone_class.cortical.shear, bound), 4.0, *HA45)
        soft = pull_out(getattr(bone_class.cancellous.shear, bound), 10.0, *HA45)
        assert getattr(hold, bound)[0] == pytest.approx(hard + soft)


def test_untold_bone_is_soft_until_the_upper_bound():
    bone_class = find_bone_class("normal")
    hold = holding([lengths(untold=10.0)] * 3, bone_class, *HA45)
    assert hold.low[0] == pytest.approx(pull_out(bone_class.cancellous.shear.low, 10.0, *HA45))
    assert hold.high[0] == pytest.approx(pull_out(bone_class.cortical.shear.high, 10.0, *HA45))


def test_strength_that_no_source_gives():
    hold = holding([lengths(5.0)] * 3, find_bone_class("foam 12"), *HA45)
    assert np.isnan(hold.estimate).all()


def test_modelled_canal_counts_the_far_wall():
    # Axis through the middle of a pipe 14 / 9: the far wall is 5 mm on the axis, and on
    # ring lines at y the chord between the two circles.
    screw = planned(pipe(14.0, 9.0, 100.0, 512), "HA4.5", None)
    found = engaged(screw)
    y = 2.25 * np.sin(2 * np.pi * np.arange(16) / 16)
    wall = np.mean(np.sqrt(14**2 - y**2) - np.sqrt(9**2 - y**2))
    assert found.cortical[0] == pytest.approx(wall, abs=2e-3)
    assert (found.cancellous[0], found.untold[0]) == (0.0, 0.0)
    assert not found.assumed[0]


@pytest.mark.parametrize("kind", ["HA4.5", "HB6.5"])
def test_in_a_shaft_any_thread_holds_in_the_assumed_cortex_alone(kind):
    screw = planned(BLOCK, kind, 4.0)
    found = engaged(screw)
    assert found.cortical[0] == pytest.approx(4.0)
    assert found.cancellous[0] == 0.0
    assert found.assumed[0]
    assert engaged(screw, 1.25).cortical[0] == pytest.approx(5.0)


@pytest.mark.parametrize("kind", ["HA4.5", "HB6.5"])
def test_in_a_bone_end_any_thread_holds_inside_the_assumed_cortex_too(kind):
    screw = planned(BLOCK, kind, 2.0, within=Within.CANCELLOUS)
    found = engaged(screw)
    thread = 15.0 - max(0.0, float(screw.bite_from[0] - 15.0))
    assert found.cortical[0] == pytest.approx(2.0)
    assert found.cancellous[0] == pytest.approx(thread - 2.0)


def test_where_the_place_does_not_tell_marrow_is_the_low_end_and_cancellous_bone_the_high():
    hold = [
        trajectory_holding(planned(BLOCK, "HA4.5", 4.0, within=within), find_bone_class("normal"))
        for within in (Within.MARROW, Within.UNTOLD, Within.CANCELLOUS)
    ]
    marrow, untold, cancellous = hold
    assert untold.low == marrow.low
    assert untold.estimate == marrow.estimate
    assert untold.high == cancellous.high > marrow.high


def test_range_covers_the_assumed_cortex():
    screw, bone_class = planned(BLOCK, "HA4.5", 4.0), find_bone_class("normal")
    hold = trajectory_holding(screw, bone_class)
    assert hold.low[0] == pytest.approx(pull_out(bone_class.cortical.shear.low, 3.0, *HA45))
    assert hold.estimate[0] == pytest.approx(
        pull_out(bone_class.cortical.shear.estimate, 4.0, *HA45)
    )
    assert hold.high[0] == pytest.approx(pull_out(bone_class.cortical.shear.high, 5.0, *HA45))


def test_near_cortex_beyond_the_fracture_counts():
    """The fracture runs 2 mm under the surface, inside a near cortex of 4 (or 5) mm."""
    screw = planned(BLOCK, "HA4.5", 4.0, point=(-13, 0, 50))
    assert engaged(screw).cortical[0] == pytest.approx(2.0 + 4.0)
    assert engaged(screw, 1.25).cortical[0] == pytest.approx(3.0 + 5.0)


def test_solid_end_of_a_bone_with_a_canal_is_untold():
    """No canal shows where the axis runs, so nothing tells cortex from soft bone there."""
    screw = planned(tube(14.0, 9.0, 100.0, 512, wall=40.0), "HA4.5", None, (0, 0, 20), (-60, 0, 20))
    found = engaged(screw)
    assert np.isnan([found.cortical[0], found.cancellous[0], found.untold[0]]).all()


def test_nothing_known_of_the_inside_is_unknown():
    found = engaged(planned(BLOCK, "HA4.5", None))
    assert np.isnan([found.cortical, found.cancellous, found.untold]).all()
    hold = trajectory_holding(planned(BLOCK, "HA4.5", None), find_bone_class("normal"))
    assert np.isnan([hold.low, hold.estimate, hold.high]).all()


def test_axis_that_misses_is_unknown():
    screw = planned(BLOCK, "HA4.5", 4.0, origin=(-60, 40, 50))
    assert np.isnan(trajectory_holding(screw, find_bone_class("normal")).estimate).all()
