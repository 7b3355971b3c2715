"""Changes that a row of a study lays over its base case."""

import pytest
from batch_cases import write_base

from trajplan.errors import CaseError
from trajplan.files import read_case


@pytest.fixture
def base(tmp_path):
    return write_base(tmp_path)


def test_no_changes_change_nothing(base):
    assert read_case(base, {}) == read_case(base)
    assert read_case(base, {}).sha256 == read_case(base).sha256


def test_tables_are_merged_key_by_key(base):
    case = read_case(base, {"screws": {"count": 3}, "title": "changed"})
    assert (case.screws.count, case.screws.kinds, case.title) == (3, ("HA4.5",), "changed")


def test_a_list_takes_the_place_of_the_whole_list(base):
    assert read_case(base, {"screws": {"kinds": ["HB6.5"]}}).screws.kinds == ("HB6.5",)


def test_a_part_of_a_plane_can_be_changed(base):
    case = read_case(base, {"fracture": {"plane": {"point": [0, 0, 40]}}})
    assert case.fracture.plane.point == (0, 0, 40)
    assert case.fracture.plane.normal == read_case(base).fracture.plane.normal


@pytest.mark.parametrize(
    ("table", "source"),
    [("fracture", {"mesh": "f.stl"}), ("bone", {"fragments": ["a.stl", "b.stl"]})],
)
def test_another_source_takes_the_place_of_the_one_before(base, table, source):
    changed = getattr(read_case(base, {table: source}), table)
    assert changed.model_dump(exclude_defaults=True, mode="json") == source


def test_two_sources_in_the_changes_are_still_refused(base):
    with pytest.raises(CaseError, match="both mesh and group are given"):
        read_case(base, {"fracture": {"mesh": "f.stl", "group": "f"}})


def test_changes_are_part_of_the_fingerprint_in_any_order(base):
    one = {"title": "a", "limits": {"max_tilt": 10}}
    other = {"limits": {"max_tilt": 10}, "title": "a"}
    assert read_case(base, one).sha256 == read_case(base, other).sha256
    assert read_case(base, one).sha256 != read_case(base).sha256
    assert read_case(base, one).sha256 != read_case(base, {"title": "a"}).sha256


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"screws": {"count": 9}}, "screws.count"),
        ({"screws": 4}, "screws"),
        ({"colour": 1}, "colour"),
    ],
)
def test_wrong_changes_are_refused_like_a_wrong_file(base, changes, where):
    with pytest.raises(CaseError) as caught:
        read_case(base, changes)
    assert (caught.value.file, caught.value.where) == (str(base), where)
