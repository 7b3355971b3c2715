"""Words for how far a reduction is trusted, wherever they stand."""

from dataclasses import replace

import pytest

from tests.reduced_cases import GOOD, solved, write_case
from trajplan.planner import reduce_case, reduced_files, reduction_record
from trajplan.show import reduction_text


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "reduction trusted;"),
        ({"length_known": False}, "reduction trusted, length not known;"),
        ({"length_known": False, "rival": 0.9}, "reduction NOT trusted;"),
    ],
)
def test_trusted_is_never_said_alone_where_the_length_is_not_known(tmp_path, changes, words):
    reduced = reduce_case(write_case(tmp_path), solve=solved(replace(GOOD, **changes)))
    record = reduction_record(reduced, reduced_files(reduced, tmp_path)[0])
    first = reduction_text(record).partition("\n")[0]
    assert words in first
