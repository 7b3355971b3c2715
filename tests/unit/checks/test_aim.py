"""Screws aimed off the fracture normal: midway to the bone's own normal, or square to the bone.

Teaching: a screw square to the fracture presses best; in a short oblique fracture that must bear
load along the shaft it stands midway between the two normals (AO manual of internal fixation,
3rd ed., 1991, from memory). Johner et al. 1983, abstract (read): the nearer the screws stand to
square to the long axis, the more axial load is carried (863 N at 70 degrees, 1481 N at 80).
"""

from dataclasses import replace

import numpy as np
import pytest
from builders import case_of, changed, screws_in, shaft, tilted, words, zone_of
from specimens import sphere, tube

from trajplan.checks import Aim, Limits, Verdict, aim, aimed_slip, local_tilt, slip, tilt
from trajplan.errors import CaseError
from trajplan.planner import plan_case, set_up
from trajplan.planner._candidates import candidates

LIMITS = Limits()
UP = np.array([0.0, 0.0, 1.0])
BETWEEN = Aim("between", UP)
TO_BONE = Aim("to the bone", UP)


def angle(a, b):
    return np.degrees(np.arccos(np.clip(np.einsum("...i,...i", a, b), -1.0, 1.0)))


@pytest.mark.parametrize("obliquity", [10.0, 30.0, 45.0, 60.0, 85.0])
def test_directions_in_closed_form(obliquity):
    """The normal of the fracture stands so many degrees off the shaft, the bone's 90."""
    normal = np.atleast_2d(tilted(obliquity, 25.0, about=UP))
    assert angle(TO_BONE.directions(normal), UP) == pytest.approx([90.0])
    assert angle(TO_BONE.directions(normal), normal) == pytest.approx([90.0 - obliquity])
    half = (90.0 - obliquity) / 2.0
    assert angle(BETWEEN.directions(normal), normal) == pytest.approx([half])
    assert angle(BETWEEN.directions(normal), TO_BONE.directions(normal)) == pytest.approx([half])
    assert Aim().directions(normal) is normal


def test_the_other_side_is_aimed_the_other_way():
    normal = np.atleast_2d(tilted(40.0, 70.0, about=UP))
    assert BETWEEN.directions(-normal) == pytest.approx(-BETWEEN.directions(normal))


def test_straight_across_there_is_no_other_normal():
    assert BETWEEN.directions(UP[None]) == pytest.approx(UP[None])


def oblique(off):
    """A screw so many degrees off the normal of a fracture of 45 degrees, towards the bone's."""
    zone = zone_of(shaft(), [0, 0, 50], [1, 0, 1])
    lean = np.radians(45.0 - off)
    direction = np.array([[np.cos(lean), 0.0, np.sin(lean)]])
    screws = screws_in(shaft(), [0, 0, 50] - 40.0 * direction, direction, zones=zone)
    return screws, (zone,)


@pytest.mark.parametrize(
    ("off", "plain", "asked", "plated"),
    [
        (10.0, "pass", "pass", "pass"),
        (20.0, "pass", "pass", "pass"),
        (22.5, "caution", "caution", "note"),  # midway; 24.7 slides with any plausible friction
        (30.0, "fail", "caution", "note"),
        (30.1, "fail", "fail", "fail"),
        (45.0, "fail", "fail", "fail"),  # square to the bone: it shears, and hardly squeezes
    ],
)
def test_tilt_where_the_case_asks_for_it(off, plain, asked, plated):
    """Friction 0.364 bears 20 degrees; midway at the least oblique, 30 degrees, stands 30 off."""
    slippery = replace(LIMITS, friction=0.364)
    screws, _ = oblique(off)
    assert screws.crossing.tilt == pytest.approx([off])
    assert words(tilt(screws, slippery)) == [plain]
    assert words(tilt(screws, slippery, BETWEEN)) == [asked]
    assert words(tilt(screws, slippery, replace(BETWEEN, held=True))) == [plated]


