"""From crossings to spans: touching, nested, turned over, open; and the questions to spans."""

import numpy as np
import pytest
import specimens
from lines import random_lines, rows
from specimens import joined

from trajplan.bone import (
    Spans,
    as_surface,
    containing,
    covered,
    covered_unknown,
    first_after,
    line_spans,
    make_bone,
    overlapping,
)
from trajplan.errors import MeshError

ALONG_X = np.array([[1.0, 0.0, 0.0]])


def bone_of(mesh, **options):
    return make_bone(as_surface(mesh), **options)


def along_x(bone, x=-100.0, y=0.3, z=0.2):
    return line_spans(bone, np.array([[x, y, z]]), ALONG_X)


def pairs(spans):
    return np.column_stack([spans.start, spans.end]).tolist()


def assert_pairs(spans, expected):
    np.testing.assert_allclose(np.array(pairs(spans)).reshape(-1, 2), expected, atol=1e-9)


def test_cube_and_its_faces():
    found = along_x(bone_of(specimens.cube(10.0)), x=-20.0)
    assert_pairs(found.solid, [[15.0, 25.0]])
    assert_pairs(found.outer, [[15.0, 25.0]])
    assert found.solid.known.all()
    assert found.balanced.all()
    assert found.solid.start_face[0] in (0, 1)  # the faces at low x
    assert found.solid.end_face[0] in (2, 3)


def test_origin_inside_the_bone():
    assert_pairs(along_x(bone_of(specimens.cube(10.0)), x=1.0).solid, [[-6.0, 4.0]])


def test_normals_that_point_inwards_change_nothing():
    assert_pairs(along_x(bone_of(specimens.flipped_cube(10.0)), x=-20.0).solid, [[15, 25]])


@pytest.mark.parametrize("inner_outward", [False, True])
def test_nested_shell_is_a_hollow_whatever_its_normals_say(inner_outward):
    bone = bone_of(specimens.nested_cubes(30.0, 10.0, inner_outward))
    found = along_x(bone, x=0.0)
    assert_pairs(found.solid, [[-15, -5], [5, 15]])
    assert_pairs(found.outer, [[-15, 15]])
    assert found.balanced.all()


def test_island_in_a_hollow_is_bone():
    mesh = joined(specimens.cube(30.0), specimens.cube(20.0), specimens.cube(10.0))
    found = along_x(bone_of(mesh), x=0.0)
    assert_pairs(found.solid, [[-15, -10], [-5, 5], [10, 15]])
    assert_pairs(found.outer, [[-15, 15]])


@pytest.mark.parametrize("apart", [False, True])
def test_touching_boxes_keep_a_span_each(apart):
    if apart:
        parts = [
            as_surface(specimens.box((0, -5, -5), (10, 5, 5))),
            as_surface(specimens.box((10, -5, -5), (30, 5, 5))),
        ]
        found = along_x(make_bone(parts), x=0.0)
    else:
        found = along_x(bone_of(specimens.touching_boxes()), x=0.0, y=2.0, z=3.0)
    assert_pairs(found.solid, [[0, 10], [10, 30]])
    assert found.solid.body.tolist() == [0, 1]
    assert found.balanced.all()


def test_overlapping_bodies_keep_their_own_spans():
    parts = [
        as_surface(specimens.box((0, -5, -5), (10, 5, 5))),
        as_surface(specimens.box((8, -5, -5), (30, 5, 5))),
    ]
    found = along_x(make_bone(parts), x=0.0)
    assert_pairs(found.solid, [[0, 10], [8, 30]])
    assert found.solid.known.all()
    np.testing.assert_allclose(covered(found.solid, np.array([0.0]), np.array([40.0])), [30.0])


def test_what_is_bone_is_not_known_where_a_surface_runs_through_itself():
    """One closed shell, entered twice before it is left: a fold, or two walls; nobody knows."""
    vertices, faces = specimens.lathe((5.0, 5.0), (0.0, 10.0), 8)
    knot = joined((vertices, faces), (vertices + np.array([0.0, 0.0, 6.0]), faces))
    bone = bone_of(knot)
    one_shell = bone.shells.__class__(
        of_face=np.zeros(len(bone.surface.faces), np.int64),
        **{
            name: getattr(bone.shells, name)[:1]
            for name in ("closed", "wound", "outward", "nesting", "body", "volume")
        },
    )
    bone = bone.__class__(
        bone.surface, one_shell, bone.audit, bone.normals, bone.caster, bone.winding
    )
    found = line_spans(bone, np.array([[0.3, 0.2, -50.0]]), np.array([[0.0, 0.0, 1.0]]))
    assert_pairs(found.solid, [[50, 56], [56, 60], [60, 66]])
    assert not found.balanced.any()
    assert found.solid.known.tolist() == [True, False, True]


