"""Bone classes: data, sources, names, and classes that cannot be."""

import math

import pytest

from trajplan.errors import CaseError
from trajplan.mechanics import Strength, cancellous_material, find_bone_class, load_bone_classes

BOUNDS = ("low", "estimate", "high")


def strengths():
    for bone_class in load_bone_classes().values():
        for material in (bone_class.cortical, bone_class.cancellous):
            for strength in (material.shear, material.compression):
                if strength is not None:
                    yield strength


def test_every_number_has_a_source():
    for strength in strengths():
        assert set(strength.sources) == set(BOUNDS)
        for source in strength.sources.values():
            assert source.source
            assert source.status in (
                "published",
                "common practice",
                "not verified against the standard",
            )


def test_cancellous_bone_is_weakest_in_shear():
    # published: Biomedical Engineering and Design Handbook vol. 1, Fig. 9.12
    for name in ("light", "medium", "dense"):
        material = find_bone_class(f"cancellous {name}").cancellous
        for bound in BOUNDS:
            assert getattr(material.shear, bound) < getattr(material.compression, bound)


@pytest.mark.parametrize("bound", BOUNDS)
def test_classes_are_ordered_by_quality(bound):
    poor, normal, dense = (find_bone_class(name) for name in ("poor", "normal", "dense"))
    for part, kind in (
        ("cortical", "shear"),
        ("cancellous", "shear"),
        ("cancellous", "compression"),
    ):
        values = [getattr(getattr(getattr(c, part), kind), bound) for c in (poor, normal, dense)]
        assert values == sorted(values)
        assert values[0] < values[1]


def test_block_grades_grow_with_density():
    grades = [find_bone_class(f"foam {grade}").cortical for grade in (10, 15, 20, 30, 40)]
    shear = [grade.shear.estimate for grade in grades]
    assert shear == sorted(shear)
    assert find_bone_class("foam 12").cortical.shear is None  # no source gives it


def test_spaces_and_case_do_not_count():
    assert find_bone_class("Foam20") is find_bone_class("foam 20")


def test_unknown_name_offers_the_nearest():
    with pytest.raises(CaseError, match=r'"pore".*"poor"'):
        find_bone_class("pore")


@pytest.mark.parametrize("rho", [0.1, 0.16, 0.2, 0.32, 0.4, 0.5])
def test_compression_law(rho):
    # Carter and Hayes 1977, constants from memory: 68 · 0.01^0.06 · rho²
    material = cancellous_material(rho, rho, rho)
    assert material.compression.estimate == pytest.approx(68 * 0.01**0.06 * rho**2, rel=1e-3)
    assert material.shear.sources["low"].status == "not verified against the standard"


@pytest.mark.parametrize(
    "densities", [(0, 0.1, 0.2), (0.3, 0.2, 0.4), (0.1, 0.2, 3.0), (math.nan, 0.2, 0.3)]
)
def test_impossible_density(densities):
    with pytest.raises(CaseError, match="density"):
        cancellous_material(*densities)


@pytest.mark.parametrize(
    "values", [(0, 1, 2), (-1, 1, 2), (2, 1, 3), (1, 2, math.inf), (1, math.nan, 2)]
)
def test_impossible_strength(values):
    with pytest.raises(CaseError, match="strength"):
        Strength(*values, sources={})
