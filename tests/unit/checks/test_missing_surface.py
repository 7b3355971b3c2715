"""A joint or a structure with holes, or in crumbs: what is missing is never vouched for."""

import re

import numpy as np
import pytest
from builders import in_slab, level, slab, words
from specimens import cylinder, sphere

from trajplan.bone import as_surface, missing_of
from trajplan.checks import (
    Limits,
    Surroundings,
    as_obstacle,
    beside_holes,
    clearance,
    screw_rulings,
)
from trajplan.checks import too_near as decided


def sheet(size=60.0, level=-26.0, step=2.0, without=None):
    """A level sheet of squares; `without` is told the middle of each and says which are missing."""
    at = np.arange(-size / 2, size / 2 + step / 2, step)
    x, y = (grid.ravel() for grid in np.meshgrid(at, at, indexing="ij"))
    n = len(at)
    a = (np.arange(n - 1)[:, None] * n + np.arange(n - 1)).ravel()
    squares = np.column_stack([a, a + n, a + n + 1, a + 1])
    points = np.column_stack([x, y, np.full(n * n, level)])
    if without is not None:
        squares = squares[~without(points[squares].mean(axis=1))]
    return points, np.concatenate([squares[:, [0, 1, 2]], squares[:, [0, 2, 3]]])


def round_hole(radius, at=0.0):
    return lambda p: np.hypot(p[:, 0] - at, p[:, 1]) < radius


def found(mesh, screws, *, role="joint", keep=3.0, near=clearance):
    it = as_obstacle("knee {limit}", role, as_surface(mesh), keep)
    return beside_holes(lambda one: near(screws, one), it)


def test_a_tip_in_the_hole_of_a_joint_is_unknown_and_not_a_pass():
    """The tip, 2.25 thick, ends at 22.7: 1.1 mm above a joint that lacks its middle."""
    mesh = sheet(without=round_hole(12.0))
    whole = as_obstacle("knee", "joint", as_surface(mesh), 3.0)
    assert words(clearance(in_slab(), whole)) == ["pass"]  # measured to what is there
    ruling = found(mesh, in_slab())
    assert words(ruling) == ["unknown"]
    assert np.isnan(ruling.measured).all()
    why = ruling.findings(["screw 1"])[0].why
    assert re.fullmatch(
        r"This cannot be told: knee \(limit\) has a hole 2[3-6] mm across, and what is missing "
        r"may lie here. Export it whole.",
        why,
    )


def test_beside_the_hole_the_sheet_itself_fails_and_far_from_it_passes():
    mesh = sheet(without=round_hole(12.0))
    assert words(found(mesh, in_slab(x=[0, 12, 36]))) == ["unknown", "fail", "pass"]
    assert words(found(mesh, in_slab(x=[0, 12, 36]), near=decided)) == ["unknown", "fail", "pass"]


def test_the_rim_is_no_hole():
    assert missing_of(as_surface(sheet())) is None
    assert missing_of(as_surface(sheet(without=lambda p: p[:, 0] > 10))) is None
    half = sphere(20.0, 3)
    middle = half[0][half[1]].mean(axis=1)
    assert missing_of(as_surface((half[0], half[1][middle[:, 2] > 0]))) is None


def test_width_of_a_hole():
    hole = missing_of(as_surface(sheet(without=round_hole(9.0, at=3.0))))
    assert (hole.holes, hole.crumbs, hole.closed) == (1, False, None)
    assert hole.widest == pytest.approx(18.0, abs=2.0)


def ball(share):
    """A ball that lacks a cap of so much of its surface (Archimedes: height over diameter)."""
    points, faces = sphere(20.0, 4)
    middle = points[faces].mean(axis=1)
    return points, faces[middle[:, 2] < 20.0 * (1.0 - 2.0 * share)]


