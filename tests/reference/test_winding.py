"""Winding numbers and spans of open, disorderly real bones, against independent sums.

The bones are surfaces of the package myo-sim (Apache-2.0), in metres. They are as they come:
open, with faces that meet three at an edge, some wound in disorder.
"""

from functools import cache

import numpy as np
import pytest
import specimens
from lines import unit

from trajplan.arrays import rows_of
from trajplan.bone import line_spans, make_bone, read_surface, repair

BONES = ["humerus", "clavicle", "r_pelvis", "l_pelvis"]
POINTS = 1500


@cache
def bone_of(name):
    return make_bone(read_surface(specimens.real_bone(f"{name}.stl"), "m"))


def solid_angles(triangles, points):
    """Winding number of points: the solid angles of all triangles, summed, over 4 pi.

    A. van Oosterom, J. Strackee, "The solid angle of a plane triangle", IEEE Transactions on
    Biomedical Engineering 30(2), 1983, doi:10.1109/TBME.1983.325207, equation 8 (recalled
    from memory; the sum is 4 pi inside a closed surface, which the first test checks).
    """
    number = np.zeros(len(points))
    for i, point in enumerate(points):
        a, b, c = (triangles - point).transpose(1, 0, 2)
        la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
        above = np.einsum("ij,ij->i", a, np.cross(b, c))
        below = la * lb * lc + (
            (a * b).sum(axis=1) * lc + (b * c).sum(axis=1) * la + (c * a).sum(axis=1) * lb
        )
        number[i] = 2.0 * np.arctan2(above, below).sum() / (4.0 * np.pi)
    return number


def lines_through(surface, count=POINTS, seed=2):
    """Lines from 300 mm before a random point of the bounding box, and a depth on each."""
    rng = np.random.default_rng(seed)
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    direction = unit(rng.normal(size=(count, 3)))
    origin = rng.uniform(low, high, (count, 3)) - 300.0 * direction
    return origin, direction, 300.0 + rng.uniform(-15.0, 15.0, count)


def inside_and_doubt(spans, depth):
    """Whether each line is in bone at a depth, and whether that is in doubt."""
    row = rows_of(spans.offsets)
    covers = (spans.start <= depth[row]) & (depth[row] <= spans.end)
    count = len(depth)
    return (
        np.bincount(row, covers, count) > 0,
        np.bincount(row, covers & ~spans.known, count) > 0,
    )


def test_solid_angles_of_a_closed_surface():
    vertices, faces = specimens.sphere(10.0, 2)
    points = np.array([[0.0, 0, 0], [5.0, 3, 1], [20.0, 0, 0]])
    np.testing.assert_allclose(solid_angles(vertices[faces], points), [1, 1, 0], atol=1e-9)


@pytest.mark.parametrize("name", BONES)
def test_winding_number_is_the_sum_of_solid_angles(name):
    """Shell by shell, faces on others left out and disorder in the winding mended first."""
    bone = bone_of(name)
    origin, direction, depth = lines_through(bone.surface, 400)
    points = origin + depth[:, None] * direction
    count = len(bone.shells.closed)
    for shell in range(count):
        triangles = bone.surface.triangles()[bone.shells.of_face == shell]
        if count == 1:
            # the repair is tested by itself; here it only hands over agreeing faces
            triangles = repair(bone.surface, ["duplicate", "winding"])[0].triangles()
        else:
            corners = np.sort(triangles.reshape(-1, 9).round(6), axis=1)
            triangles = triangles[np.sort(np.unique(corners, axis=0, return_index=True)[1])]
        exact = solid_angles(triangles, points)
        exact *= np.sign(exact[np.abs(exact).argmax()])
        np.testing.assert_allclose(bone.winding.number(shell, points), exact, atol=0.02)


@pytest.mark.parametrize("name", BONES)
def test_spans_agree_with_the_sum_of_solid_angles(name):
    """Known bone where the exact number exceeds a half; where it is far from both, no claim."""
    bone = bone_of(name)
    assert not bone.audit.closed
    origin, direction, depth = lines_through(bone.surface)
    inside, doubt = inside_and_doubt(line_spans(bone, origin, direction).solid, depth)
    tidy = repair(bone.surface, ["duplicate", "winding"])[0]
    exact = np.abs(solid_angles(tidy.triangles(), origin + depth[:, None] * direction))
    clear = ~doubt & ((exact < 0.1) | (exact > 0.9))
    assert (exact > 0.9).sum() > 30
    assert clear.mean() > 0.9
    np.testing.assert_array_equal(inside[clear], exact[clear] > 0.5)


@pytest.mark.parametrize("name", BONES)
def test_spans_agree_with_trimesh_and_vtk_where_they_agree(name):
    """Both answer by counting crossings, which open bones lead astray now and then."""
    import trimesh
    import vtk
    from vtk.util.numpy_support import numpy_to_vtk, vtk_to_numpy

    bone = bone_of(name)
    origin, direction, depth = lines_through(bone.surface, 600)
    points = origin + depth[:, None] * direction
    inside, doubt = inside_and_doubt(line_spans(bone, origin, direction).solid, depth)
    mesh = trimesh.Trimesh(bone.surface.vertices, bone.surface.faces, process=False)
    by_trimesh = mesh.ray.contains_points(points)

    import pyvista as pv

    selector = vtk.vtkSelectEnclosedPoints()
    selector.CheckSurfaceOff()
    cloud = vtk.vtkPolyData()
    places = vtk.vtkPoints()
    places.SetData(numpy_to_vtk(points, deep=True))
    cloud.SetPoints(places)
    selector.SetInputData(cloud)
    selector.SetSurfaceData(
        pv.PolyData.from_regular_faces(bone.surface.vertices, bone.surface.faces)
    )
    selector.Update()
    by_vtk = vtk_to_numpy(selector.GetOutput().GetPointData().GetArray("SelectedPoints")) > 0
    agree = (by_trimesh == by_vtk) & ~doubt
    assert agree.mean() > 0.9
    assert (inside & agree).sum() > 10
    # both count crossings, so a line through a hole may fool the two alike
    assert (inside[agree] == by_trimesh[agree]).mean() > 0.995
