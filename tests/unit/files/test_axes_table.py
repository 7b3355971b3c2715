"""The table of axes: what is accepted, what is refused, and exact round trips."""

import csv
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trajplan.arrays import as_points
from trajplan.errors import AxesFileError, OutputError
from trajplan.files import AxesTable, read_axes, write_axes
from trajplan.units import MM_PER_UNIT

HEADER = "id,kind,technique,x,y,z,to_x,to_y,to_z\n"
ROW = "screw 1,HA4.5,lag,0,1,2,3.5,4,5e1\n"


@pytest.fixture
def read(tmp_path):
    def _read(text, unit="mm"):
        path = tmp_path / "axes.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_axes(path, unit)

    return _read


def table(start, end):
    n = len(start)
    return AxesTable(
        ids=tuple(f"screw {i}" for i in range(n)),
        kinds=("HA4.5",) * n,
        techniques=("lag",) * n,
        start=as_points(start),
        end=as_points(end),
        rows=tuple(range(2, n + 2)),
    )


def test_one_row(read):
    axes = read(HEADER + ROW)
    assert (axes.ids, axes.kinds, axes.techniques) == (("screw 1",), ("HA4.5",), ("lag",))
    assert axes.start.tolist() == [[0.0, 1.0, 2.0]]
    assert axes.end.tolist() == [[3.5, 4.0, 50.0]]
    assert axes.rows == (2,)
    assert not axes.start.flags.writeable


def test_columns_in_any_order_blank_lines_and_spaces(read):
    axes = read(
        "\n to_x, to_y,to_z,id,technique,kind,z,y,x\n\n,,\n4,5,6, A B ,position,HB 6.5,3,2,1\n"
    )
    assert (axes.ids, axes.kinds, axes.techniques) == (("A B",), ("HB 6.5",), ("position",))
    assert (axes.start.tolist(), axes.end.tolist()) == ([[1, 2, 3]], [[4, 5, 6]])
    assert axes.rows == (5,)


@pytest.mark.parametrize("text", [HEADER + ROW, (HEADER + ROW).rstrip()])
def test_byte_order_mark_and_windows_line_ends(read, text):
    axes = read(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert axes.ids == ("screw 1",)
    assert axes.rows == (2,)


@pytest.mark.parametrize(
    ("unit", "expected"), [("mm", 0.1234), ("cm", 1.234), ("m", 123.4), ("inch", 3.13436)]
)
def test_units_without_a_trace_of_binary_rounding(read, unit, expected):
    # Closed form: 0.1234 of each unit in mm, the inch being 25.4 mm exactly (ISO 80000-3).
    assert read(HEADER + "A,K,lag,0.1234,0,0,1,1,1\n", unit).start[0, 0] == expected


def test_a_thousand_rows(read):
    rows = "".join(f"screw {i},HA4.5,lag,{i},0,0,{i},1,0\n" for i in range(1000))
    axes = read(HEADER + rows)
    assert np.array_equal(axes.start[:, 0], np.arange(1000.0))
    assert axes.rows == tuple(range(2, 1002))


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        ("", None, "empty"),
        ("\n\n , ,\n", None, "empty"),
        (HEADER, None, "no axis"),
        (ROW, None, "header is missing"),
        (HEADER.replace(",", ";") + ROW.replace(",", ";"), None, "a comma between cells"),
        (HEADER.replace(",to_z", "") + ROW, None, '"to_z" is missing'),
        (HEADER.replace("to_z", "to_z,note") + ROW, None, '"note" is not known'),
        (HEADER.replace("to_z", "to_z,") + ROW, None, '"" is not known'),
        (HEADER.replace("to_z", "to_z,id") + ROW, None, '"id" is there twice'),
        (HEADER.replace("kind", "Kind") + ROW, None, '"Kind" is not known'),
        (HEADER + ROW + "screw 2,HA4.5,lag,0,,2,3,4,5\n", "row 3", '"y" is empty'),
        (HEADER + ROW + "\nS2,HA4.5,lag,0,1,2,3,4\n", "row 4", '"to_z" is empty'),
        (HEADER + ROW + "screw 2,HA4.5,lag,0,1,2,3,4,5,6\n", "row 3", "10 cells under 9"),
        (HEADER + "screw 1,HA4.5,lag,0,5,1,2,3,4,5\n", "row 2", "decimals with a point"),
        (HEADER + ",HA4.5,lag,0,1,2,3,4,5\n", "row 2", '"id" is empty'),
        (HEADER + "screw 1, ,lag,0,1,2,3,4,5\n", "row 2", '"kind" is empty'),
        (HEADER + ROW + ROW, "row 3", "row 2 already"),
        (HEADER + ROW.replace("lag", "pull"), "row 2", "lag or position"),
        (HEADER + ROW.replace("3.5", "abc"), "row 2", "to_x is 'abc', which is no number"),
        (HEADER + ROW.replace("3.5", "1_0"), "row 2", "no number"),
        (HEADER + ROW.replace("3.5", "0x10"), "row 2", "no number"),
        (HEADER + ROW.replace("3.5", "nan"), "row 2", "not finite"),
        (HEADER + ROW.replace("3.5", "-inf"), "row 2", "not finite"),
        (HEADER + ROW.replace("3.5", "sNaN"), "row 2", "no"),
        (HEADER + ROW.replace("3.5", "1e400"), "row 2", "not finite"),
        (HEADER + ROW.replace("3.5", "1e999999999999999999999"), "row 2", "no"),
        (HEADER + "screw 1,HA4.5,lag,1,2,3,1,2,3\n", "row 2", "equal"),
        (HEADER + "screw 1,HA4.5,lag,1,2,3,1,2,3.49\n", "row 2", "0.49 mm apart"),
        ((HEADER + ROW).replace(",", "\t"), None, "a comma between cells"),
        (HEADER.encode() + b"\xe9,HA4.5,lag,1,2,3,4,5,6\n", None, "UTF-8"),
        (HEADER + '"' + "a" * 200_000, None, "no CSV"),
    ],
)
def test_a_wrong_table_is_refused(read, text, where, word):
    with pytest.raises(AxesFileError) as caught:
        read(text)
    error = caught.value
    assert error.file.endswith("axes.csv")
    assert error.where == where
    assert word in f"{error.found}; {error.remedy}"


