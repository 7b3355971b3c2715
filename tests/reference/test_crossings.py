"""Crossings against closed forms and independent libraries.

Sources: analytic geometry (plane, sphere, cylinder); Embree through trimesh with embreex
(Apache-2.0, BSD-3); VTK's static cell locator (BSD-3); the femur, tibia and radius of the
package myo-sim (Apache-2.0), which are in metres.
"""

import numpy as np
import pytest
import specimens
import trimesh
from lines import aimed_lines, random_lines, rows, unit

from trajplan.bone import as_surface, line_spans, make_bone, make_caster, read_surface


def chords(mesh, origin, direction):
    """Start and end of the only span of each line; NaN where there is none."""
    found = line_spans(make_bone(as_surface(mesh)), origin, direction)
    assert found.balanced.all()
    spans = found.solid
    assert (np.diff(spans.offsets) <= 1).all()
    start, end = np.full((2, len(origin)), np.nan)
    met = np.diff(spans.offsets) == 1
    start[met], end[met] = spans.start, spans.end
    return start, end


def slab_chords(half, origin, direction):
    """Closed form for a box with sides 2 ``half`` about the origin: three pairs of planes."""
    first = np.sort(np.stack([(-half - origin) / direction, (half - origin) / direction]), axis=0)
    start, end = first[0].max(axis=1), first[1].min(axis=1)
    return np.where(start < end, start, np.nan), np.where(start < end, end, np.nan)


def round_chords(a, b, c):
    """Roots of a t² + 2 b t + c."""
    root = np.sqrt(np.where(b * b > a * c, b * b - a * c, np.nan))
    return (-b - root) / a, (-b + root) / a


def test_cube_against_planes():
    origin, direction = random_lines(5000, -6, 6)
    start, end = chords(specimens.cube(10.0), origin, direction)
    exact_start, exact_end = slab_chords(5.0, origin, direction)
    assert np.isfinite(exact_start).sum() > 4000
    np.testing.assert_allclose(start, exact_start, atol=1e-9)
    np.testing.assert_allclose(end, exact_end, atol=1e-9)


def test_wide_slab_at_a_tilt():
    """Length in a wall of 5 mm is 5 / cos(tilt)."""
    tilt = np.linspace(0.0, np.radians(75.0), 500)
    turn = np.linspace(0.0, 40.0, 500)
    direction = np.column_stack(
        [np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)]
    )
    slab = specimens.box((-100, -100, 0), (100, 100, 5))
    start, end = chords(slab, -20.0 * direction, direction)
    np.testing.assert_allclose(end - start, 5.0 / np.cos(tilt), atol=1e-9)
    np.testing.assert_allclose(start, 20.0, atol=1e-9)


def test_sphere_within_its_chord_error():
    """The mesh lies between the spheres of its vertices and of the feet of its faces."""
    mesh = specimens.sphere(10.0, 4)
    vertices, faces = mesh
    a, b, c = vertices[faces].transpose(1, 0, 2)
    inner = np.abs(np.einsum("ij,ij->i", unit(np.cross(b - a, c - a)), a)).min()
    assert 9.9 < inner < 10.0
    origin, direction = random_lines(4000, -7, 7)
    start, end = chords(mesh, origin, direction)
    along, square = np.einsum("ij,ij->i", origin, direction), (origin**2).sum(axis=1)
    one = np.ones(len(origin))
    outer_start, outer_end = round_chords(one, along, square - 100.0)
    inner_start, inner_end = round_chords(one, along, square - inner**2)
    sure = np.isfinite(inner_start)
    assert sure.sum() > 3000
    for got, low, high in ((start, outer_start, inner_start), (end, inner_end, outer_end)):
        assert (got[sure] >= low[sure] - 1e-9).all()
        assert (got[sure] <= high[sure] + 1e-9).all()
    assert np.isnan(start[np.isnan(outer_start)]).all()


