"""Surfaces between two fragments: pressed as one, named, and opened by a load."""

import math
from dataclasses import replace

import numpy as np
import pytest
from builders import case_of
from shaft_case import MESHES
from specimens import tube

from trajplan.checks import Limits, Verdict
from trajplan.files import AxesTable, read_case
from trajplan.files._case import MechanicsCase, PlacementCase
from trajplan.mechanics import OpeningLoad, Range, clamp_load, opening_load, shaft_load
from trajplan.planner import check_axes, plan_case, plan_record
from trajplan.planner._outlook import outlook
from trajplan.planner._outlook_surfaces import open_by_load, where_of
from trajplan.planner._pressing import friction_range, press
from trajplan.planner._setup import set_up
from trajplan.planner._strength import screw_forces
from trajplan.trajectory import Technique

BENDING = {"bending": 2000.0, "bending_axis": (1.0, 0.0, 0.0)}


def demo(name, **mechanics):
    """A demonstration case without draws, under a load."""
    case = read_case(MESHES / f"{name}.toml")
    changed = {"placement": PlacementCase(draws=0), "mechanics": MechanicsCase(**mechanics)}
    return case.model_copy(update=changed)


@pytest.fixture(scope="module")
def spiral():
    return plan_case(demo("spiral", **BENDING))


@pytest.fixture(scope="module")
def shaft():
    return plan_case(case_of(), bone=tube(sides=32))


def rule(plan, name):
    (found,) = [finding for finding in plan.findings if finding.rule == name]
    return found


def test_a_spiral_is_pressed_as_one_surface(spiral):
    (region,) = spiral.setup.regions
    (surface,) = spiral.outlook.pressing.surfaces
    held = set(spiral.assessment.screws.crossing.zone.tolist())
    assert region.zones.tolist() == [0, 1, 2, 3, 4, 5]
    assert len(held) < len(region.zones)
    assert surface.solved
    bare = [row for row in region.zones if row not in held]
    pressed = [surface.contact.pressure[region.of_zone(row)].max() for row in bare]
    assert max(pressed) > 0.0  # a zone that holds no screw is pressed by the others'


def test_the_shares_of_the_zones_add_up(spiral):
    contact = plan_record(spiral).contact
    (surface,) = contact.surfaces
    (region,) = spiral.setup.regions
    areas = [region.areas[region.of_zone(row)].sum() for row in region.zones]
    shares = [part.share for part in surface.by_zone]
    assert [part.zone for part in surface.by_zone] == list(surface.zones)
    assert np.dot(shares, areas) == pytest.approx(surface.share * sum(areas), rel=1e-5)
    assert contact.share == surface.share
    assert contact.force == surface.force
    assert contact.peak == surface.peak == max(part.peak for part in surface.by_zone)
    assert surface.screws == 3
    spot = np.linalg.norm(region.points - np.array(surface.peak_at), axis=1).argmin()
    found = spiral.outlook.pressing.surfaces[0].contact
    assert found.pressure[spot] == pytest.approx(surface.peak, abs=1e-6)


def test_a_load_opens_the_surface_whatever_zone_the_screws_cross(spiral):
    """No screw of this plan need cross the first zone."""
    opening = plan_record(spiral).opening_load
    finding = rule(spiral, "opening_load")
    assert opening.unknown == ""
    assert opening.low <= (opening.high or math.inf)
    assert finding.measured == pytest.approx(opening.low, abs=1e-6)
    twice = spiral.setup.case.mechanics.model_copy(update={"bending": 4000.0})
    setup = replace(spiral.setup, case=spiral.setup.case.model_copy(update={"mechanics": twice}))
    view = spiral.outlook
    half = open_by_load(setup, spiral.assessment.screws, view.forces, view.pressing)
    assert half.load.low == pytest.approx(opening.low / 2, rel=1e-3)


def test_the_least_load_is_that_of_screws_tightened_to_the_least(spiral):
    """All of them to the same share of the estimate: pressed anew with those forces."""
    view, screws = spiral.outlook, spiral.assessment.screws
    known = view.forces.preload
    share = float(np.min(known.low / known.estimate))
    weak = replace(view.forces, preload=Range(known.low, share * known.estimate, known.high))
    pressing = press(screws, weak, spiral.setup.regions, friction_range(Limits(friction=0.4)))
    anew = open_by_load(spiral.setup, screws, weak, pressing)
    assert 0.5 < share < 0.7  # 80 % of the torque, against 0.4 in place of 0.3 of friction
    assert plan_record(spiral).opening_load.least == pytest.approx(anew.load.low, rel=1e-3)


