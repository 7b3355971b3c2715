"""Lines that run side by side are walked together: the same crossings as each line alone."""

import numpy as np
import pytest
import specimens
import trimesh
from lines import turned, unit

from trajplan.bone._rows import LANES, WIDTH, packets
from trajplan.bone._rule import brute_crossings
from trajplan.bone._tree import ROOM, TreeCaster

RNG = np.random.default_rng(11)


def both(triangles, origin, direction):
    """Crossings of the lines in packets, and of the same lines each by itself."""
    caster = TreeCaster(triangles)
    apart = np.arange(len(origin)).reshape(-1, 17).T.ravel()  # no neighbours run parallel
    alone = caster.crossings(origin[apart], direction[apart])
    place = np.argsort(apart, kind="stable")
    rows = [np.arange(alone.offsets[i], alone.offsets[i + 1]) for i in place]
    order = np.concatenate(rows)
    counts = np.diff(alone.offsets)[place]
    return caster.crossings(origin, direction), (counts, *(
        getattr(alone, name)[order] for name in ("depth", "sign", "face")
    ))  # fmt: skip


def assert_same(triangles, origin, direction):
    together, (counts, depth, sign, face) = both(triangles, origin, direction)
    np.testing.assert_array_equal(np.diff(together.offsets), counts)
    np.testing.assert_array_equal(together.depth, depth)  # to the last bit
    np.testing.assert_array_equal(together.sign, sign)
    np.testing.assert_array_equal(together.face, face)
    return together


def grid(count):
    """A cube of `count` mm whose vertices are whole numbers."""
    box = trimesh.creation.box([count] * 3)
    box.apply_translation([count / 2] * 3)
    for _ in range(int(np.log2(count))):
        box = box.subdivide()
    return np.round(box.vertices)[box.faces]


def bundles(places, ways, offsets):
    """Seventeen lines each way, by `offsets` (17, 3) from each place."""
    origin = (places[:, None] + offsets[None]).reshape(-1, 3)
    return origin, np.repeat(ways, len(offsets), axis=0)


@pytest.mark.parametrize("way", [(0, 0, 1), (-1, 0, 0), (1, 1, 0), (1, 1, 1), (2, 1, 0)])
@pytest.mark.parametrize("half", [0.0, 0.5])
def test_packets_through_vertices_and_along_edges(way, half):
    """Every line meets vertices of the grid, or edges, to the last bit."""
    way = np.array(way, float)
    across = np.cross(way, [0, 0, 1] if way[:2].any() else [1, 0, 0])
    other = np.cross(way, across)
    step = np.array([(i, j) for i in range(-2, 3) for j in range(-2, 3)][:17], float)
    offsets = step[:, :1] * across + step[:, 1:] * other / np.abs(other).max()
    places = RNG.integers(0, 9, (60, 3)) + half * (way[[1, 2, 0]] == 0) - 40 * way
    origin, direction = bundles(places, np.tile(way, (60, 1)), offsets)
    triangles = grid(8)
    found = assert_same(triangles, origin, direction)
    line = np.repeat(np.arange(len(origin)), np.diff(found.offsets))
    assert len(line) > 300
    assert not np.bincount(line, found.sign, len(origin)).any()  # in as often as out
    expected = brute_crossings(triangles, origin, direction)
    np.testing.assert_array_equal(found.face, expected.face)
    np.testing.assert_array_equal(found.sign, expected.sign)


SOUP = RNG.uniform(0, 50, (500, 1, 3)) + 3 * RNG.normal(size=(500, 3, 3))
SOUP[::7, 2] = SOUP[::7, 1]
SOUP[::11, 2] = (SOUP[::11, 0] + SOUP[::11, 1]) / 2
SPHERE, TUBE = specimens.sphere(subdivisions=3), turned(specimens.tube(sides=400, length=200.0))
ODD = {
    "sphere": SPHERE[0][SPHERE[1]],
    "slivers 200 mm long": TUBE[0][TUBE[1]],
    "soup with flat ones": SOUP,
    "twelve huge ones far away": trimesh.creation.box([2000, 3, 1500]).triangles
    + np.array([1e4, -2e4, 3e3]),
    "a cube of 0.008 mm": grid(8) * 1e-3,
}


@pytest.mark.parametrize("name", ODD)
@pytest.mark.parametrize("length", [1.0, 1e3])
def test_packets_through_odd_meshes(name, length):
    triangles = ODD[name]
    corners = triangles.reshape(-1, 3)
    size = np.ptp(corners, axis=0).max()
    places = corners[RNG.integers(len(corners), size=80)]
    ways = length * unit(RNG.normal(size=(80, 3)))
    origin, direction = bundles(places, ways, 0.03 * size * RNG.normal(size=(17, 3)))
    found = assert_same(triangles, origin, direction)
    assert found.offsets[-1] > 100


def test_a_line_of_a_packet_may_have_more_crossings_than_there_is_room_for():
    plates = 3 * ROOM
    square = np.array([[-9, -9, 0], [30, -9, 0], [-9, 30, 0]], dtype=float)
    triangles = square + np.arange(plates)[:, None, None] * [0, 0, 1]
    triangles[plates // 4 :] *= [0.1, 0.1, 1.0]  # the outer lines meet the first quarter only
    offsets = np.array([[x, 0, 0] for x in np.linspace(0, 6, 17)])
    origin, direction = bundles(np.array([[0.1, 0.1, -2.0]]), np.array([[0, 0, 1.0]]), offsets)
    found = assert_same(triangles, origin, direction)
    assert np.diff(found.offsets).max() == plates
    assert np.diff(found.offsets).min() == plates // 4


def test_what_makes_a_packet():
    way = np.tile([0.0, 0, 1], (40, 1))
    place = np.zeros((40, 3))
    assert packets(place, way).tolist() == [0, LANES, 40]
    assert packets(place[:0], way[:0]).tolist() == [0]
    way[5] = [0, np.nextafter(0, 1), 1]  # parallel but for the last bit
    assert packets(place, way).tolist() == [0, 5, 6, 30, 40]
    place[3:, 0] = WIDTH + 1e-9
    assert packets(place, way).tolist() == [0, 3, 5, 6, 30, 40]