def test_points_half_a_millimetre_apart_are_two_points(read):
    assert read(HEADER + "screw 1,HA4.5,lag,1,2,3,1,2,3.5\n").ids == ("screw 1",)


@pytest.mark.parametrize(
    ("unit", "apart", "likely"),
    [
        ("mm", "0.06", "if they are in m, write them in mm"),  # 60 mm
        ("mm", "0.4", "in m or inch, write them in mm"),  # 400 mm, 10 mm; 4 mm is too short a line
        ("mm", "0.0004", None),  # 0.4 mm in the largest of units
        ("inch", "0.012", "in m, write them in inch"),  # 12 mm
    ],
)
def test_points_in_a_wrong_unit_are_refused_with_the_likely_one(read, unit, apart, likely):
    with pytest.raises(AxesFileError) as caught:
        read(HEADER + f"screw 1,HA4.5,lag,0,0,0,0,0,{apart}\n", unit)
    said = f"{caught.value.found}; {caught.value.remedy}"
    assert f"in {unit} as the case says" in said
    assert (likely or "give points further apart") in said


LABELS = ["=1+1", "+A1", "-2", "@SUM(A1)", "'=1", "''-x", "'plain", "screw 1", "a=b", "\t=x"]


@pytest.mark.parametrize("label", LABELS)
def test_no_label_becomes_a_formula_and_every_one_comes_back(tmp_path, label):
    axes = table([[0, 0, 0]], [[1, 0, 0]])
    write_axes(tmp_path / "a.csv", replace(axes, ids=(label,)), "mm")
    (row,) = csv.DictReader((tmp_path / "a.csv").read_text().splitlines())
    assert row["id"][0] not in "=+-@\t"
    assert (row["x"], row["to_x"]) == ("0", "1")
    assert read_axes(tmp_path / "a.csv", "mm").ids == (label,)


def test_two_ids_that_differ_by_the_guard_alone_are_the_same(read):
    with pytest.raises(AxesFileError, match="row 2 already"):
        read(HEADER + ROW.replace("screw 1", "=x") + ROW.replace("screw 1", "'=x"))


def test_what_overflows_only_in_mm_is_refused(read):
    with pytest.raises(AxesFileError, match="not finite"):
        read(HEADER + ROW.replace("3.5", "1e307"), "m")


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(AxesFileError, match="no such file"):
        read_axes(tmp_path / "none.csv", "mm")
    with pytest.raises(AxesFileError, match="folder"):
        read_axes(tmp_path, "mm")


def test_write_into_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(OutputError, match="does not exist"):
        write_axes(tmp_path / "none" / "axes.csv", table([[0, 0, 0]], [[1, 0, 0]]), "mm")


def test_awkward_labels_survive(tmp_path):
    axes = AxesTable(
        ids=('a,"b"', "ünïcode"),
        kinds=("HA 4.5", "HB6.5"),
        techniques=("lag", "position"),
        start=as_points([[0, 0, 0]] * 2),
        end=as_points([[1, 0, 0]] * 2),
        rows=(2, 3),
    )
    write_axes(tmp_path / "a.csv", axes, "mm")
    back = read_axes(tmp_path / "a.csv", "mm")
    assert (back.ids, back.kinds, back.techniques) == (axes.ids, axes.kinds, axes.techniques)


COORDINATE = st.floats(min_value=-1e6, max_value=1e6)
POINT = st.tuples(COORDINATE, COORDINATE, COORDINATE)


@given(
    points=st.lists(st.tuples(POINT, POINT), min_size=1, max_size=5),
    unit=st.sampled_from(sorted(MM_PER_UNIT)),
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_round_trip_is_exact_in_every_unit(tmp_path, points, unit):
    start = np.array([a for a, _ in points])
    end = np.array([b for _, b in points])
    end[np.linalg.norm(start - end, axis=1) < 0.51, 0] += 2.0
    write_axes(tmp_path / "axes.csv", table(start, end), unit)
    back = read_axes(tmp_path / "axes.csv", unit)
    assert np.array_equal(back.start, start)
    assert np.array_equal(back.end, end)
    assert back.rows == tuple(range(2, len(points) + 2))
