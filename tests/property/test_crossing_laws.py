"""Laws of crossings and spans: what must not change when nothing that matters changes."""

from dataclasses import fields

import numpy as np
import pytest
import specimens
from hypothesis import given, settings
from hypothesis import strategies as st
from lines import aimed_lines, grazing, random_lines, rows
from scipy.spatial.transform import Rotation

from trajplan.bone import as_surface, line_spans, make_bone

MESHES = {
    "cube": specimens.cube(),
    "sphere": specimens.sphere(subdivisions=2),
    "tube": specimens.tube(sides=12, length=24.0),
    "touching boxes": specimens.touching_boxes(),
    "nested cubes": specimens.nested_cubes(20.0, 8.0),
    "open box": specimens.open_box(),
}
SEEDS = st.integers(0, 2**32 - 1)
FEW = settings(max_examples=8, deadline=None)
NAMES = st.sampled_from(sorted(MESHES))
CLOSED = st.sampled_from(sorted(set(MESHES) - {"open box"}))
COUNTS = st.sampled_from([0, 1, 200])


def spans_of(mesh, origin, direction):
    return line_spans(make_bone(as_surface(mesh)), origin, direction)


def assert_equal_spans(got, expected, atol=1e-9, fields=("solid", "outer")):
    for field in fields:
        ours, theirs = getattr(got, field), getattr(expected, field)
        np.testing.assert_array_equal(ours.offsets, theirs.offsets)
        np.testing.assert_array_equal(ours.known, theirs.known)
        np.testing.assert_allclose(ours.start, theirs.start, rtol=0, atol=atol)
        np.testing.assert_allclose(ours.end, theirs.end, rtol=0, atol=atol)


@FEW
@given(NAMES, SEEDS, COUNTS)
def test_rigid_motion_changes_no_depth(name, seed, count):
    origin, direction = random_lines(count, seed=seed)
    vertices, faces = MESHES[name]
    turn, shift = Rotation.random(rng=np.random.default_rng(seed)), np.array([5.0, -60.0, 200.0])
    moved = turn.apply(vertices) + shift, faces
    lines = turn.apply(origin).reshape(-1, 3) + shift, turn.apply(direction).reshape(-1, 3)
    # where a span ends in a hole, the winding number of libigl decides: good to a part of a mm
    atol = 0.2 if name == "open box" else 1e-9
    assert_equal_spans(spans_of(moved, *lines), spans_of(MESHES[name], origin, direction), atol)


@FEW
@given(CLOSED, SEEDS)
def test_reversed_direction_negates_depths(name, seed):
    for origin, direction in (random_lines(200, seed=seed), aimed_lines(MESHES[name], 200, seed)):
        there = spans_of(MESHES[name], origin, direction)
        back = spans_of(MESHES[name], origin, -direction)
        for field in ("solid", "outer"):
            ours, theirs = getattr(there, field), getattr(back, field)
            np.testing.assert_array_equal(ours.offsets, theirs.offsets)
            for a, b, c, d in zip(
                rows(ours.offsets, ours.start), rows(ours.offsets, ours.end),
                rows(theirs.offsets, theirs.start), rows(theirs.offsets, theirs.end), strict=True,
            ):  # fmt: skip
                np.testing.assert_allclose(np.sort(a), np.sort(-d), atol=1e-10)
                np.testing.assert_allclose(np.sort(b), np.sort(-c), atol=1e-10)
        np.testing.assert_array_equal(there.balanced, back.balanced)


@FEW
@given(CLOSED, SEEDS)
def test_order_of_faces_and_corners_changes_nothing(name, seed):
    rng = np.random.default_rng(seed)
    vertices, faces = MESHES[name]
    shuffled = np.array([np.roll(face, rng.integers(3)) for face in rng.permutation(faces)])
    number = rng.permutation(len(vertices))
    renamed = vertices[np.argsort(number)], number[shuffled]
    for origin, direction in (random_lines(200, seed=seed), aimed_lines(MESHES[name], 200, seed)):
        got = spans_of(renamed, origin, direction)
        assert_equal_spans(got, spans_of(MESHES[name], origin, direction))
        assert got.balanced.all()


