"""Steps and gaps of a wedge whose answer is known: made so, or moved so.

The break of the demonstration's shaft rises by 1.5 over 1, so that its wedge tapers to tips where
wall and break meet at 34 degrees: there a step was read that nothing had.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from displaced import in_place

from trajplan.checks import Limits, Verdict
from trajplan.checks._reduction_surfaces import reduce_step
from trajplan.reduction import Fragment, Kept, Matcher, Pose, Reduction, measure, rim_steps

sys.path.insert(0, str(Path(__file__).parents[3] / "scripts"))

from mesh_breaks import above, below, wedge_between
from mesh_displaced import _lower, _upper
from mesh_shaft import shaft_centre, shaft_radius

#: mm: cells of a millimetre, a shaft that bends and flares.
NEAR = 0.25
#: The wedge's break runs so steeply that a shift out by 1 opens it by this (1.5 over root 3.25).
OPENS = 0.83
NAMES = ("lower", "upper", "wedge")


def grown(mesh, by):
    """The mesh with its outer wall so many mm further out; its broken surfaces stay in theirs."""
    points, faces = mesh[0].copy(), mesh[1]
    middle = shaft_centre(points[:, 2])
    x, y = (points[:, :2] - middle[:, :2]).T
    angle = np.arctan2(y, x)
    wall = np.abs(np.hypot(x, y) - shaft_radius(angle, points[:, 2])) < 1e-6
    points[wall, 0] += by * np.cos(angle[wall])
    points[wall, 1] += by * np.sin(angle[wall])
    return points, faces


def matcher(by=0.0):
    meshes = (below(_lower), above(_upper), grown(wedge_between(_lower, _upper), by))
    return Matcher.of(
        [Fragment(*one) for one in zip(NAMES, *zip(*meshes, strict=True), strict=True)]
    )


@pytest.fixture(scope="module")
def wedge():
    """The wedge as it broke: its walls go on from those of its neighbours."""
    return matcher()


def out_by(way):
    matrix = np.eye(4)
    matrix[0, 3] = way
    return (*in_place(2), Pose(matrix))


@pytest.mark.parametrize("step", [1.0, 2.0])
def test_a_wedge_that_is_thicker_all_round_has_that_step(step):
    fits = measure(matcher(step), in_place(3))
    beside = [fit for fit in fits if fit.second == 2]
    assert len(beside) == 2
    for fit in beside:
        assert fit.step_mean == pytest.approx(step, abs=NEAR)
        assert fit.step_largest == pytest.approx(step, abs=2.0 * NEAR)
        assert fit.contact > 0.9  # it fits, but for its wall


@pytest.mark.parametrize("way", [0.0, 1.0, 2.0])
def test_a_wedge_that_stands_out_has_that_step_at_its_tips_and_gapes_by_its_slope(wedge, way):
    for fit in measure(wedge, out_by(way)):
        moved = way if fit.second == 2 else 0.0
        assert fit.step_largest == pytest.approx(moved, abs=2.0 * NEAR)
        assert fit.step_mean <= fit.step_largest
        assert fit.gap_mean == pytest.approx(OPENS * moved, abs=0.1)
        assert fit.gap_mean <= fit.gap_90 <= fit.gap_largest


@pytest.mark.parametrize(
    ("way", "word"), [(0.0, Verdict.PASS), (1.6, Verdict.CAUTION), (2.6, Verdict.CAUTION)]
)
def test_the_caution_comes_at_a_step_and_at_no_other(wedge, way, word):
    fits = measure(wedge, out_by(way))
    told = Reduction(NAMES, 0, out_by(way), fits, ("found",) * 3, sure=True)
    found = reduce_step(told, Limits())
    assert found.verdict is word
    assert found.measured == pytest.approx(way, abs=2.0 * NEAR)


def test_following_a_hand_tells_the_steps_of_the_lines_measured_last(wedge):
    kept = Kept()
    measure(wedge, out_by(0.0), kept)
    _, still = rim_steps(wedge, out_by(0.0), kept)
    _, off = rim_steps(wedge, out_by(2.0), kept)
    assert np.quantile(still, 0.95) < 2.0 * NEAR
    assert off.max() == pytest.approx(2.0, abs=2.0 * NEAR)
