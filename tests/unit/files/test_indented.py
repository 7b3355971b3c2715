"""JSON laid out as the standard library lays it out, to the letter."""

import json
import math

import numpy as np
import pytest

from trajplan.files._indented import indented

ODD = [
    *(0.0, -0.0, 1.0, -1.5, 0.1, 1e-4, 9.9e-5, 1e-5, -1e-6, 0.000012, 123456.000072, 1.00001),
    *(1e15, 9007199254740993.0, 1e16, -1.5e16, 1e17, 1e22, 1e23, 1.7976931348623157e308, 5e-324),
    *(0, 7, -3, 2**53, True, False, None),
]
TEXTS = [
    *(
        'a "word"',
        "back\\slash",
        "line\nend",
        "tab\t",
        "\x01\x1f\x7f",
        "é ² \N{MULTIPLICATION SIGN}",
    ),
    *("\u2028", "\N{BONE}", "0.00001", "1e-5", "a: 1e-5,\n 1e-5\n", "doi 10.1/b013e3182336ec3", ""),
]


def by_library(value, depth):
    text = json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False)
    return text.replace("\n", "\n" + depth * " ")


@pytest.mark.parametrize("value", [*ODD, *TEXTS, [], {}, [[]], {"a": {}}, [1e-5], {"a": 1e16}])
def test_lone_values(value):
    assert indented(value, 2) == by_library(value, 2)


def test_nested():
    value = {"numbers": ODD, "texts": TEXTS, "both": [{"a": o, "b": t} for o in ODD for t in TEXTS]}
    assert indented(value, 3) == by_library(value, 3)
    assert json.loads(indented(value, 0)) == value


def test_numbers_as_plans_hold_them_and_any_others():
    rng = np.random.default_rng(3)
    plain = np.round(10.0 ** rng.uniform(-7, 7, 4000) * rng.choice([-1, 1], 4000), 6)
    bits = rng.integers(0, 2**64, 4000, dtype=np.uint64).view(np.float64)
    values = [v for v in (*plain.tolist(), *bits.tolist()) if math.isfinite(v)]
    assert indented(values, 1) == by_library(values, 1)