@FEW
@given(CLOSED, SEEDS)
def test_turning_all_normals_over_changes_nothing(name, seed):
    origin, direction = random_lines(200, seed=seed)
    got = spans_of(specimens.flipped(MESHES[name]), origin, direction)
    assert_equal_spans(got, spans_of(MESHES[name], origin, direction))


@FEW
@given(CLOSED, SEEDS)
def test_splitting_triangles_in_place_changes_nothing(name, seed):
    import trimesh

    vertices, faces = MESHES[name]
    finer = trimesh.remesh.subdivide(vertices, faces)
    origin, direction = random_lines(200, seed=seed)
    assert_equal_spans(
        spans_of(finer, origin, direction), spans_of(MESHES[name], origin, direction)
    )


@FEW
@given(NAMES, SEEDS)
def test_one_line_is_a_batch_of_one(name, seed):
    bone = make_bone(as_surface(MESHES[name]))
    origin, direction = random_lines(40, seed=seed)
    batch = line_spans(bone, origin, direction)
    for i in range(40):
        one = line_spans(bone, origin[i : i + 1], direction[i : i + 1])
        for field in ("solid", "outer"):
            ours, theirs = getattr(one, field), getattr(batch, field)
            part = slice(theirs.offsets[i], theirs.offsets[i + 1])
            for item in fields(ours)[1:]:
                np.testing.assert_array_equal(
                    getattr(ours, item.name), getattr(theirs, item.name)[part]
                )
        assert one.balanced[0] == batch.balanced[i]


@FEW
@given(CLOSED, SEEDS, st.floats(-300, 300))
def test_sliding_the_origin_shifts_the_depths(name, seed, shift):
    origin, direction = random_lines(200, seed=seed)
    bone = make_bone(as_surface(MESHES[name]))
    here = line_spans(bone, origin, direction)
    there = line_spans(bone, origin - shift * direction, direction)
    np.testing.assert_array_equal(here.solid.offsets, there.solid.offsets)
    np.testing.assert_allclose(there.solid.start - shift, here.solid.start, atol=1e-9)


@FEW
@given(SEEDS)
def test_a_line_through_an_edge_has_the_spans_of_a_neighbour(seed):
    """A shift of 1e-9 mm in one of the four diagonal directions changes nothing beyond 1e-6."""
    mesh = MESHES["sphere"]
    bone = make_bone(as_surface(mesh))
    origin, direction = aimed_lines(mesh, 200, seed)
    clear = ~grazing(bone, origin, direction, line_spans(bone, origin, direction).solid)
    origin, direction = origin[clear], direction[clear]
    here = line_spans(bone, origin, direction).solid
    matched = np.zeros(len(origin), dtype=bool)
    for side in ((1, 1, 1), (1, -1, 1), (-1, 1, 1), (-1, -1, 1), (1, 1, -1), (-1, -1, -1)):
        there = line_spans(bone, origin + 1e-9 * np.array(side), direction).solid
        for i, (a, b, c, d) in enumerate(
            zip(*(rows(s.offsets, x) for s in (here, there) for x in (s.start, s.end)), strict=True)
        ):
            matched[i] |= (
                len(a) == len(c) and np.allclose(a, c, atol=1e-6) and np.allclose(b, d, atol=1e-6)
            )
    assert matched.all()


@pytest.mark.parametrize("name", sorted(set(MESHES) - {"open box"}))
def test_engines_agree_on_every_span(name):
    surface = as_surface(MESHES[name])
    origin, direction = aimed_lines(MESHES[name], 300, seed=7)
    assert_equal_spans(
        line_spans(make_bone(surface, engine="plain"), origin, direction),
        line_spans(make_bone(surface, engine="compiled"), origin, direction),
        atol=1e-11,
    )