def test_walls_that_coincide_leave_no_sliver():
    """A hollow that reaches the outside through a coinciding wall."""
    bone = bone_of(joined(specimens.cube(20.0), specimens.box((-10, -4, -4), (0, 4, 4))))
    shells = bone.shells
    nested = shells.__class__(
        of_face=shells.of_face, closed=shells.closed, wound=shells.wound,
        outward=shells.outward, nesting=np.array([0, 1]), body=np.array([0, 0]),
        volume=shells.volume,
    )  # fmt: skip
    bone = bone.__class__(bone.surface, nested, bone.audit, bone.normals, bone.caster, bone.winding)
    assert_pairs(along_x(bone, x=0.0).solid, [[0, 10]])


def test_two_spans_of_a_notched_body():
    """A pipe, open from end to end, is one shell with two walls on a line across."""
    found = line_spans(
        bone_of(specimens.pipe(14.0, 9.0, 100.0, sides=4)),
        np.array([[-50.0, 0.0, 40.3]]), ALONG_X,
    )  # fmt: skip
    assert_pairs(found.solid, [[36, 41], [59, 64]])
    assert found.balanced.all()


def test_edges_and_vertices_give_the_spans_of_a_neighbour():
    bone = bone_of(specimens.cube(10.0))
    for y, z in ((5.0, 0.3), (-5.0, 0.3), (5.0, 5.0), (-5.0, 5.0), (0.0, 0.0)):
        here = along_x(bone, 0.0, y, z)
        around = [
            along_x(bone, 0.0, y + a, z + b).solid for a in (-1e-7, 1e-7) for b in (-1e-7, 1e-7)
        ]
        assert here.balanced.all()
        assert any(
            np.allclose(np.array(pairs(here.solid)).ravel(), np.array(pairs(n)).ravel(), atol=1e-6)
            for n in around
            if len(n.start) == len(here.solid.start)
        )


def test_open_box_across_its_walls_is_known():
    found = along_x(bone_of(specimens.open_box(10.0)), x=0.0)
    assert_pairs(found.solid, [[-5, 5]])
    assert found.solid.known.all()


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_open_box_through_its_hole_is_not_known(way):
    found = line_spans(
        bone_of(specimens.open_box(10.0)), np.array([[0.3, 0.2, 0.0]]), np.array([[0, 0, way]])
    )
    assert not found.balanced.any()
    assert found.solid.known.tolist() == [False]
    depth, face = (
        (found.solid.end[0], found.solid.end_face[0]) if way > 0
        else (-found.solid.start[0], found.solid.start_face[0])
    )  # fmt: skip
    assert face == -1
    # half the full solid angle is seen from the middle of the missing face, by symmetry
    assert abs(depth - 5.0) < 0.1
    wall = found.solid.start[0] if way > 0 else -found.solid.end[0]
    assert wall == pytest.approx(-5.0, abs=1e-9)


def test_open_sheet_is_no_bone():
    vertices, faces = specimens.box((-5, -5, 0), (5, 5, 10))
    sheet = vertices, faces[:2]
    origin, direction = random_lines(50, -5, 5)
    found = line_spans(bone_of(joined(specimens.cube(4.0), sheet)), origin, direction)
    body = found.solid.body
    assert (body == body[0]).all()


def test_missing_wall_inside_a_row_of_crossings():
    """Five walls of six: the winding number tells which gaps are bone."""
    vertices, faces = specimens.box((-5, -5, -5), (5, 5, 5))
    holed = vertices, faces[[0, 1, 4, 5, 6, 7, 8, 9, 10, 11]]  # no wall at high x
    far = specimens.box((20, -5, -5), (30, 5, 5))
    found = along_x(bone_of(joined(holed, far)), x=0.0)
    assert found.solid.known.tolist() == [False, True]
    assert_pairs(found.solid.take(np.array([0])), [[-5, found.solid.end[0]], [20, 30]])
    assert abs(found.solid.end[0] - 5.0) < 0.1


