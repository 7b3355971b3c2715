"""Bone lost evenly along the whole fracture: three millimetres that no surface shows."""

import sys
from pathlib import Path

import numpy as np
import pytest

from trajplan.checks import Limits, Verdict, reduction_findings
from trajplan.reduction import Fragment, displacements, reduce_fragments

sys.path.insert(0, str(Path(__file__).parents[3] / "scripts"))

from bench_reduce import errors, state
from reduce_breaks import break_bone

LOST = 3.0  # mm


def test_a_slab_lost_evenly_is_never_sure_of_its_length():
    """The pieces come together as if nothing was missing: too short, and said to be unknown."""
    broken = break_bone("humerus", "transverse", 2, slab=LOST, voxel=1.1)
    parts = [Fragment(str(k), p.vertices, p.faces) for k, p in enumerate(broken.pieces)]
    found = reduce_fragments(parts)
    ((mm, degrees, _, length),) = errors(broken, found)
    assert abs(length) == pytest.approx(LOST, abs=0.6)
    assert np.sqrt(mm**2 - length**2) < 1.0
    assert degrees < 5.0
    assert not any(fit.length_known for fit in found.pairs)
    lying = displacements(parts, found.poses, found.fixed, "LPS")
    told = {f.rule: f for f in reduction_findings(found, lying, Limits())}
    assert told["reduce_length"].verdict is Verdict.UNKNOWN
    assert "too short" in told["reduce_length"].why
    row = {"moved": True, "errors": errors(broken, found)}
    assert state(row | {"length_known": False}) == "short"
    assert state(row | {"length_known": True}) == "wrong"