def test_a_tip_inside_what_was_closed_once_is_unknown():
    points, faces = ball(0.02)
    around = points + np.array([0.0, 0.0, -28.0]), faces  # from -8 down: the tip lies 14 mm in it
    for near in (clearance, decided):
        assert words(found(around, in_slab(), keep=0.5, near=near))[0] in ("unknown", "fail")
    deep = points * 3.0 + np.array([0.0, 0.0, -20.0]), faces  # all of the screw lies deep inside
    assert words(clearance(in_slab(), as_obstacle("knee", "joint", as_surface(deep), 5.0))) == [
        "pass"
    ]
    assert words(found(deep, in_slab(), keep=5.0)) == ["unknown"]


def test_a_head_cut_at_its_neck_is_open_and_holds_nothing():
    assert missing_of(as_surface(ball(0.02))).closed is not None
    assert missing_of(as_surface(ball(0.15))) is None


def test_crumbs_are_no_joint_surface():
    rng = np.random.default_rng(3)
    crumbs = sheet(step=6.0, without=lambda p: rng.random(len(p)) < 0.85)
    missing = missing_of(as_surface(crumbs))
    assert missing.crumbs
    assert missing.said == f"lies in {missing.pieces} pieces"
    assert set(words(found(crumbs, in_slab(x=np.linspace(-20, 20, 15))))) <= {"unknown", "fail"}
    assert words(found(crumbs, in_slab(x=[60]))) != ["unknown"]
    assert missing_of(as_surface(crumbs), facets=False) is None  # vessels may lie in pieces


def test_three_facets_and_debris_are_no_crumbs():
    facets = [sheet(size=12.0, level=level) for level in (0.0, 20.0, 40.0)]
    speck = np.array([[50.0, 0, 0], [50.1, 0, 0], [50, 0.1, 0]]), np.array([[0, 1, 2]])
    points, faces, start = [], [], 0
    for mesh in (*facets, *[speck] * 6):
        points.append(mesh[0])
        faces.append(mesh[1] + start)
        start += len(mesh[0])
    assert missing_of(as_surface((np.concatenate(points), np.concatenate(faces)))) is None


def test_stored_twice_it_is_what_it_is():
    points, faces = sheet(without=round_hole(12.0))
    twice = np.concatenate([points, points]), np.concatenate([faces, faces + len(points)])
    four = np.concatenate([points + np.array([0.0, 0.0, i * 1e-3]) for i in range(4)])
    copies = four, np.concatenate([faces + i * len(points) for i in range(4)])
    for mesh in (twice, copies):
        assert words(found(mesh, in_slab(x=[0, 12, 36]))) == ["unknown", "fail", "pass"]


def test_an_open_vessel_is_closed_but_for_its_ends():
    pipe = cylinder(3.0, 100.0)
    middle = pipe[0][pipe[1]].mean(axis=1)
    open_ends = pipe[0], pipe[1][(middle[:, 2] > 0.1) & (middle[:, 2] < 99.9)]
    missing = missing_of(as_surface(open_ends), facets=False)
    assert missing.holes == 2
    pierced = open_ends[0] * 2.5 + np.array([0.0, 0.0, -200.0]), open_ends[1]
    vein = as_obstacle("vein", "avoid", as_surface(pierced), 1.0)
    assert words(clearance(in_slab(), vein)) == ["pass"]  # 15 mm wide, and the tip in it
    assert words(found(pierced, in_slab(), role="avoid", keep=1.0)) == ["unknown"]


def test_every_rule_on_obstacles_looks_at_the_hole():
    """The drill plunges, the guide passes and the head sits where a part is missing."""
    below, above = sheet(level=-27.0, without=round_hole(8.0)), sheet(
        level=20.0, without=round_hole(9.0)
    )  # fmt: skip
    for mesh, rule in ((below, "plunge"), (above, "guide_way")):
        for holed, answer in ((False, ("caution", "fail")), (True, ("unknown",))):
            given = mesh if holed else sheet(level=float(mesh[0][0, 2]))
            it = as_obstacle("knee", "joint", as_surface(given), 0.5)
            around = Surroundings(slab(), (level(slab(), 8.0),), (it,), None)
            ruling = next(r for r in screw_rulings(in_slab(), Limits(), around) if r.rule == rule)
            assert words(ruling)[0] in answer, (rule, holed)
