"""Axes as a script hands them over: arrays, columns, a file."""

from pathlib import Path

import numpy as np
import pytest

from trajplan.errors import AxesFileError
from trajplan.files import Case, axes_table, read_axes

HEADS = np.array([[-30.0, 0.0, 95.0], [-30.0, 0.1, 105.0]])
TIPS = HEADS + np.array([60.0, 0.0, 30.0])


def case(unit="mm", kinds=("HA4.5",), technique="lag"):
    return Case.model_validate(
        {
            "unit": unit,
            "bone": {"mesh": "rod"},
            "fracture": {"plane": {"point": [0, 0, 0], "normal": [0, 0, 1]}},
            "screws": {"kinds": list(kinds), "technique": technique},
        }
    )


class Frame:
    """As much of a data frame as is asked for, whatever library it is of."""

    def __init__(self, columns):
        self.columns = columns

    def keys(self):
        return iter(self.columns)

    def __getitem__(self, name):
        return np.array(self.columns[name], dtype=object)


def columns(**more):
    names = ("x", "y", "z", "to_x", "to_y", "to_z")
    return dict(zip(names, np.hstack([HEADS, TIPS]).T.tolist(), strict=True)) | more


def same(one, other):
    assert (one.ids, one.kinds, one.techniques) == (other.ids, other.kinds, other.techniques)
    np.testing.assert_array_equal(one.start, other.start)
    np.testing.assert_array_equal(one.end, other.end)


def test_arrays_are_named_by_their_number_and_take_kind_and_technique_of_the_case():
    table = axes_table((HEADS, TIPS), case(technique="position"))
    assert table.ids == ("1", "2")
    assert table.kinds == ("HA4.5", "HA4.5")
    assert table.techniques == ("position", "position")
    np.testing.assert_array_equal(table.start, HEADS)
    np.testing.assert_array_equal(table.end, TIPS)


@pytest.mark.parametrize("ends", [[HEADS, TIPS], np.stack([HEADS, TIPS])], ids=["list", "array"])
def test_two_arrays_may_come_in_a_list_or_in_one_array(ends):
    same(axes_table(ends, case()), axes_table((HEADS, TIPS), case()))


def test_one_line_needs_no_second_dimension():
    assert len(axes_table((HEADS[0], TIPS[0]), case()).ids) == 1


@pytest.mark.parametrize("make", [dict, Frame], ids=["dict", "data frame"])
def test_columns_in_any_order_are_what_arrays_are(make):
    given = dict(reversed(columns().items()))
    same(axes_table(make(given), case()), axes_table((HEADS, TIPS), case()))


def test_columns_that_name_kind_technique_and_id(tmp_path: Path):
    named = columns(id=["A", "B"], kind=["HA3.5", "HA4.5"], technique=["lag", "position"])
    table = axes_table(named, case(kinds=("HA3.5", "HA4.5")))
    assert (table.ids, table.kinds) == (("A", "B"), ("HA3.5", "HA4.5"))
    rows = [
        ",".join(named),
        *(",".join(map(str, row)) for row in zip(*named.values(), strict=True)),
    ]
    file = tmp_path / "lines.csv"
    file.write_text("\n".join(rows))
    same(axes_table(file, case()), table)
    same(axes_table(str(file), case()), table)
    same(axes_table(read_axes(file, "mm"), case()), table)


def test_coordinates_are_in_the_unit_of_the_case():
    table = axes_table((HEADS / 1000.0, TIPS / 1000.0), case(unit="m"))
    np.testing.assert_allclose(table.start, HEADS, rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("given", "kinds", "said"),
    [
        ((HEADS, TIPS[:1]), ("HA4.5",), "differ in length"),
        ((HEADS[:, :2], TIPS[:, :2]), ("HA4.5",), "(2, 2)"),
        ((HEADS, TIPS, TIPS), ("HA4.5",), "(2, 3)"),
        ((HEADS, HEADS), ("HA4.5",), "row 1"),
        ((np.where(HEADS == 105.0, np.nan, HEADS), TIPS), ("HA4.5",), "row 2"),
        ((HEADS[:0], TIPS[:0]), ("HA4.5",), "no line"),
        ((HEADS, TIPS), ("HA3.5", "HA4.5"), "HA3.5, HA4.5"),
        (columns(colour=["red", "red"]), ("HA4.5",), '"colour"'),
        ({"x": [1.0]}, ("HA4.5",), '"y"'),
        (columns(technique=["lag", "pin"]), ("HA4.5",), "'pin'"),
        (columns(id=["A", "A"]), ("HA4.5",), "row 1"),
        (columns(id=["A", "plan"]), ("HA4.5",), "row 2"),
        (7.0, ("HA4.5",), "float"),
        (["one", "two"], ("HA4.5",), "list"),
    ],
)
def test_what_is_wrong_is_refused_with_its_place(given, kinds, said):
    with pytest.raises(AxesFileError) as error:
        axes_table(given, case(kinds=kinds))
    assert said in str(error.value)
    assert error.value.remedy
