"""The picture of the gap in a report: each broken surface in the colour of what it gapes by."""

import base64
import io

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from tests.unit.show.test_gap_probe import pieces
from trajplan.show._items.item import Item
from trajplan.show._report.gaps import GapKey, gap_picture


def bones(gap):
    """A pipe in two, the upper piece so far off, as the scene of a plan holds it."""
    low, high = pieces(1)
    high_points = high.vertices + np.array([0.0, 0.0, gap])
    return [
        Item(name, "bone", points, part.faces, "#cccccc", 0.3)
        for name, points, part in (("low", low.vertices, low), ("high", high_points, high))
    ]


def share(picture, colour):
    """Share of the picture's pixels that have about this colour."""
    content = base64.b64decode(picture.data.partition(",")[2])
    pixels = np.asarray(Image.open(io.BytesIO(content)), dtype=float) / 255.0
    return float((np.abs(pixels - to_rgb(colour)).max(axis=2) < 0.06).mean())


@pytest.mark.parametrize(("gap", "stop"), [(0.0, 0), (1.0, 4), (2.5, 8)])
def test_colours_are_those_of_the_key(gap, stop):
    key, picture = GapKey.made(), gap_picture(bones(gap))
    shares = [share(picture, colour) for colour in key.band]
    assert int(np.argmax(shares)) == stop
    assert shares[stop] > 0.02
    assert {mark.text for mark in picture.marks} == {"low", "high"}
    assert share(picture, key.overlap) == 0.0


def test_bone_in_bone_has_its_own_colour():
    assert share(gap_picture(bones(-0.6)), GapKey.made().overlap) > 0.01


def test_names_stand_clear_of_each_other():
    first, second = gap_picture(bones(0.0)).marks
    assert abs(first.x - second.x) > 50 or abs(first.y - second.y) > 20


def test_no_picture_where_nothing_faces_anything():
    assert gap_picture(bones(30.0)) is None
