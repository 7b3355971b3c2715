"""Openings that bone rings, on real bones: a vertebra's canal and a hip bone's are no marrow.

Anatomy (common practice): the vertebral foramen and the obturator foramen are open on both
sides and hold no bone; a screw that crosses one has left the bone.
"""

from functools import cache

import numpy as np
import pytest
from builders import screws_in, words, zone_of
from specimens import real_bone

from trajplan.bone import Gap, gaps, line_spans, make_bone, read_surface, walled_in
from trajplan.checks import Limits, Surroundings, screw_rulings
from trajplan.trajectory._passes import passes

#: mm; a gap along a line that is no fracture and no pore.
WIDE = 8.0


@cache
def ringed(name):
    """A real bone and lines that cross a wide gap which bone rings: origin, direction, gap."""
    bone = make_bone(read_surface(real_bone(f"{name}.stl"), "m"))
    draw = np.random.default_rng(0)
    origin = draw.uniform(bone.audit.low, bone.audit.high, (4000, 3))
    way = draw.normal(size=(4000, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    spans = passes(line_spans(bone, origin, way).outer)
    line = np.repeat(np.arange(4000), np.diff(spans.offsets))
    before = np.flatnonzero(
        (line[1:] == line[:-1]) & (spans.start[1:] - spans.end[:-1] > WIDE)
        & spans.known[1:] & spans.known[:-1]
    )  # fmt: skip
    middle = 0.5 * (spans.end[before] + spans.start[before + 1])
    places = origin[line[before]] + middle[:, None] * way[line[before]]
    rows = np.flatnonzero(walled_in(bone.caster, places))
    first, last = spans.start[before[rows]], spans.end[before[rows] + 1]
    beyond = spans.start[before[rows] + 1]
    return bone, places[rows], origin[line[before[rows]]], way[line[before[rows]]], (
        first, beyond, last,
    )  # fmt: skip


BONES = ["lumbar1", "lumbar2", "lumbar3", "lumbar4", "lumbar5", "thoracic6_s", "sacrum",
         "l_pelvis", "r_pelvis"]  # fmt: skip


@pytest.mark.parametrize("name", BONES)
def test_none_is_taken_for_a_marrow_canal(name):
    bone, places, *_ = ringed(name)
    assert len(places) >= 10  # by three quarters of all directions alone all of them were
    found = gaps(bone, places, slit=np.zeros(len(places), dtype=bool))
    assert Gap.CANAL not in found
    if name.startswith("lumbar"):
        assert (found == Gap.AIR).mean() > 0.9


@pytest.mark.parametrize("name", ["lumbar3", "lumbar5", "l_pelvis"])
def test_a_screw_across_one_has_left_the_bone(name):
    """Head on one side, fracture on the other: today's lag screw through the spinal canal."""
    bone, _, origin, way, (first, beyond, last) = ringed(name)
    thick = np.flatnonzero(last - beyond > 6.0)[:8]
    assert len(thick) >= 3
    said = []
    for row in thick:
        start = origin[row] + (first[row] - 5.0) * way[row]
        crossing = origin[row] + 0.5 * (beyond[row] + last[row]) * way[row]
        zone = zone_of(bone, crossing, way[row])
        screws = screws_in(bone, [start], [way[row]], zones=zone, kind="HA3.5", cortex=1.0)
        around = Surroundings(bone, (zone,), (), None, shaft=bone.shaft)
        rulings = screw_rulings(screws, Limits(), around)
        said.append({ruling.rule: words(ruling)[0] for ruling in rulings})
    assert {it["leaves_bone"] for it in said} <= {"fail", "unknown"}
    assert "fail" in {it["leaves_bone"] for it in said}
    assert all(it["cortex_known"] != "pass" for it in said)
