"""The plain engine gives the very crossings of the compiled one."""

import numpy as np
import pytest
import specimens
from lines import aimed_lines, random_lines, turned

from trajplan.bone import _cast as cast_module
from trajplan.bone import make_caster
from trajplan.bone._fallback import LINES_AT_ONCE, FallbackCaster
from trajplan.bone._tree import TreeCaster

MESHES = {
    "cube": specimens.cube(),
    "turned sphere": turned(specimens.sphere(subdivisions=2)),
    "tube": specimens.tube(sides=12, length=20.0),
    "touching boxes": specimens.touching_boxes(),
}


@pytest.mark.parametrize("name", MESHES)
def test_both_engines_give_the_same_crossings(name):
    vertices, faces = MESHES[name]
    plain, compiled = FallbackCaster(vertices[faces]), TreeCaster(vertices[faces])
    for origin, direction in (random_lines(200), aimed_lines(MESHES[name], 300)):
        got, expected = plain.crossings(origin, direction), compiled.crossings(origin, direction)
        assert expected.offsets[-1] > 100
        for field in ("offsets", "face", "sign"):
            np.testing.assert_array_equal(getattr(got, field), getattr(expected, field))
        np.testing.assert_allclose(got.depth, expected.depth, atol=1e-11)


def test_lines_that_start_beyond_or_inside_the_surface_see_all_of_it():
    vertices, faces = specimens.cube(10.0)
    origin = np.array([[0.1, 0.2, 0.3], [0.1, 0.2, 900.0]])
    got = FallbackCaster(vertices[faces]).crossings(origin, np.tile([0, 0, 1.0], (2, 1)))
    np.testing.assert_allclose(got.depth, [-5.3, 4.7, -905.0, -895.0], atol=1e-12)


def test_more_lines_than_are_cast_together():
    vertices, faces = specimens.cube(10.0)
    count = LINES_AT_ONCE + 3
    got = FallbackCaster(vertices[faces]).crossings(
        np.tile([0.1, 0.2, -20.0], (count, 1)), np.tile([0, 0, 1.0], (count, 1))
    )
    np.testing.assert_array_equal(got.offsets, 2 * np.arange(count + 1))


def test_no_line_and_no_triangle():
    vertices, faces = specimens.cube(10.0)
    origin, direction = random_lines(1)
    assert FallbackCaster(vertices[faces]).crossings(origin[:0], direction[:0]).offsets.size == 1
    nothing = FallbackCaster(np.zeros((0, 3, 3))).crossings(origin, direction)
    assert nothing.offsets.tolist() == [0, 0]


def test_choice_of_engine(monkeypatch):
    triangles = np.zeros((0, 3, 3))
    assert isinstance(make_caster(triangles), TreeCaster)
    assert isinstance(make_caster(triangles, "compiled"), TreeCaster)
    assert isinstance(make_caster(triangles, "plain"), FallbackCaster)
    monkeypatch.setattr(cast_module, "find_spec", lambda name: None)
    assert isinstance(make_caster(triangles), FallbackCaster)