def test_cylinder_and_tube_within_the_error_of_their_polygon():
    """Across a tube: wall, canal, wall, each within the sagitta of the 256-sided prism."""
    rng = np.random.default_rng(5)
    outer, inner, sides = 14.0, 9.0, 256
    bone = make_bone(as_surface(specimens.tube(outer, inner, 100.0, sides)))
    foot = np.column_stack([rng.uniform(-6, 6, (3000, 2)), rng.uniform(40, 60, 3000)])
    turn, tilt = rng.uniform(0, 2 * np.pi, 3000), rng.uniform(-0.3, 0.3, 3000)
    direction = np.column_stack(
        [np.cos(tilt) * np.cos(turn), np.cos(tilt) * np.sin(turn), np.sin(tilt)]
    )
    found = line_spans(bone, foot - 60 * direction, direction)
    assert (np.diff(found.solid.offsets) == 2).all()
    assert (np.diff(found.outer.offsets) == 1).all()
    got = np.column_stack([found.solid.start, found.solid.end]).reshape(-1, 4) - 60.0
    flat = direction[:, :2]
    a, b = (flat**2).sum(axis=1), (flat * foot[:, :2]).sum(axis=1)
    square = (foot[:, :2] ** 2).sum(axis=1)
    for radius, columns in ((outer, (0, 3)), (inner, (1, 2))):
        true = round_chords(a, b, square - radius**2)
        tight = round_chords(a, b, square - (radius * np.cos(np.pi / sides)) ** 2)
        for column, x, y in zip(columns, true, tight, strict=True):
            assert (got[:, column] >= np.minimum(x, y) - 1e-9).all()
            assert (got[:, column] <= np.maximum(x, y) + 1e-9).all()


#: mm; more than the femur is long.
AWAY = 500.0


@pytest.fixture(scope="module")
def femur():
    """The femur, subdivided twice by Loop's scheme: 14,528 faces, closed."""
    surface = read_surface(specimens.real_bone("r_femur.stl"), "m")
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False).subdivide_loop(2)
    return np.array(mesh.vertices), np.array(mesh.faces)


def bone_lines(mesh, count, seed=0):
    """Lines through a bone, from far enough away that all of it lies ahead."""
    rng = np.random.default_rng(seed)
    target = mesh[0][rng.integers(len(mesh[0]), size=count)] + rng.normal(size=(count, 3)) * 4
    direction = unit(rng.normal(size=(count, 3)))
    return target - AWAY * direction, direction


def test_femur_against_embree(femur):
    from trimesh.ray.ray_pyembree import RayMeshIntersector

    origin, direction = bone_lines(femur, 10_000)
    mesh = trimesh.Trimesh(*femur, process=False)
    _, line, face = RayMeshIntersector(mesh).intersects_location(origin, direction)
    depth = depth_in_plane(femur, face, origin[line], direction[line])
    found = line_spans(make_bone(as_surface(femur)), origin, direction)
    order = np.lexsort((depth, line))
    theirs = np.split(depth[order], np.cumsum(np.bincount(line, minlength=10_000))[:-1])
    ours = ends(found.solid)
    differ = [i for i in range(10_000) if not same(ours[i], theirs[i])]
    # Embree works in float32: it may err at edges and silhouettes, and only there
    assert len(differ) <= 10
    for i in differ:
        assert near_an_edge(femur, origin[i], direction[i])
    assert found.balanced.all()


def depth_in_plane(mesh, face, origin, direction):
    a, b, c = mesh[0][mesh[1][face]].transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    return np.einsum("ij,ij->i", normal, a - origin) / np.einsum("ij,ij->i", normal, direction)


def ends(spans):
    """Starts and ends of the spans of each line, in order."""
    return rows(2 * spans.offsets, np.column_stack([spans.start, spans.end]).ravel())


def same(ours, theirs):
    return len(ours) == len(theirs) and np.allclose(ours, theirs, rtol=0, atol=1e-8)


