"""Rule: one screw does not stop rotation."""

import numpy as np
from builders import case_of
from specimens import tube

from trajplan.checks import Verdict, holds_rotation
from trajplan.files import AxesTable
from trajplan.planner import check_axes


def test_two_screws_are_needed():
    assert [holds_rotation(n).verdict for n in range(4)] == [
        Verdict.CAUTION, Verdict.CAUTION, Verdict.PASS, Verdict.PASS,
    ]  # fmt: skip


def rotation(*heights):
    """What a check says of axes along the normal of a fracture through (0, 0, 50)."""
    n = len(heights)
    middle = np.column_stack([np.zeros((n, 2)), heights])
    way = 60.0 * np.array([0.866, 0.0, 0.5])
    table = AxesTable(
        ids=tuple(f"screw {i}" for i in range(n)),
        kinds=("HA4.5",) * n,
        techniques=("lag",) * n,
        start=middle - way,
        end=middle + way,
        rows=tuple(range(2, n + 2)),
    )
    plan = check_axes(case_of(), table, bone=tube(sides=32))
    found = [f.verdict for f in plan.findings if f.rule == "holds_rotation"]
    return found[0] if found else None


def test_only_screws_that_cross_the_fracture_count():
    assert rotation(43.0, 57.0) is Verdict.PASS
    assert rotation(45.0, 90.0) is Verdict.CAUTION
    assert rotation(10.0, 90.0) is None  # none crosses it: each fails by itself
    assert rotation(45.0) is Verdict.CAUTION
