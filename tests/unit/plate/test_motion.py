"""Derivatives of a plate's shape against differences of the shape itself."""

import numpy as np

from trajplan.implants import load_catalogue
from trajplan.plate import (
    Pose,
    make_strip,
    reach_past,
    rotations,
    shape_of,
    underside,
)
from trajplan.plate._motion import motions, slopes

STEP = 1e-5


def test_points_move_as_differences_say():
    rng = np.random.default_rng(3)
    strip = make_strip(load_catalogue().plates["Narrow4.5"], 5, 5.0, 3)
    start = Pose(rng.normal(size=(2, 3)), rotations(rng.normal(size=(2, 3))))
    x = np.concatenate([rng.normal(size=(2, 6)), 0.3 * rng.normal(size=(2, 8))], axis=1)
    x[1, 6:] = 0.0  # straight: the series
    shape = shape_of(strip, start, x)
    points = underside(strip, shape)
    pull = rng.normal(size=points.shape)
    found = slopes(*motions(strip, start.frame, shape, x), points, pull)
    for number in range(x.shape[1]):
        step = STEP * np.eye(x.shape[1])[number]
        more, less = (underside(strip, shape_of(strip, start, x + s * step)) for s in (1.0, -1.0))
        differs = ((more - less) / (2.0 * STEP) * pull).sum(axis=3)
        np.testing.assert_allclose(found[..., number], differs, rtol=1e-6, atol=1e-6)


def test_how_far_a_plate_reaches_past_the_fracture():
    plate = load_catalogue().plates["Narrow4.5"]
    strip = make_strip(plate, 6, 5.0, 3)
    places = plate.places(6) - plate.length(6) / 2.0
    for line in (20.0, plate.length(6) / 2.0 + 7.0):  # over the fragment, and short of it
        for end in (1.0, -1.0):  # the fragment at either end
            along = end * line - places
            side = np.where(along > 0.0, -1, 1)
            past = reach_past(strip, side, along, int(-end))
            np.testing.assert_allclose(past, plate.length(6) / 2.0 - line, atol=1e-9)
    assert np.isnan(reach_past(strip, np.zeros(6, dtype=np.int64), places, -1))
