"""How finely a file places its corners: stated always, cautioned from 0.01 mm on.

Single precision has 24 bits of significand (IEEE 754-2008, binary32): neighbouring numbers
from 2**k up to 2**(k + 1) lie 2**(k - 23) apart.
"""

import numpy as np
import pytest
from specimens import joined, tube

from trajplan.bone import as_surface, line_spans, make_bone, repair


def moved(away, dtype=np.float32):
    vertices, faces = tube()
    return (vertices + away).astype(dtype), faces


@pytest.mark.parametrize(
    ("away", "step"),
    [(0.0, 2.0**-17), (1e3, 2.0**-13), (1e5, 2.0**-7), (2e5, 2.0**-6), (1e6, 2.0**-4), (5e6, 0.5)],
)
def test_the_step_is_that_of_single_precision(away, step):
    audit = make_bone(as_surface(moved(away))).audit
    assert audit.step == step
    told = [said for said in audit.cautions if "in steps of" in said]
    assert len(told) == (step >= 0.01)
    if told:
        assert f"{step:.2g} mm" in told[0]


def test_double_precision_has_none():
    assert make_bone(as_surface(moved(5e6, np.float64))).audit.step == 0.0


def test_in_the_unit_of_the_file():
    """Metres: 200.x m is stored to 2**-16 m."""
    vertices, faces = tube()
    mesh = ((vertices / 1000.0 + 200.0).astype(np.float32), faces)
    assert as_surface(mesh, "m").step == pytest.approx(1000.0 * 2.0**-16)
    assert as_surface(joined(mesh), "m").step == as_surface(mesh, "m").step
    assert repair(as_surface(mesh, "m"), ["degenerate"])[0].step == as_surface(mesh, "m").step


def test_depths_err_by_no_more_than_the_step():
    """What the caution says, on the wall of a shaft: 5 mm thick, and 18 mm of canal."""
    true = np.array([46.0, 51.0, 69.0, 74.0])
    for away in (1e5, 1e6, 5e6):
        bone = make_bone(as_surface(moved(away)))
        origin = np.array([[-60.0, 0.0, 50.0]]) + away
        spans = line_spans(bone, origin, np.array([[1.0, 0.0, 0.0]])).solid
        ends = np.column_stack([spans.start, spans.end]).ravel()
        assert np.abs(ends - true).max() <= bone.audit.step
