"""Rows that are taken are the rows that would be worked out alone."""

from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from builders import in_slab

X = (-20.0, -7.5, 0.0, 9.0, 500.0)
"""The last axis misses the slab."""


def compare(part, other, name="screws"):
    """All fields, and those of the records in them, down to the arrays."""
    assert type(part) is type(other), name
    for field in fields(part):
        one, two = getattr(part, field.name), getattr(other, field.name)
        if is_dataclass(one):
            compare(one, two, f"{name}.{field.name}")
        else:
            assert np.shape(one) == np.shape(two), f"{name}.{field.name}"
            if np.ndim(one):
                assert one == pytest.approx(two, abs=1e-12, nan_ok=True), f"{name}.{field.name}"


@pytest.mark.parametrize("rows", [[0, 1, 2, 3, 4], [3, 0], [4], [2, 2], []])
def test_as_if_worked_out_alone(rows):
    every = in_slab(x=X, angle=12.0)
    alone = in_slab(x=np.array(X)[rows], angle=12.0)
    compare(every.take(np.array(rows, dtype=np.int64)), alone)
