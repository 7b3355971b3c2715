"""A laid plate as a solid: volume by closed forms, closed, bent along its own length.

Sources: volumes of prisms and of balls with a bore (any handbook of geometry), integrated by
scipy; Pappus' theorem for a bent bar; trimesh and manifold3d judge whether solids are closed.
"""

from dataclasses import replace
from types import SimpleNamespace

import manifold3d
import numpy as np
import pytest
import trimesh
from scipy.integrate import quad
from scipy.spatial.transform import Rotation

from trajplan.plate import bent, make_strip
from trajplan.show._items.palette import COLOURS, lightness
from trajplan.show._items.plate import bent_items
from trajplan.show._items.plate_solid import CORNER, laid_plate, plate_solid

TURN = Rotation.from_rotvec([0.3, -1.1, 0.7]).as_matrix()
PLACE = np.array([40.0, -25.0, 310.0])


def laid(plate, holes, flatwise=None, twist=None):
    """A plate somewhere in space, along, across and out turned like the rows of `TURN`."""
    bends = [np.zeros(holes - 1) if a is None else np.radians(a) for a in (flatwise, twist)]
    strip = make_strip(plate, holes, 3.0, 5)
    shape = bent(strip, PLACE[None], TURN[None], bends[0][None], bends[1][None])
    return laid_plate(SimpleNamespace(plate=plate, strip=strip, shape=shape), 0)


def mesh(bent_plate, **how):
    return trimesh.Trimesh(*plate_solid(bent_plate, **how), process=False)


def bar_area(plate, length):
    radius = min(CORNER * plate.width, plate.end / 2)
    return plate.width * length - (4 - np.pi) * radius**2


def hole_volume(plate):
    """A stadium at each height, as wide as thread or ball."""
    seat, thread = plate.hole.seat, plate.hole.thread[-1]
    middle, half = plate.seat_height(seat, thread), plate.hole.shift

    def area(z):
        radius = max(thread / 2, np.sqrt(max(seat**2 - (middle - z) ** 2, 0.0)))
        return np.pi * radius**2 + 4 * half * radius

    return quad(area, 0.0, plate.thickness, limit=200)[0]


@pytest.mark.parametrize(("kind", "holes"), [("Narrow4.5", 8), ("Straight3.5", 6)])
def test_volume_of_a_straight_plate(catalogue, kind, holes):
    plate = catalogue.plates[kind]
    whole = plate.thickness * bar_area(plate, plate.length(holes))
    flat = laid(plate, holes)
    assert mesh(flat, holes=False).volume == pytest.approx(whole, rel=1e-3)
    # circles of 48 corners fall short of the round by 0.3 %
    lost = whole - mesh(flat).volume
    assert lost == pytest.approx(holes * hole_volume(plate), rel=5e-3)


def test_volume_of_a_hollow_plate(catalogue):
    # Sector of a ring: half the angle times the difference of squares (any handbook).
    plate = replace(catalogue.plates["ThirdTube3.5"], end=6.0)
    half = np.arcsin(plate.width / 2 / plate.back)
    section = half * ((plate.back + plate.thickness) ** 2 - plate.back**2)
    flat = mesh(laid(plate, 5), holes=False)
    rounds = bar_area(plate, plate.length(5)) / (plate.width * plate.length(5))
    assert flat.volume == pytest.approx(section * plate.length(5) * rounds, rel=5e-3)


@pytest.mark.parametrize(
    "kind", ["Narrow4.5", "Straight3.5", "Reconstruction3.5", "HalfTube4.5", "ThirdTube3.5"]
)
def test_solids_are_closed_and_have_a_hole_for_each_screw(catalogue, kind):
    plate, rng = catalogue.plates[kind], np.random.default_rng(4)
    holes = 6
    bends = rng.integers(-12, 13, (2, holes - 1))
    solid = mesh(laid(plate, holes, *bends))
    assert solid.is_watertight
    assert solid.is_winding_consistent
    assert solid.volume > 0.0
    # Euler's formula: 2 - 2 g, one handle for each hole that goes through.
    assert solid.euler_number == 2 - 2 * holes
    # single precision, as in an STL a metre from the origin, folds none of it
    far = trimesh.Trimesh((solid.vertices + 600.0).astype(np.float32), solid.faces, process=False)
    far.merge_vertices()
    assert far.is_watertight
    again = manifold3d.Manifold(
        manifold3d.Mesh64(np.array(solid.vertices), np.array(solid.faces, dtype=np.uint64))
    )
    assert again.status() == manifold3d.Error.NoError
    assert again.genus() == holes


def test_a_bent_plate_keeps_its_length_and_its_volume(catalogue):
    plate = catalogue.plates["Narrow4.5"]
    bends = np.array([3.0, -4.0, 0.0, 8.0, 0.0, 4.0, -3.0])
    flat, curved = laid(plate, 8), laid(plate, 8, bends)
    run = [np.linalg.norm(np.diff(b.points, axis=0), axis=1).sum() for b in (flat, curved)]
    assert run[0] == pytest.approx(plate.length(8))
    assert run[1] == pytest.approx(plate.length(8))
    # Pappus: a bend of `a` radians lengthens the middle of the section, half a thickness over
    # the line that keeps its length, by a t / 2.
    more = plate.width * plate.thickness * np.radians(bends.sum()) * plate.thickness / 2
    gained = mesh(curved, holes=False).volume - mesh(flat, holes=False).volume
    assert gained == pytest.approx(more, rel=0.05)
    # a twist turns sections about a line in their own plane, which changes no volume
    twisted = mesh(laid(plate, 8, bends, 2 * bends), holes=False).volume
    assert twisted == pytest.approx(mesh(curved, holes=False).volume, rel=5e-3)


def test_holes_open_at_their_places_and_along_their_axes(catalogue):
    plate = catalogue.plates["Narrow4.5"]
    curved = laid(plate, 6, [5, 0, 10, 0, -5], [4, 4, 0, -6, 2])
    solid = mesh(curved)
    thread = plate.hole.thread[-1] / 2
    frames = curved.hole_frames
    for side, open_to in ((0, thread + plate.hole.shift), (1, thread)):
        for reach, met in ((open_to - 0.05, False), (plate.hole.seat + 1.2, True)):
            for sign in (-1, 1):
                start = curved.centres + sign * reach * frames[:, side] + 20 * frames[:, 2]
                start += 0.013 * frames[:, 0] + 0.007 * frames[:, 1]  # off every edge
                assert (solid.ray.intersects_any(start, -frames[:, 2]) == met).all()


def test_items_of_a_plate(catalogue):
    plate = catalogue.plates["Narrow4.5"]
    curved = laid(plate, 6)
    uses = ("neutral", "neutral", "eccentric", "empty", "lag", "neutral")
    items = bent_items("plate 1", "plate 1  Narrow4.5, 6 holes", curved, uses, plate_solid(curved))
    assert [item.role for item in items] == ["plate", "label", *["number"] * 3]
    assert [item.label for item in items[1:]] == [
        "plate 1  Narrow4.5, 6 holes", "3 eccentric", "4 empty", "5 lag",
    ]  # fmt: skip
    for item, centre in zip(items[2:], curved.centres[2:5], strict=True):
        over = (item.points[0] - centre) @ TURN[2]
        assert over > plate.thickness + 4.6  # clear of a head of 4.6 mm
    for part in ("head", "bone", "fracture", "thread", "shank"):
        assert abs(lightness(COLOURS["plate"]) - lightness(COLOURS[part])) > 10, part