def test_no_load_no_word_of_it(shaft):
    assert plan_record(shaft).opening_load is None
    assert not [finding for finding in shaft.findings if finding.rule == "opening_load"]


def test_a_load_without_a_shaft_cannot_be_told():
    setup = set_up(demo("end", axial=500.0))
    screws = plan_case(demo("end")).assessment.screws
    view = outlook(setup, screws, ("screw 1", "screw 2"), placement=False)
    assert view.opening.load is None
    (finding,) = [f for f in view.findings(screws, setup) if f.rule == "opening_load"]
    assert finding.verdict is Verdict.UNKNOWN
    assert "shaft" in finding.why


@pytest.mark.parametrize("how", ["position", "unknown"])
def test_a_load_on_screws_that_do_not_press_cannot_be_told(shaft, how):
    mechanics = MechanicsCase(axial=500.0)
    setup = replace(shaft.setup, case=shaft.setup.case.model_copy(update={"mechanics": mechanics}))
    screws = shaft.assessment.screws
    if how == "position":
        screws = replace(screws, technique=np.full(len(screws), int(Technique.POSITION)))
    forces = screw_forces(screws, setup.around, setup.bone_class)
    if how == "unknown":
        forces = replace(forces, preload=Range(*(np.full(len(screws), np.nan),) * 3))
    pressing = press(screws, forces, setup.regions, friction_range(Limits(friction=0.4)))
    assert not pressing.known
    assert np.isnan([pressing.force, pressing.area, pressing.peak, pressing.mean]).all()
    found = open_by_load(setup, screws, forces, pressing)
    assert found.load is None
    assert "no lag screw" in found.why


def test_a_load_on_a_surface_without_a_screw_cannot_be_told():
    """Of the wedge's three surfaces two are pressed: nothing holds the third."""
    plan = plan_case(demo("wedge", axial=1.0))
    view, screws = plan.outlook, plan.assessment.screws
    two = np.flatnonzero(screws.crossing.zone > 0)
    some, forces = screws.take(two), view.forces.take(two)
    pressing = press(some, forces, plan.setup.regions, friction_range(Limits(friction=0.4)))
    found = open_by_load(plan.setup, some, forces, pressing)
    assert found.load is None
    assert found.why.startswith("no lag screw presses the fracture between wedge_lower.stl and")


def test_every_factor_is_the_least_of_all_surfaces(monkeypatch):
    """One surface opens late and slides soon, another the other way round: both count."""
    plan = plan_case(demo("wedge", axial=1.0))
    view = plan.outlook
    loads = iter([OpeningLoad(5.0, 0.8, 1.0, 1.5), OpeningLoad(0.95, 0.9, 2.0, 3.0),
                  OpeningLoad(9.0, 9.0, 9.0, 9.0)])  # fmt: skip
    monkeypatch.setattr(
        "trajplan.planner._outlook_surfaces.opening_load", lambda *_, **__: next(loads)
    )
    found = open_by_load(plan.setup, plan.assessment.screws, view.forces, view.pressing)
    assert (found.load.low, found.load.high) == (0.8, 0.95)
    assert "wedge_lower.stl and wedge_upper.stl" in found.where


def test_surfaces_are_named_where_there_are_several(spiral):
    assert where_of(spiral.setup, [0, 1, 2]) == ""
    wedge = set_up(demo("wedge"))
    assert [region.zones.tolist() for region in wedge.regions] == [[0], [1], [2]]
    assert where_of(wedge, [1]) == " between wedge_lower.stl and wedge_piece.stl"