def test_the_caution_says_what_holds_the_fragments():
    (found,) = tilt(oblique(25.0)[0], LIMITS, BETWEEN).findings(["screw 1"])
    assert "bears load along the shaft, but shears the fragments while it is tightened" in found.why
    assert "Hold them with forceps" in found.why
    assert "a screw square to the fracture, or a plate (screws.protection)" in found.why
    (held,) = tilt(oblique(25.0)[0], LIMITS, replace(BETWEEN, held=True)).findings(["screw 1"])
    assert "the plate holds them after" in held.why


def test_a_normal_in_doubt_is_unknown_here_too():
    screws = changed(oblique(25.0)[0], "crossing", bound=6.0)
    assert words(tilt(screws, LIMITS, BETWEEN)) == ["unknown"]


def test_how_near_the_axis_comes_to_the_aim():
    for off in (0.0, 22.5, 40.0, 42.5, 43.0):
        screws, zones = oblique(off)
        ruling = aim(screws, LIMITS, zones, BETWEEN)
        assert ruling.measured == pytest.approx([abs(off - 22.5)], abs=1e-6)
        assert words(ruling) == ["caution" if abs(off - 22.5) > 20.0 else "pass"]
    missed = screws_in(shaft(), [[90, 0, 50]], [[0, 0, 1]], zones=zones[0])
    assert words(aim(missed, LIMITS, zones, BETWEEN)) == [None]


def test_a_fan_stands_round_the_aim():
    zone = zone_of(shaft(), [0, 0, 50], [1, 0, 1])
    for wanted in (BETWEEN, TO_BONE, Aim()):
        made = candidates((zone,), kinds=1, count=400, max_tilt=20.0, aim=wanted)
        middle = wanted.directions(zone.plane.normal[None])[0]
        off = np.degrees(np.arccos(np.clip(np.abs(made.axes.direction @ middle), 0.0, 1.0)))
        assert off.max() == pytest.approx(20.0)
        assert off.min() == pytest.approx(0.0, abs=1e-5)


def test_sliding_that_was_asked_for_names_the_decision():
    found = slip(0.7, 0.9)
    assert found.verdict is Verdict.FAIL
    assert aimed_slip(found, Aim()) is found
    asked = aimed_slip(found, BETWEEN)
    assert asked.verdict is Verdict.CAUTION
    assert "only 0.7 of the shear" in asked.why
    assert asked.measured == 0.7
    assert aimed_slip(found, replace(BETWEEN, held=True)).verdict is Verdict.NOTE
    assert aimed_slip(slip(np.nan, np.nan), BETWEEN).verdict is Verdict.UNKNOWN
    assert aimed_slip(slip(2.0, 3.0), BETWEEN).verdict is Verdict.PASS


def short_oblique(**screws):
    """An oblique fracture of 45 degrees, one diameter long: the taught situation."""
    plane = {"plane": {"point": [0, 0, 50], "normal": [1, 0, 1]}}
    case = case_of(fracture=plane, screws={"kinds": ["HA3.5"], **screws})
    return plan_case(case, bone=tube(sides=32))


@pytest.mark.parametrize(
    ("protection", "verdict"), [("none", Verdict.CAUTION), ("plate", Verdict.NOTE)]
)
def test_a_screw_midway_is_no_fail_when_asked_for(protection, verdict):
    plan = short_oblique(aim="between", protection=protection)
    assert len(plan.assessment.ids) == 2
    off = plan.assessment.screws.crossing.tilt
    assert (np.abs(off - 22.5) < 10.0).all()
    found = {finding.rule: finding for finding in plan.findings}
    assert found["slip"].verdict is verdict
    assert plan.verdict < Verdict.FAIL


def test_unasked_it_stands_square():
    assert (short_oblique().assessment.screws.crossing.tilt < 10.0).all()


def test_without_a_shaft_there_is_nothing_to_aim_between():
    case = case_of(
        screws={"aim": "between"},
        bone={"cortex": 2.0},
        fracture={"plane": {"point": [0, 0, 0], "normal": [0, 0, 1]}},
    )
    with pytest.raises(CaseError, match="no shaft") as caught:
        set_up(case, bone=sphere(20.0))
    assert caught.value.where == "screws.aim"


def test_a_plane_has_no_other_tilt():
    screws, zones = oblique(25.0)
    assert words(local_tilt(screws, LIMITS, zones, BETWEEN)) == [None]
