"""Where an axis enters and leaves, whatever points it was given by."""

import numpy as np
import pytest
from builders import bone_of, in_slab, level, screws_in, shaft, slab, zone_of
from specimens import box, joined, pipe

from trajplan.trajectory import Axes, cast, wall_angle


def across(bone, *starts, crossing=14.0):
    start = np.array([[x, 0.0, 50.0] for x in starts])
    axes = Axes.along(start, np.tile([1.0, 0, 0], (len(start), 1)))
    fracture = np.array([crossing - 14.0 - x for x in starts])
    return cast(bone, axes, np.full(len(start), 2.25), ring=8, crossing=fracture)


@pytest.mark.parametrize("mesh", ["tube", "pipe"])
def test_a_point_anywhere_on_the_line(mesh):
    """Before the bone, on its surface, in either wall, in the canal, past it."""
    bone = shaft() if mesh == "tube" else bone_of(pipe())
    corridors = across(bone, -99.0, -14.0, -12.0, 0.0, 12.0, 50.0)
    assert corridors.axes.origin == pytest.approx(np.tile([-14.0, 0, 50], (6, 1)))
    assert corridors.exit == pytest.approx(np.full(6, 28.0))


def test_first_bone_beyond_the_point_where_there_are_two():
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), box((-9, -9, 30), (9, 9, 40))))
    zone = level(slab(), 8.0)
    for z, entry in ((99, 40), (35, 40), (20, 0), (-5, 0)):
        screws = screws_in(bone, [[0, 0, z]], [[0, 0, -1]], zones=zone)
        assert screws.corridors.axes.origin[0, 2] == pytest.approx(entry)
        assert screws.corridors.leaves.tolist() == [entry == 40]


def test_a_miss_keeps_its_point_and_knows_nothing():
    corridors = in_slab(x=[90.0]).corridors
    assert corridors.hit.tolist() == [False]
    assert corridors.axes.origin.tolist() == [[90, 0, 30]]
    assert np.isnan(corridors.exit).all()
    assert np.isnan(corridors.line_entry).all()
    assert np.isnan(corridors.deepest_exit).all()
    assert not (corridors.leaves | np.isfinite(corridors.again)).any()


def test_no_axis():
    screws = in_slab(x=[])
    assert len(screws) == 0
    assert screws.corridors.line_exit.shape == (0, 17)
    assert screws.corridors.solid.offsets.tolist() == [0]


def test_an_axis_along_an_edge_or_a_face_neither_crashes_nor_lies():
    """x = 40 is the side of the slab: bone or no bone, but never half of each."""
    corridors = in_slab(x=[40.0, -40.0]).corridors
    exits = corridors.exit[corridors.hit]
    assert exits == pytest.approx(np.full(len(exits), 20.0))


def test_wall_angle_of_a_plane_through_the_ring():
    """Depths r tan(a) cos(phi) are those of a wall at a degrees (geometry)."""
    phi = 2 * np.pi * np.arange(16) / 16
    slopes = np.radians([0.0, 10.0, 45.0, 80.0])
    depth = 5 + 2.25 * np.tan(slopes)[:, None] * np.cos(phi - 0.3)
    assert wall_angle(depth, np.full(4, 2.25)) == pytest.approx([0, 10, 45, 80])
    depth[0, 3] = np.nan
    assert np.isnan(wall_angle(depth, np.full(4, 2.25))[0])


def test_an_inverted_shell_changes_nothing():
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    bone = bone_of((vertices, faces[:, ::-1]))
    turned = screws_in(bone, [[0, 0, 30]], [[0, 0, -1]], zones=level(slab(), 8.0))
    assert turned.gauge == pytest.approx(in_slab().gauge)
    assert turned.purchase == pytest.approx(in_slab().purchase)


def test_cortices_of_a_shaft_cut_off_at_both_ends_are_measured():
    bone = bone_of(pipe())
    screws = screws_in(
        bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone_of(bone, [0, 0, 50], [1, 0, 0]), cortex=2.0
    )
    assert screws.walls.basis.tolist() == [0]
    assert (screws.walls.near[0], screws.walls.far[0]) == pytest.approx((5.0, 5.0))