def prongs(gap, *missing):
    """A U of two prongs, 10 mm thick in x, `gap` mm apart; some walls of the gap missing.

    Wall 5 is that of the left prong (x = 10), wall 3 that of the right one (x = 10 + gap).
    """
    right = 10.0 + gap
    outline = np.array([
        [0, 0], [right + 10, 0], [right + 10, 20], [right, 20],
        [right, 5], [10, 5], [10, 20], [0, 20],
    ], dtype=float)  # fmt: skip
    cap = np.array([[0, 5, 6], [0, 6, 7], [0, 1, 4], [0, 4, 5], [1, 2, 3], [1, 3, 4]])
    front = np.insert(outline, 1, -5.0, axis=1)
    back = np.insert(outline, 1, 5.0, axis=1)
    i = np.array([k for k in range(8) if k not in missing])
    j = (i + 1) % 8
    walls = [np.stack([i, j + 8, j], axis=1), np.stack([i, i + 8, j + 8], axis=1)]
    return np.concatenate([front, back]), np.concatenate([cap, cap[:, ::-1] + 8, *walls])


def across_prongs(gap, *missing):
    bone = bone_of(prongs(gap, *missing))
    assert bone.audit.closed == (not missing)
    assert bone.audit.wound
    return along_x(bone, x=-20.0, z=15.0)


def test_whole_prongs():
    assert_pairs(across_prongs(50.0).solid, [[20, 30], [80, 90]])


def test_wall_missing_between_prongs_far_apart():
    """The air between is outside by the winding number; the left prong ends in its hole."""
    found = across_prongs(50.0, 5)
    assert not found.balanced.any()
    assert found.solid.known.tolist() == [False, True]
    assert found.solid.end_face[0] == -1
    np.testing.assert_allclose(found.solid.start, [20, 80], atol=1e-9)
    np.testing.assert_allclose(found.solid.end, [30, 90], atol=0.2)


def test_both_walls_missing_leave_a_line_that_balances_and_is_wrong():
    """Enter, leave, and 50 mm of air between: the winding number contradicts the count."""
    found = across_prongs(50.0, 5, 3)
    assert found.solid.known.tolist() == [False, False]
    np.testing.assert_allclose(found.solid.start, [20, 80], atol=0.2)
    np.testing.assert_allclose(found.solid.end, [30, 90], atol=0.2)
    assert found.solid.start_face[1] == -1


def test_narrow_gap_with_a_missing_wall_is_not_known():
    """The middle of the stretch lies in the hole, where the winding number is about a half."""
    found = across_prongs(10.0, 5)
    assert found.solid.known.tolist() == [False, True]
    assert_pairs(found.solid, [[20, 40], [40, 50]])


def test_hollow_that_is_not_known_does_not_take_bone_away():
    """An open canal: where its own inside is in doubt, so is the bone."""
    bone = bone_of(joined(specimens.cube(30.0), specimens.open_box(10.0)))
    assert bone.shells.nesting.tolist() == [0, 1]
    found = line_spans(bone, np.array([[0.3, 0.2, 0.0]]), np.array([[0.0, 0.0, 1.0]]))
    assert_pairs(found.outer, [[-15, 15]])
    assert found.solid.known.tolist() == [True, False, True]
    assert found.solid.start[1] == pytest.approx(-5.0, abs=1e-9)
    assert found.solid.end[1] == found.solid.start[2]


def test_five_hundred_stray_bodies():
    rng = np.random.default_rng(1)
    cubes = [specimens.cube(1.0, centre) for centre in rng.uniform(-20, 20, (500, 3))]
    bone = bone_of(joined(*cubes))
    origin, direction = random_lines(300, -20, 20)
    found = line_spans(bone, origin, direction)
    alone = [line_spans(bone_of(cube), origin, direction).solid for cube in cubes[:5]]
    for number, spans in enumerate(alone):
        mine = np.flatnonzero(found.solid.body == number)
        np.testing.assert_allclose(found.solid.start[mine], spans.start, atol=1e-9)
    assert found.balanced.all()


def test_no_line():
    found = line_spans(bone_of(specimens.cube()), np.zeros((0, 3)), np.zeros((0, 3)))
    assert found.solid.offsets.tolist() == [0]
    assert len(found.balanced) == 0


def test_open_piece_in_a_group_is_left_out_and_a_closed_one_is_not():
    vertices, faces = joined(specimens.cube(10.0), specimens.open_box(4.0))
    plain = as_surface((vertices, faces))
    grouped = plain.__class__(
        plain.vertices, plain.faces,
        {"fracture": np.arange(12, len(faces)), "bone": np.arange(12), "part": np.arange(5)},
        plain.name, plain.sha256, plain.merged,
    )  # fmt: skip
    assert len(make_bone(grouped).surface.faces) == len(faces)
    without = make_bone(grouped, leave_out=["fracture", "nowhere"])
    assert len(without.surface.faces) == 12
    assert without.surface.groups["bone"].tolist() == list(range(12))
    assert without.surface.groups["fracture"].tolist() == []
    assert len(make_bone(grouped, leave_out=["bone", "part"]).surface.faces) == len(faces)


