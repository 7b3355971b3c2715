"""Cross-sections of a real bone against a general library and against Cavalieri's principle.

Sources: VTK's plane cutter (through pyvista) for the length of the cut; trimesh for the
volume, which the areas of parallel sections add up to (Cavalieri).
"""

import numpy as np
import pytest
import pyvista as pv
import trimesh
from specimens import real_bone

from trajplan.bone import make_bone, read_surface
from trajplan.fracture._section import cut
from trajplan.geometry import Plane

FEMUR = make_bone(read_surface(real_bone("r_femur.stl"), "m"))


def section(plane):
    return cut(FEMUR.surface, FEMUR.shells, plane)


@pytest.mark.parametrize("seed", range(8))
def test_length_of_the_cut(seed):
    rng = np.random.default_rng(seed)
    low, high = FEMUR.audit.low, FEMUR.audit.high
    normal = rng.normal(size=3)
    plane = Plane.through(low + rng.uniform(0.3, 0.7, 3) * (high - low), normal)
    vertices, faces = FEMUR.surface.vertices, FEMUR.surface.faces
    mesh = pv.PolyData.from_regular_faces(vertices, faces)
    lines = mesh.slice(normal=plane.normal, origin=plane.point)
    ends = lines.points[lines.lines.reshape(-1, 3)[:, 1:]]
    length = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum()
    found = section(plane)
    assert found.gaps == ()
    assert sum(part.length for part in found.parts) == pytest.approx(length, rel=1e-5)


def test_areas_add_up_to_the_volume():
    axis = np.array([0.2, 0.1, 1.0]) / np.linalg.norm([0.2, 0.1, 1.0])
    along = FEMUR.surface.vertices @ axis
    step = np.ptp(along) / 400
    middles = along.min() + step * (np.arange(400) + 0.5)
    parts = [section(Plane.through(t * axis, axis)).parts for t in middles]
    volume = step * sum(part.area for some in parts for part in some)
    mesh = trimesh.Trimesh(FEMUR.surface.vertices, FEMUR.surface.faces, process=False)
    assert volume == pytest.approx(abs(mesh.volume), rel=1e-3)
