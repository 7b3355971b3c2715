"""Passes: what counts as one way through bone, and what as leaving it."""

import numpy as np
import pytest
from builders import bone_of, notched, screws_in, zone_of
from specimens import box, halves, joined, lathe, pipe

from trajplan.arrays import offsets_of
from trajplan.bone import Spans
from trajplan.trajectory import Axes, cast, passes


def spans(*lines):
    """Spans of lines from ``(start, end, body)``."""
    flat = [span for line in lines for span in line]
    start, end, body = np.array(flat, dtype=float).reshape(-1, 3).T
    return Spans(
        offsets=offsets_of([len(line) for line in lines]),
        start=start,
        end=end,
        body=body.astype(np.int64),
        known=np.ones(len(flat), dtype=bool),
        start_face=np.arange(len(flat)),
        end_face=np.arange(len(flat)) + 100,
    )


def joined_up(*line):
    found = passes(spans(line))
    return list(zip(found.start.tolist(), found.end.tolist(), strict=True))


def test_spans_of_two_bodies_across_a_fracture_gap():
    assert joined_up((0, 5, 0), (5, 9, 1)) == [(0, 9)]
    assert joined_up((0, 5, 0), (8, 9, 1)) == [(0, 9)]  # 3 mm, the most
    assert joined_up((0, 5, 0), (8.001, 9, 1)) == [(0, 5), (8.001, 9)]


def test_a_notch_in_one_body_stays_a_notch():
    assert joined_up((0, 5, 0), (5.1, 9, 0)) == [(0, 5), (5.1, 9)]


def test_overlapping_and_nested_spans():
    assert joined_up((0, 9, 0), (2, 4, 1), (5, 12, 1), (20, 30, 0)) == [(0, 12), (20, 30)]
    assert joined_up((0, 9, 0), (2, 4, 1), (11, 12, 1)) == [(0, 12)]


def test_lines_stay_apart_and_may_be_empty():
    found = passes(spans([(0, 5, 0)], [], [(6, 7, 1), (8, 9, 2)]))
    assert found.offsets.tolist() == [0, 1, 1, 2]
    assert found.end.tolist() == [5, 9]
    assert found.end_face.tolist() == [100, 102]
    assert passes(spans()).offsets.tolist() == [0]


@pytest.mark.parametrize("gap", [0.0, 1.0, 2.0])
def test_a_canal_between_two_fragments(gap):
    """Through the near wall of one half, the canal, and the far wall of the other.

    The last axis meets the fracture in the near wall, which is one wall all the same.
    """
    bone, whole = bone_of(halves(gap)), bone_of(pipe(length=100.0))
    middle = np.array([[0.0, 0, 50], [2, 3, 52], [-4, 0, 46], [11.5, 0, 61.5]])
    middle[:, 2] += gap / 2
    direction = np.tile(np.array([-1.0, 0, 1]) / np.sqrt(2), (len(middle), 1))
    start = middle - 60 * direction
    zone = zone_of(whole, [0, 0, 50 + gap / 2], [-1, 0, 1])
    here = screws_in(bone, start, direction, zones=zone)
    there = screws_in(whole, start, direction, zones=zone)
    assert not here.corridors.leaves.any()
    assert here.crossing.inside.all()
    assert here.corridors.canal.all()
    assert here.corridors.exit == pytest.approx(there.corridors.exit, abs=1e-6)
    assert here.walls.near == pytest.approx(there.walls.near, abs=1e-6)
    assert here.walls.far == pytest.approx(there.walls.far, abs=1e-6)


def test_without_a_fracture_two_bodies_are_two_bones():
    plates = joined(box((-40, -40, -8), (40, 40, 0)), box((-40, -40, -30), (40, 40, -18)))
    axes = Axes.along([[0, 0, 9.0]], [[0, 0, -1.0]])
    radius = np.array([2.25])
    assert cast(bone_of(plates), axes, radius, ring=8).exit.tolist() == [8.0]
    beyond = cast(bone_of(plates), axes, radius, ring=8, crossing=np.array([33.0]))
    assert beyond.exit.tolist() == [30.0]
    assert beyond.leaves.tolist() == [True]


def test_a_groove_or_notch_is_no_canal():
    groove = bone_of(lathe((10, 10, 6, 6, 10, 10), (0, 40, 40, 44, 44, 80)))
    axes = Axes.along([[7.0, 0, 99]], [[0, 0, -1.0]])
    corridors = cast(groove, axes, np.array([0.5]), ring=8, crossing=np.array([79.0]))
    assert corridors.leaves.tolist() == [True]
    assert corridors.canal.tolist() == [False]
    axes = Axes.along([[-60.0, 25, 25]], [[1.0, 0, 0]])
    corridors = cast(notched(), axes, np.array([2.0]), ring=8, crossing=np.array([80.0]))
    assert (corridors.leaves.tolist(), corridors.canal.tolist()) == ([True], [False])