def test_nothing_given_and_nothing_left():
    with pytest.raises(MeshError, match="at least one"):
        make_bone([])
    plain = as_surface(specimens.open_box())
    only = plain.__class__(
        plain.vertices, plain.faces, {"all": np.arange(len(plain.faces))}, "x.obj", "", 0
    )
    with pytest.raises(MeshError, match=r"x\.obj.*nothing is left"):
        make_bone(only, leave_out=["all"])


def spans_of(*lines):
    """Spans from lists of (start, end, known)."""
    flat = np.array([span for line in lines for span in line], dtype=float).reshape(-1, 3)
    zero = np.zeros(len(flat), np.int64)
    return Spans(
        np.cumsum([0] + [len(line) for line in lines]),
        flat[:, 0], flat[:, 1], zero, flat[:, 2].astype(bool), zero, zero,
    )  # fmt: skip


SPANS = spans_of([(0, 5, 1), (3, 8, 1), (10, 12, 0), (11, 14, 1)], [], [(-4, -1, 1)])


def test_covered_counts_overlaps_once_and_known_before_unknown():
    low, high = np.array([4.0, 0, -10]), np.array([13.0, 9, 10])
    np.testing.assert_allclose(covered(SPANS, low, high), [6.0, 0.0, 3.0])
    np.testing.assert_allclose(covered_unknown(SPANS, low, high), [1.0, 0.0, 0.0])


def test_covered_by_an_empty_or_missing_stretch_is_nothing():
    low, high = np.array([5.0, 0, np.nan]), np.array([4.0, 9, np.nan])
    np.testing.assert_array_equal(covered(SPANS, low, high), 0.0)
    np.testing.assert_array_equal(covered_unknown(SPANS, low, high), 0.0)


def test_covered_agrees_with_counting_points():
    rng = np.random.default_rng(0)
    start = np.sort(rng.uniform(0, 50, (40, 6)))
    lines = [[(s, s + w, k) for s, w, k in zip(row, rng.uniform(0, 12, 6), rng.random(6) < 0.6,
              strict=True)] for row in start]  # fmt: skip
    spans = spans_of(*lines)
    low, high = rng.uniform(0, 20, 40), rng.uniform(20, 60, 40)
    steps = 20000
    for i, (a, b) in enumerate(zip(low, high, strict=True)):
        points = a + (b - a) * (np.arange(steps) + 0.5) / steps
        known = np.any([(s <= points) & (points < e) for s, e, k in lines[i] if k], axis=0)
        either = np.any([(s <= points) & (points < e) for s, e, _ in lines[i]], axis=0)
        tolerance = 14 * (b - a) / steps
        assert abs(covered(spans, low, high)[i] - known.mean() * (b - a)) < tolerance
        rest = (either & ~known).mean() * (b - a)
        assert abs(covered_unknown(spans, low, high)[i] - rest) < tolerance


def test_first_after_and_containing():
    assert first_after(SPANS, np.array([5.0, 0.0, -1.0])).tolist() == [1, -1, -1]
    assert first_after(SPANS, np.array([-9.0, 0.0, -9.0])).tolist() == [0, -1, 4]
    assert containing(SPANS, np.array([5.0, 0.0, -1.0])).tolist() == [0, -1, 4]
    assert containing(SPANS, np.array([9.0, 0.0, np.nan])).tolist() == [-1, -1, -1]


def test_overlapping():
    start, end = overlapping(SPANS, np.array([8.0, 0, 0]), np.array([11.0, 9, 9]))
    np.testing.assert_array_equal(start, [3.0, np.nan, np.nan])
    np.testing.assert_array_equal(end, [14.0, np.nan, np.nan])


def test_take_keeps_order_and_repeats():
    chosen = SPANS.take(np.array([2, 0, 1, 2]))
    assert chosen.offsets.tolist() == [0, 1, 5, 5, 6]
    starts = [row.tolist() for row in rows(chosen.offsets, chosen.start)]
    assert starts == [[-4.0], [0.0, 3.0, 10.0, 11.0], [], [-4.0]]
    assert SPANS.take(np.zeros(0, np.int64)).offsets.tolist() == [0]
