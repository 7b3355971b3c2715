"""Scenes that are hard to read, beside an independent brute force: never wrong in silence."""

import numpy as np
import pytest

from scripts import fuzz_scenes as fuzz

#: What makes these scenes again.
SEED = 11


@pytest.mark.parametrize("number", range(2 * len(fuzz.SCENES)))
def test_what_is_called_known_is_true(number):
    kind, tally, wrong = fuzz.run_scene(number, SEED)
    assert not wrong, kind
    assert tally["right"] >= 0.7 * fuzz.LINES  # and most of it is known


def test_the_judge_sees_a_wrong_depth_and_a_canal_that_is_none():
    scene = fuzz.canal(np.random.default_rng(0))
    vertices, faces = scene.bodies[0][0]
    off = fuzz.Scene("off", [((vertices * 1.001, faces), scene.bodies[0][1])], file=scene.read())
    bone = fuzz.make_bone(fuzz.as_surface(off.read()))
    lines = fuzz.lines_of(scene, np.random.default_rng(1))
    assert "wrong" in fuzz.judged(off, bone, *lines)
    assert "wrong" not in fuzz.judged(scene, bone, *lines)


def test_the_brute_force_on_a_box():
    box = fuzz.solid(fuzz.Manifold.cube([10.0, 10.0, 10.0]))
    inner = fuzz.solid(fuzz.Manifold.cube([2.0, 2.0, 2.0]).translate([4.0, 4.0, 4.0]))
    scene = fuzz.Scene("box", [(box, [inner])])
    found = fuzz.true_bone(scene, np.array([-5.0, 4.7, 5.2]), np.array([1.0, 0.0, 0.0]))
    assert found == pytest.approx(np.array([[5.0, 9.0], [11.0, 15.0]]))
