"""Rules: what a screw does to the fractures that it passes besides its own."""

from functools import cache

import numpy as np
import pytest
import trimesh
from builders import screws_in, words
from shapely import Polygon
from specimens import box, joined

from trajplan.bone import as_surface, make_bone
from trajplan.checks import Limits, Verdict, other_fractures
from trajplan.fracture import fracture_between, nearest_zone

LIMITS = Limits()
GAP = 0.2
DOWN = [0.0, -1.0, 0.0]


def prism(*corners):
    """A block 40 mm long with a section of corners (x, y)."""
    mesh = trimesh.creation.extrude_polygon(Polygon(corners), 40.0)
    return np.array(mesh.vertices), np.array(mesh.faces)


@cache
def stack(slope):
    """Three blocks on top of one another; the upper fracture slopes, the lower is level."""
    rise = 12.0 * np.tan(np.radians(slope))
    blocks = [
        prism((-12, 0), (12, 0), (12, -8 + rise), (-12, -8 - rise)),
        prism((-12, -8 - rise - GAP), (12, -8 + rise - GAP), (12, -20), (-12, -20)),
        prism((-12, -20 - GAP), (12, -20 - GAP), (12, -32), (-12, -32)),
    ]
    bone = make_bone([as_surface(block) for block in blocks])
    zones = fracture_between(bone).zones
    assert [zone.fragments for zone in zones] == [(0, 1), (1, 2)]
    return bone, zones


def rulings(bone, zones, zone, *, x=(0.0,), **options):
    """Screws straight down at places x, each for a zone."""
    start = np.column_stack([x, np.full(len(x), 30.0), np.full(len(x), 20.0)])
    way = np.tile(DOWN, (len(x), 1))
    meant = np.asarray(zone, dtype=np.int64)
    screws = screws_in(bone, start, way, zones=zones, zone=meant, **options)
    return {ruling.rule: ruling for ruling in other_fractures(screws, LIMITS, zones)}


def test_a_thread_across_the_next_fracture_holds_it_open():
    found = rulings(*stack(0.0), [0, 1], x=[0.0, 0.0])
    assert words(found["other_thread"]) == ["fail", "pass"]
    # the gliding hole of the first ends at the upper fracture, rounded up to 0.5 mm; the lower
    # one lies 12.1 mm below
    assert found["other_thread"].measured == pytest.approx([-11.6, 12.4], abs=0.1)
    assert words(found["other_tilt"]) == [None, "pass"]
    bites, clear = found["other_thread"].findings("ab")
    assert bites.measured < 0.0
    assert "11.6 mm of it on the near side" in bites.why
    assert "beyond the other fracture on its way too, by 12" in clear.why


@pytest.mark.parametrize(("slope", "word"), [(10.0, "pass"), (21.0, "caution"), (26.0, "fail")])
def test_a_slanted_fracture_on_the_way_slides(slope, word):
    """20 degrees are taught; arctan 0.46 = 24.7 degrees slide with any plausible friction."""
    found = rulings(*stack(slope), [1])
    assert words(found["other_tilt"]) == [word]
    assert found["other_tilt"].measured == pytest.approx([slope], abs=0.5)
    assert words(found["other_thread"]) == ["pass"]


def test_position_screws_and_misses_are_left_out():
    found = rulings(*stack(23.0), [1, 1], x=[0.0, 90.0], technique="position")
    assert words(found["other_tilt"]) == words(found["other_thread"]) == [None, None]
    assert words(rulings(*stack(0.0), [], x=[])["other_thread"]) == []


@cache
def side_by_side():
    """One block on two others."""
    bone = make_bone([
        as_surface(box((-20, -10, 0), (20, 0, 40))),
        as_surface(box((-20, -24, 0), (-GAP, -10 - GAP, 40))),
        as_surface(box((GAP, -24, 0), (20, -10 - GAP, 40))),
    ])  # fmt: skip
    zones = fracture_between(bone).zones
    assert [zone.fragments for zone in zones] == [(0, 1), (0, 2), (1, 2)]
    return bone, zones


def test_a_screw_into_the_neighbour_of_its_fragment():
    bone, zones = side_by_side()
    found = rulings(bone, zones, [0, 0], x=[-10.0, 10.0])
    assert words(found["other_fragments"]) == ["pass", "fail"]
    assert "other fragments" in found["other_fragments"].findings(["a", "b"])[1].why


def test_a_line_is_meant_for_the_fragments_that_it_joins():
    """The last passes between the lower blocks, nearer to the left one, into the right one."""
    bone, zones = side_by_side()
    slant = np.array([np.sin(np.radians(20)), -np.cos(np.radians(20)), 0.0])
    origin = [[-10.0, 30, 20], [10.0, 30, 20], [-0.1, -10.1, 20] - 40 * slant]
    nearest = nearest_zone(bone, zones, np.array(origin), np.array([DOWN, DOWN, slant]))
    assert nearest.tolist() == [0, 1, 1]


def test_a_single_fracture_is_every_screws_own():
    bone = make_bone(
        as_surface(joined(box((-9, -9, 0), (9, 0, 9)), box((-9, -30, 0), (9, -9.2, 9))))
    )
    zones = fracture_between(bone).zones
    screws = screws_in(bone, [[0, 9, 4.5]], [DOWN], zones=zones)
    said = [words(ruling)[0] for ruling in other_fractures(screws, LIMITS, zones)]
    assert said == [Verdict.PASS.word, None, None]
