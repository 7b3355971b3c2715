"""Bone surfaces that nobody here made: femur, tibia, humerus and radius of the package myo-sim.

Apache-2.0, binary STL in metres, installed by the extra `dev`. The femur is closed, the
others are not.
"""

import numpy as np
import pytest
import trimesh
from specimens import real_bone

from trajplan.files import read_plan

#: Of the fracture: 60 degrees between its normal and the shaft, which runs along y.
NORMAL = np.array([0.0, 0.5, np.sqrt(0.75)])


def middle_of(bone):
    """A bone as a general library reads it, and the middle of its section halfway up."""
    mesh = trimesh.load_mesh(real_bone(f"{bone}.stl"))
    half = mesh.bounds.mean(axis=0)[1]
    return mesh, mesh.section(plane_origin=[0, half, 0], plane_normal=[0, 1, 0]).centroid


@pytest.fixture
def plan(run, folder):
    """Plan a fracture through the middle of a real bone."""

    def _plan(bone, cortex, kind):
        mesh, point = middle_of(bone)
        (folder / "case.toml").write_text(
            f'unit = "m"\n[bone]\nmesh = "{real_bone(f"{bone}.stl").as_posix()}"\n'
            f"cortex = {cortex}\n[fracture]\n"
            f"plane = {{ point = {point.tolist()}, normal = {NORMAL.tolist()} }}\n"
            f'[screws]\ncount = 2\nkinds = ["{kind}"]\n'
        )
        answer = run("plan", "case.toml", "--no-picture", "--out", "out")
        assert (answer.status, answer.err) == (0, "")
        return read_plan(folder / "out" / "plan.json"), mesh, 1000.0 * point

    return _plan


def every_finding(plan):
    return [*plan.findings, *(f for screw in plan.screws for f in screw.findings)]


def two_lag_screws_and_nothing_fails(plan):
    assert [screw.technique for screw in plan.screws] == ["lag", "lag"]
    assert "fail" not in [finding.verdict for finding in every_finding(plan)]


def test_femur(plan):
    made, mesh, point = plan("r_femur", 6.0, "HA4.5")
    two_lag_screws_and_nothing_fails(made)
    mesh.apply_scale(1000.0)
    for screw in made.screws:
        entry, direction = np.array(screw.entry), np.array(screw.direction)
        assert np.linalg.norm(direction) == pytest.approx(1.0, abs=1e-5)
        # closed form: where the axis crosses the plane, and its tilt to the normal
        depth = (point - entry) @ NORMAL / (direction @ NORMAL)
        assert screw.fracture_depth.axis == pytest.approx(depth, abs=1e-4)
        across = np.linalg.norm(np.cross(direction, NORMAL))
        tilt = np.degrees(np.arctan2(across, abs(direction @ NORMAL)))
        assert screw.tilt == pytest.approx(tilt, abs=1e-3)
        assert screw.tilt <= 20.0
        # general library: trimesh's own crossings of the axis with the bone
        hits, _, _ = mesh.ray.intersects_location([entry - 50.0 * direction], [direction])
        along = np.sort((hits - entry) @ direction)
        assert np.ravel(screw.intervals) == pytest.approx(along, abs=1e-3)
        # the rule of the lag screw: the gliding hole passes the fracture on the whole ring,
        # and the tip stands out of the far cortex
        assert screw.gliding_hole.end >= screw.fracture_depth.max
        assert screw.seat + screw.length == pytest.approx(screw.thread.end, abs=1e-5)
        assert screw.thread.end - along[-1] >= 1.0


@pytest.mark.parametrize(("bone", "cortex", "kind"), [("r_tibia", 6.0, "HA4.5"),
                                                     ("radius", 3.0, "HA3.5")])  # fmt: skip
def test_bones_that_are_not_closed(plan, folder, bone, cortex, kind):
    made, mesh, _ = plan(bone, cortex, kind)
    assert not mesh.is_watertight  # says a general library
    two_lag_screws_and_nothing_fails(made)
    (surface,) = made.meshes
    assert any("open edges: the surface is not closed" in text for text in surface.cautions)
    for text in surface.cautions:
        assert f"{bone}.stl: {text}" in made.cautions
        told = (folder / "out" / "plan.csv").read_text().replace('""', '"')  # as CSV quotes
        assert f"{bone}.stl: {text}" in told


def test_an_assumed_cortex_is_never_taken_for_a_real_one(plan):
    made, _, _ = plan("r_femur", 6.0, "HA4.5")
    assert any("a cortex of 6 mm is assumed" in text for text in made.assumptions)
    assert any("no canal is modelled" in text for text in made.cautions)
    for screw in made.screws:
        assert (screw.near_cortex.basis, screw.far_cortex.basis) == ("assumed", "assumed")
        (known,) = [f for f in screw.findings if f.rule == "cortex_known"]
        assert known.verdict == "note"
        assert "assumption" in known.why


@pytest.mark.parametrize(
    ("bone", "cortex", "kind"),
    [("r_femur", 6, "HA4.5"), ("r_tibia", 6, "HA4.5"), ("humerus", 4, "HA4.5"),
     ("radius", 2.5, "HA3.5")],
)  # fmt: skip
def test_cut_by_the_command_and_planned_from_the_fragments_alone(run, folder, bone, cortex, kind):
    """The plan's own bound on the normal holds the normal that the bone was cut along."""
    _, point = middle_of(bone)
    (folder / "whole.toml").write_text(
        f'unit = "m"\n[bone]\nmesh = "{real_bone(f"{bone}.stl").as_posix()}"\n[fracture]\n'
        f"plane = {{ point = {point.tolist()}, normal = {NORMAL.tolist()} }}\n"
    )
    cut = run("fracture", "whole.toml", "--split", "--out", "pieces")
    assert (cut.status, cut.err) == (0, "")
    pieces = [f"pieces/{path.name}" for path in sorted((folder / "pieces").glob("*.stl"))]
    assert len(pieces) == 2
    (folder / "case.toml").write_text(
        f'unit = "mm"\n[bone]\nfragments = {pieces}\ncortex = {cortex}\n'
        f'[fracture]\nbetween = true\n[screws]\ncount = 2\nkinds = ["{kind}"]\n'
    )
    answer = run("plan", "case.toml", "--no-picture", "--out", "out")
    assert (answer.status, answer.err) == (0, "")
    made = read_plan(folder / "out" / "plan.json")
    two_lag_screws_and_nothing_fails(made)
    (zone,) = made.fracture.zones
    across = np.linalg.norm(np.cross(zone.normal, NORMAL))
    assert 0.0 < zone.normal_bound < 0.01
    assert np.degrees(np.arcsin(across)) <= zone.normal_bound
