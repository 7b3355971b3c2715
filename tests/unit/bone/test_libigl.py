"""The calls into libigl: whatever they are given, one answer, the same in every process."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from specimens import cube, joined, sphere, tube

from trajplan.bone import as_surface, element_distance, line_spans, make_bone, oriented
from trajplan.bone._libigl import NearestTree, WindingTree, apart, turned_alike

NO_FACES = np.empty((0, 3), dtype=np.int64)
#: Three needle faces 0.0002 mm wide; their corners weld, and no face with three is left.
NEEDLES = (
    np.array([[20, 0, 40], [20, 2e-4, 40], [23, 0, 40], [23, 2e-4, 40], [26, 1e-4, 40]]),
    np.array([[0, 1, 2], [1, 3, 2], [2, 3, 4]]),
)


def with_needles():
    """Winding numbers round the needles, and spans of lines through them and through the bone."""
    bone = make_bone(as_surface(joined(tube(), NEEDLES)))
    near = np.random.default_rng(0).normal((20.0, 0.0, 40.0), size=(20, 3))
    origin = np.array([[21.0, 1e-4, 60.0], [-60.0, 0.1, 40.0], [25.0, 1e-4, 60.0]])
    direction = np.array([[0.0, 0.0, -1.0], [1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])
    spans = line_spans(bone, origin, direction).solid
    return bone.winding.number(2, near), spans


def test_needles_are_no_bone():
    number, spans = with_needles()
    assert (number == 0.0).all()
    assert np.diff(spans.offsets).tolist() == [0, 2, 0]
    assert spans.known.all()


def test_every_process_gives_the_same_answer():
    """Given no faces, libigl read what lay in memory: 8 of 12 runs died, 4 answers differed."""
    script = (
        "from test_libigl import with_needles; number, spans = with_needles();"
        "print(number.tobytes().hex(), spans.start.tobytes().hex(), spans.known.tolist())"
    )
    path = os.pathsep.join([*sys.path, str(Path(__file__).parent)])
    runs = [
        subprocess.run(
            [sys.executable, "-c", script], capture_output=True, text=True, check=False,
            env=os.environ | {"PYTHONPATH": path}, timeout=300,
        )
        for _ in range(3)
    ]  # fmt: skip
    assert [run.returncode for run in runs] == [0, 0, 0], runs[0].stderr
    assert len({run.stdout for run in runs}) == 1


@pytest.mark.parametrize(
    "mesh",
    [
        (np.zeros((0, 3)), NO_FACES),
        (np.zeros((3, 3)), np.array([[0, 1, 2]])),
        (np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), np.array([[0, 1, 2], [0, 0, 1]])),
        (np.array([[0.0, 0, 0], [1, 0, 0], [np.nan, 1, 0]]), np.array([[0, 1, 2]])),
        (np.array([[0.0, 0, 0], [1, 0, 0], [np.inf, 1, 0]]), np.array([[0, 1, 2]])),
    ],
    ids=["no face", "one point", "one line", "NaN", "infinite"],
)
def test_faces_without_area_wind_round_nothing(mesh):
    tree = WindingTree(*mesh)
    assert tree.number(np.array([[0.2, 0.1, 0.0], [5.0, 5.0, 5.0]])).tolist() == [0.0, 0.0]
    assert np.isnan(tree.number(np.array([[np.nan, 0.0, 0.0]]))).all()


def test_they_change_nothing_beside_a_body():
    vertices, faces = joined(cube(), NEEDLES, (np.array([[0, 0, 0], [np.nan, 1, 0], [1, 1, 1.0]]),
                                               np.array([[0, 1, 2]])))  # fmt: skip
    number = WindingTree(vertices, faces).number(np.array([[0.0, 0, 0], [20, 20, 20], [4, 4, 4]]))
    assert number == pytest.approx([1.0, 0.0, 1.0], abs=1e-3)


@pytest.mark.parametrize("away", [0.0, 1e5, 1e7])
def test_winding_numbers_far_from_the_origin(away):
    """A sphere's is 1 inside and 0 outside wherever it stands: the tree is single precision."""
    vertices, faces = sphere()
    points = np.array([[0.0, 0, 0], [9.5, 0, 0], [10.5, 0, 0]]) + away
    number = WindingTree(vertices + away, faces).number(points)
    assert number == pytest.approx([1.0, 1.0, 0.0], abs=0.02)


def test_no_elements_and_no_points():
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    two = np.array([[0, 1]])
    assert element_distance(vertices, vertices, NO_FACES).tolist() == [np.inf] * 3
    assert element_distance(np.zeros((0, 3)), vertices, two).tolist() == []
    points = np.array([[0.5, 0, 2.0], [np.nan, 0, 0], [3.0, 0, 0]])
    assert element_distance(points, vertices, two) == pytest.approx([2, np.nan, 2], nan_ok=True)
    square, face, nearest = NearestTree(vertices, NO_FACES).nearest(vertices)
    assert (square.tolist(), face.tolist()) == ([np.inf] * 3, [-1] * 3)
    assert np.isnan(nearest).all()
    assert len(NearestTree(vertices, np.array([[0, 1, 2]])).nearest(np.zeros((0, 3)))[0]) == 0


def test_faces_with_a_repeated_corner_stay_as_they_are():
    faces = np.array([[0, 0, 1], [0, 1, 2], [1, 0, 3], [2, 2, 2]])
    assert oriented(faces).tolist() == faces.tolist()
    assert turned_alike(faces)[0].tolist() == faces.tolist()
    assert turned_alike(NO_FACES)[0].shape == (0, 3)
    assert apart(NO_FACES)[0].shape == (0, 3)
