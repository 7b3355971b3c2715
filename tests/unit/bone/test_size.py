"""Size: what cannot be a bone in the stated unit is refused, and the likely unit named."""

import numpy as np
import pytest
from specimens import cube, real_bone, tetra

from trajplan.bone._read import as_surface, check_size, read_surface
from trajplan.errors import MeshError


@pytest.mark.parametrize("size", [8.0, 11.0, 200.0, 700.0])
def test_bone_sizes_pass(size):
    check_size(as_surface(cube(size)), "mm")


@pytest.mark.parametrize(
    ("numbers", "stated", "found", "likely"),
    [
        (0.4527, "mm", "0.4527 mm", '"m" (453 mm)'),
        (45.27, "m", "45270 mm", '"cm" (453 mm)'),
        (452.7, "m", "452700 mm", '"mm" (453 mm)'),
        (452.7, "cm", "4527 mm", '"mm" (453 mm)'),
        (7.9, "mm", "7.9 mm", '"inch" (201 mm)'),
        (701.0, "mm", "701 mm", None),
        (1e-7, "mm", "1e-07 mm", None),
    ],
)
def test_sizes_of_no_bone(numbers, stated, found, likely):
    surface = as_surface(cube(numbers), stated, name="leg.stl")
    with pytest.raises(MeshError) as caught:
        check_size(surface, stated)
    assert f'read in "{stated}" it is {found}' in caught.value.found
    assert caught.value.file == "leg.stl"
    if likely is None:
        assert "unit" not in caught.value.remedy
    else:
        assert likely in caught.value.remedy


def test_size_counts_used_vertices_only():
    vertices, faces = tetra(100.0)
    check_size(as_surface((np.vstack([vertices, [9e3, 0, 0]]), faces)), "mm")


def test_real_femur_in_the_wrong_unit():
    surface = read_surface(real_bone("r_femur.stl"), "mm")
    with pytest.raises(MeshError, match=r'state unit = "m"'):
        check_size(surface, "mm")
