"""Axes and the bundle of lines that stands for a screw's cylinder."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError, ShapeError
from trajplan.trajectory import Axes, bundle


def test_from_head_to_tip():
    axes = Axes.between([[0, 0, 0], [1, 1, 1]], [[0, 0, 5], [1, 1, -3]])
    assert axes.direction.tolist() == [[0, 0, 1], [0, 0, -1]]
    assert axes.at(np.array([2.0, 3.0])).tolist() == [[0, 0, 2], [1, 1, -2]]
    assert axes.take(np.array([1])).origin.tolist() == [[1, 1, 1]]
    assert len(axes) == 2


def test_what_is_no_axis():
    with pytest.raises(DegenerateError, match="row 1"):
        Axes.between([[0, 0, 0], [1, 1, 1]], [[0, 0, 5], [1, 1, 1]])
    with pytest.raises(ShapeError):
        Axes.along([[0, 0, 0], [0, 0, 1]], [[0, 0, 1]])
    with pytest.raises(ShapeError):
        Axes.between([[0, 0, 0]], [[0, 0, 1], [0, 0, 2]])
    with pytest.raises(DegenerateError, match="not finite"):
        Axes.along([[0, np.nan, 0]], [[0, 0, 1]])


@pytest.mark.parametrize("n", [0, 1, 7])
@pytest.mark.parametrize("with_axis", [False, True])
def test_a_bundle_is_parallel_and_keeps_its_order(n, with_axis):
    rng = np.random.default_rng(n)
    axes = Axes.along(rng.normal(size=(n, 3)), rng.normal(size=(n, 3)))
    radii = rng.uniform(1, 5, size=(n, 2))
    origin, direction = bundle(axes, radii, 6, with_axis=with_axis)
    lines = 12 + with_axis
    assert origin.shape == direction.shape == (n * lines, 3)
    assert np.array_equal(direction, np.repeat(axes.direction, lines, axis=0))
    away = origin.reshape(n, lines, 3) - axes.origin[:, None]
    if with_axis:
        assert (away[:, 0] == 0).all()
        away = away[:, 1:]
    assert np.linalg.norm(away, axis=2) == pytest.approx(np.repeat(radii, 6, axis=1))
    assert np.abs(np.einsum("nki,ni->nk", away, axes.direction)).max(initial=0) < 1e-12
