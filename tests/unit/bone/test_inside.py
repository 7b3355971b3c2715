"""Winding numbers by shell, against closed forms and the exact sum over triangles."""

import igl
import numpy as np
import pytest
import specimens
from lines import SHIFT, turned

from trajplan.bone import as_surface, find_shells
from trajplan.bone._inside import Winding


def winding_of(mesh):
    surface = as_surface(mesh)
    return Winding(surface, find_shells(surface))


@pytest.mark.parametrize("mesh", [specimens.cube(10.0), specimens.flipped_cube(10.0)])
def test_one_inside_and_zero_outside_whatever_the_normals(mesh):
    points = np.array([[0.0, 0, 0], [4.9, 4.9, 4.9], [5.1, 0, 0], [100, 0, 0]])
    np.testing.assert_allclose(winding_of(mesh).number(0, points), [1, 1, 0, 0], atol=0.02)


def test_centre_of_an_open_box_sees_five_sixths_of_the_sphere():
    """Each face of a cube takes a sixth of the solid angle at its centre, by symmetry."""
    number = winding_of(specimens.open_box(10.0)).number(0, np.zeros((1, 3)))
    np.testing.assert_allclose(number, [5 / 6], atol=1e-6)


def test_each_shell_is_asked_alone():
    winding = winding_of(specimens.nested_cubes(30.0, 10.0, inner_outward=True))
    points = np.array([[0.0, 0, 0], [10.0, 0, 0]])
    np.testing.assert_allclose(winding.number(0, points), [1, 1], atol=0.02)
    np.testing.assert_allclose(winding.number(1, points), [1, 0], atol=0.02)


def test_fast_number_agrees_with_the_exact_sum():
    """igl.winding_number sums the solid angles of all triangles (Jacobson et al. 2013)."""
    vertices, faces = specimens.sphere(10.0, 3)
    mesh = turned((vertices, faces[vertices[faces][:, :, 2].mean(axis=1) < 8.0]))  # a hole
    surface = as_surface(mesh)
    points = np.random.default_rng(0).uniform(-15, 15, (500, 3)) + SHIFT
    exact = igl.winding_number(surface.vertices, surface.faces, points)
    got = winding_of(mesh).number(0, points)
    np.testing.assert_allclose(got, np.ravel(exact), atol=0.01)


def test_no_points():
    assert winding_of(specimens.cube()).number(0, np.zeros((0, 3))).shape == (0,)
