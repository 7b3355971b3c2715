"""Laws of the files: whatever is done to a case, the answer is a case or one clear error."""

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trajplan.errors import AxesFileError, CaseError, CatalogueError
from trajplan.files import Case, read_axes, read_case
from trajplan.implants import Catalogue, load_catalogue

CASE = """\
title = "bench"
unit = "mm"
frame = "LPS"
[bone]
mesh = "shaft.stl"
cortex = 4.5
[fracture]
plane = { point = [0, 0, 120], normal = [0, 0.707, 0.707] }
[[joint]]
name = "joint"
mesh = "joint.stl"
[[avoid]]
name = "nerve"
mesh = "nerve.stl"
clearance = 8.0
[screws]
count = 3
kinds = ["HA4.5", "HA3.5"]
approach = { direction = [1, 0, 0], cone = 60 }
[limits]
max_tilt = 20
"""
SCREW = """\
[[screw]]
kind = "HA9.0"
thread = "shallow"
bone = "cortical"
thread_diameter = 9.0
core_diameter = 6.0
pitch = 2.0
head_diameter = 14.0
head_height = 7
head_radius = 7.0
lengths = [20, 30]
length_from = "seat"
sources = { default = { status = "common practice", source = "bench" } }
"""
AXES = """\
id,kind,technique,x,y,z,to_x,to_y,to_z
screw 1,HA4.5,lag,0,1,2,3.5,4,5e1
screw 2,HB6.5,position,0,1,2,-3.5,4,5e1
"""

VALUES = st.sampled_from(
    ["-1", "0", "nan", "-inf", "1e308", "true", '""', '"x"', "[]", "[[]]", "{}", "{ a = 1 }",
     "[1, 2]", "[0, 0, 0]", '["a", 1]', "1979-05-27", "07:32:00", "9" * 400, "'\\'", "# x", ""]
)  # fmt: skip


@st.composite
def mutated(draw, text):
    """Replace values, drop, double and swap lines, splice in text."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 4))):
        i = draw(st.integers(0, len(lines) - 1))
        j = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["value", "drop", "double", "swap", "splice", "key"])):
            case "value":
                value = draw(VALUES)
                lines[i] = re.sub(r"(?<= = )[^=]+$", lambda _, v=value: v, lines[i])
            case "drop":
                lines[i] = ""
            case "double":
                lines.insert(j, lines[i])
            case "swap":
                lines[i], lines[j] = lines[j], lines[i]
            case "splice":
                at = draw(st.integers(0, len(lines[i])))
                lines[i] = lines[i][:at] + draw(st.text(max_size=3)) + lines[i][at:]
            case "key":
                lines[i] = lines[i].replace("e", "", 1)
    return "\n".join(lines)


def answer(tmp_path, content, read, error):
    path = tmp_path / "file"
    path.write_bytes(content)
    refused = None
    try:
        return read(path)
    except error as caught:
        refused = caught
    assert refused.file == str(path)
    assert refused.found
    assert refused.remedy
    assert len(str(refused)) < len(str(path)) + 600
    return None


quick = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@quick
@given(text=mutated(CASE))
def test_a_mutated_case_is_a_case_or_a_case_error(tmp_path, text):
    content = text.encode(errors="surrogatepass")
    assert isinstance(answer(tmp_path, content, read_case, CaseError), Case | None)


@quick
@given(text=mutated(SCREW))
def test_a_mutated_catalogue_is_a_catalogue_or_a_catalogue_error(tmp_path, text):
    content = text.encode(errors="surrogatepass")
    assert isinstance(answer(tmp_path, content, load_catalogue, CatalogueError), Catalogue | None)


@quick
@given(text=mutated(AXES))
def test_a_mutated_table_has_all_its_axes_or_is_refused(tmp_path, text):
    content = text.encode(errors="surrogatepass")
    axes = answer(tmp_path, content, lambda path: read_axes(path, "mm"), AxesFileError)
    if axes is not None:
        n = len(axes.ids)
        assert n == len(set(axes.ids)) == len(axes.rows) > 0
        assert axes.start.shape == axes.end.shape == (n, 3)


@quick
@given(content=st.binary(max_size=60))
def test_any_bytes_are_answered(tmp_path, content):
    answer(tmp_path, content, read_case, CaseError)
    answer(tmp_path, content, lambda path: read_axes(path, "mm"), AxesFileError)
    answer(tmp_path, content, load_catalogue, CatalogueError)


@pytest.mark.parametrize(
    ("text", "read"),
    [(CASE, read_case), (SCREW, load_catalogue), (AXES, lambda path: read_axes(path, "mm"))],
)
def test_the_texts_are_right_before_they_are_mutated(tmp_path, text, read):
    (tmp_path / "file").write_text(text)
    assert read(tmp_path / "file") is not None