def test_what_strips_a_thread_is_holding_times_the_arm_of_the_torque(shaft):
    """Torque for each newton by hand, screw mechanics; N·m."""
    forces, screws = shaft.outlook.forces, shaft.assessment.screws
    dims = screws.dims
    for mu, hold, torque in (
        (0.2, forces.holding.low, forces.stripping.low),
        (0.3, forces.holding.estimate, forces.stripping.estimate),
        (0.4, forces.holding.high, forces.stripping.high),
    ):
        in_thread = dims.pitch / (2 * np.pi) + mu * (dims.thread + dims.core) / 4
        under_head = mu * (dims.head + screws.holes.gliding) / 4
        assert torque == pytest.approx(hold * (in_thread + under_head) / 1000.0)
    record = plan_record(shaft)
    assert record.screws[0].stripping_torque.low == pytest.approx(forces.stripping.low[0], abs=1e-6)
    assert record.screws[0].head_area == pytest.approx(forces.bearing.area[0], abs=1e-6)
    assert any("80 %" in line for line in record.assumptions)


@pytest.fixture(scope="module")
def wedge():
    """Three surfaces, a lag screw square to each."""
    case = demo("wedge", **BENDING)
    zones = set_up(case).fracture.zones
    point = np.array([zone.plane.point for zone in zones])
    way = np.array([zone.plane.normal for zone in zones])
    rows = tuple(range(len(zones)))
    names = tuple(zone.id for zone in zones)
    kinds, lag = ("HA3.5",) * len(zones), ("lag",) * len(zones)
    table = AxesTable(names, kinds, lag, point - 60.0 * way, point + 60.0 * way, rows)
    return check_axes(case, table)


def test_the_surface_that_gives_way_first_is_named(wedge):
    """Each surface against the load by itself; what the plan says is the least of them."""
    setup, view, screws = wedge.setup, wedge.outlook, wedge.assessment.screws
    friction = friction_range(setup.limits)
    assert [surface.screws.tolist() for surface in view.pressing.surfaces] == [[0], [1], [2]]
    each = []
    for region, row in zip(setup.regions, range(3), strict=True):
        force = view.forces.preload.estimate[[row]]
        axes = screws.corridors.axes
        spot = axes.at(screws.crossing.axis)[[row]]
        clamp = clamp_load(force, axes.direction[[row]], spot, region.normal)
        load = shaft_load(
            setup.shaft.direction, region.normal, region.centre,
            bending=BENDING["bending"], bending_axis=BENDING["bending_axis"],
        )  # fmt: skip
        each.append(opening_load(region, clamp, load, friction=friction).low)
    assert len(set(np.round(each, 6))) > 1
    worst = int(np.argmin(each))
    record = plan_record(wedge).opening_load
    assert record.low == pytest.approx(each[worst], rel=1e-6, abs=1e-6)
    one, other = plan_record(wedge).contact.surfaces[worst].fragments
    assert record.where == f"between {one} and {other}"


def test_slip_of_the_plan_is_that_of_its_worst_surface(wedge):
    record = plan_record(wedge)
    lows = [surface.reserve_low for surface in wedge.outlook.pressing.surfaces]
    assert wedge.outlook.pressing.reserve_low == min(lows)
    shares = [surface.share for surface in record.contact.surfaces]
    areas = [region.area for region in wedge.setup.regions]
    assert record.contact.share == pytest.approx(np.dot(shares, areas) / sum(areas), abs=1e-5)


def test_bends_are_said_whichever_surface_they_hold(wedge):
    setup, screws, view = wedge.setup, wedge.assessment.screws, wedge.outlook
    first, *others = view.pressing.surfaces
    sound = [replace(surface, reserve_low=1.5, reserve_high=2.0) for surface in others]
    bent = replace(first, bends=True, reserve_low=math.inf, reserve_high=math.inf)
    for surfaces, verdict in (
        ((bent, *sound), Verdict.CAUTION),
        ((replace(bent, bends=False), *sound), Verdict.PASS),
    ):
        pressed = replace(view, pressing=replace(view.pressing, surfaces=surfaces))
        (found,) = [f for f in pressed.findings(screws, setup) if f.rule == "slip"]
        assert found.verdict is verdict
        assert ("bends" in found.why) == (verdict is Verdict.CAUTION)
        assert ("wedge_lower.stl and wedge_upper.stl" in found.why) == surfaces[0].bends


def test_an_option_says_how_many_surfaces_it_leaves_bare():
    """Three surfaces want three screws: with one or two of them, something may slide freely."""
    options = {option.count: option.unpressed for option in plan_case(demo("wedge")).options}
    assert options == {1: 2, 2: 1, 3: 0}