def near_an_edge(mesh, origin, direction, distance=1e-3):
    """Whether a line passes an edge of the mesh within a distance."""
    vertices, faces = mesh
    p, q = (vertices[faces[:, list(k)].ravel()] - origin for k in ((0, 1, 2), (1, 2, 0)))
    flat_p, flat_q = (x - (x @ direction)[:, None] * direction for x in (p, q))
    along = flat_q - flat_p
    length = np.maximum((along**2).sum(axis=1), 1e-30)
    t = np.clip(-(flat_p * along).sum(axis=1) / length, 0, 1)
    return (np.linalg.norm(flat_p + t[:, None] * along, axis=1) < distance).any()


def test_femur_against_vtk(femur):
    import pyvista as pv
    import vtk
    from vtk.util.numpy_support import vtk_to_numpy

    origin, direction = bone_lines(femur, 300, seed=1)
    cloud = pv.PolyData.from_regular_faces(*femur)
    locator = vtk.vtkStaticCellLocator()
    locator.SetDataSet(cloud)
    locator.BuildLocator()
    ours = ends(line_spans(make_bone(as_surface(femur)), origin, direction).solid)
    met = 0
    for i, (o, d) in enumerate(zip(origin, direction, strict=True)):
        points, cells = vtk.vtkPoints(), vtk.vtkIdList()
        points.SetDataTypeToDouble()
        locator.IntersectWithLine(o, o + 2 * AWAY * d, 0.0, points, cells)
        count = points.GetNumberOfPoints()
        depth = (vtk_to_numpy(points.GetData()) - o) @ d if count else np.zeros(0)
        np.testing.assert_allclose(ours[i], np.sort(depth), atol=1e-4)
        met += count > 0
    assert met > 150


def test_no_line_is_unbalanced_on_the_femur(femur):
    """Aimed at vertices and edges, along axes and in faces: the engine's own claim."""
    found = line_spans(make_bone(as_surface(femur)), *aimed_lines(femur, 20_000))
    assert found.balanced.all()
    assert found.solid.known.all()
    assert len(found.solid.start) > 15_000


def test_tree_on_the_femur_against_brute_force(femur):
    from trajplan.bone._rule import brute_crossings

    triangles = femur[0][femur[1]]
    for origin, direction in (bone_lines(femur, 150), aimed_lines(femur, 150)):
        expected = brute_crossings(triangles, origin, direction)
        for engine in ("compiled", "plain"):
            got = make_caster(triangles, engine).crossings(origin, direction)
            np.testing.assert_array_equal(got.offsets, expected.offsets)
            np.testing.assert_array_equal(got.face, expected.face)
            np.testing.assert_allclose(got.depth, expected.depth, rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", ["r_tibia.stl", "radius.stl"])
def test_open_bones_agree_with_the_exact_winding_number(name):
    """Points on the lines: known bone where the exact winding number exceeds one half."""
    import igl

    surface = read_surface(specimens.real_bone(name), "m")
    bone = make_bone(surface)
    assert not bone.audit.closed
    mesh = surface.vertices, surface.faces
    origin, direction = bone_lines(mesh, 2000, seed=2)
    found = line_spans(bone, origin, direction)
    depth = np.random.default_rng(3).uniform(AWAY - 20, AWAY + 20, 2000)
    points = origin + depth[:, None] * direction
    number = np.ravel(igl.winding_number(surface.vertices, surface.faces, points))
    row = np.repeat(np.arange(2000), np.diff(found.solid.offsets))
    covers = (found.solid.start <= depth[row]) & (depth[row] <= found.solid.end)
    inside = np.bincount(row, covers, 2000) > 0
    doubted = np.bincount(row, covers & ~found.solid.known, 2000) > 0
    clear = ~doubted & ((number < 0.1) | (number > 0.9))
    assert (number > 0.9).sum() > 200
    assert clear.mean() > 0.8
    assert (inside[clear] == (number[clear] > 0.5)).mean() > 0.995
