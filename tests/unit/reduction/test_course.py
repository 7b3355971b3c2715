"""A shaft is followed up to its break, bent or not, and its fracture line is found."""

import sys
from pathlib import Path

import numpy as np
import pytest
from displaced import lying

from trajplan.reduction import Fragment, Matcher
from trajplan.reduction._assemble import dressed
from trajplan.reduction._certainty import covered
from trajplan.reduction._course import Frame, followed
from trajplan.reduction._limits import LEAST_COVERED

sys.path.insert(0, str(Path(__file__).parents[3] / "scripts"))

import mesh_displaced
from mesh_breaks import above, below, wedge_between
from reduce_breaks import break_bone

UP = np.array([0.0, 0.0, 1.0])


def bent_tube(bend, radius=6.0, length=60.0, count=12_000):
    """Points and normals of a bent tube; `bend` is how far its middle leaves the line, mm."""
    rng = np.random.default_rng(3)
    height, angle = rng.uniform(0.0, length, count), rng.uniform(-np.pi, np.pi, count)
    aside = bend * (height / length) ** 2
    out = np.stack([np.cos(angle), np.sin(angle), np.zeros(count)], axis=1)
    points = radius * out + np.stack([aside, np.zeros(count), height], axis=1)
    return points, out


@pytest.mark.parametrize("bend", [0.0, 6.0, 12.0])
def test_a_bent_shaft_is_followed_to_its_end(bend):
    """Closed form: the middle of a tube whose axis is a parabola."""
    points, normals = bent_tube(bend)
    course = followed(points, normals, Frame.of(UP), 0.8, np.ones(len(points), dtype=bool))
    assert course is not None
    assert course.top > 55.0
    middle, slope, size = course.at(np.array([50.0]))
    frame = Frame.of(UP)
    expected = frame.across @ np.array([bend * (50.0 / 60.0) ** 2, 0.0, 0.0])
    assert np.linalg.norm(middle[0] - expected) < 0.5
    assert np.linalg.norm(slope[0] - frame.across @ [2.0 * bend * 50.0 / 3600.0, 0.0, 0.0]) < 0.1
    assert size[0] == pytest.approx(6.0, abs=0.3)


def test_where_half_of_the_wall_is_gone_the_shaft_is_no_longer_whole():
    points, normals = bent_tube(6.0)
    kept = (points[:, 2] < 35.0) | (points[:, 1] > 0.0)
    course = followed(
        points[kept], normals[kept], Frame.of(UP), 0.8, np.ones(kept.sum(), dtype=bool)
    )
    assert course is not None
    assert course.top == pytest.approx(35.0, abs=2.5)
    middle = course.at(np.array([50.0]))[0][0]  # followed by what is left of it
    expected = Frame.of(UP).across @ np.array([6.0 * (50.0 / 60.0) ** 2, 0.0, 0.0])
    assert np.linalg.norm(middle - expected) < 1.0


@pytest.mark.parametrize("slope", [0.4, 1.5])
def test_a_wedge_in_place_raises_no_alarm_and_a_missing_one_does(slope, monkeypatch):
    """The demonstration's shaft with a gentle and a steep wedge, where all belongs."""
    monkeypatch.setattr(mesh_displaced, "SLOPE", slope)
    lower, upper = mesh_displaced._lower, mesh_displaced._upper
    meshes = (below(lower), above(upper), wedge_between(lower, upper))
    matcher = Matcher.of([Fragment(str(k), *mesh) for k, mesh in enumerate(meshes)])
    poses = {number: np.eye(4) for number in range(3)}
    shares = covered(dressed(matcher.samples, poses), [poses[k] for k in range(3)])
    assert np.nanmin(shares) > 0.9
    without = covered(matcher.samples[:2], [poses[0], poses[1]])
    assert min(without) < LEAST_COVERED


def test_the_ends_of_a_shaft_are_told_from_a_wedge_by_their_whole_sections():
    names = ("wedge_piece", "wedge_upper", "wedge_lower")
    matcher = Matcher.of([Fragment(name, *lying(name)) for name in names])
    assert set(matcher.by_size[:2]) == {1, 2}
    assert matcher.samples[0].shaft is None


def test_fragments_pushed_past_each_other_are_broken_where_they_are_rough():
    """They overlap along the shaft, so that the image's flat ends lie towards each other."""
    broken = break_bone("tibia", "butterfly", 0)
    pieces = [Fragment(str(k), p.vertices, p.faces) for k, p in enumerate(broken.pieces)]
    matcher = Matcher.of(pieces)
    axes = [
        broken.pieces[k].back[:3, :3] @ matcher.frame[:3, :3] @ matcher.samples[k].shaft.axis
        for k in (0, 1)
    ]
    assert axes[0] @ axes[1] < -0.95  # where they belong, each end looks at the other
