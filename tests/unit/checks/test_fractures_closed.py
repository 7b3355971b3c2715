"""Rule: screws hold every fragment.

Teaching: a wedge is screwed to the main fragments, and a plate always protects it (AO Foundation,
online surgery reference, femoral shaft, lag screw and protection plate, read).
"""

import pytest

from trajplan.checks import Verdict, fractures_closed

NAMES = ("lower", "upper", "wedge", "splinter")
MAIN, LOW, HIGH, APART = (0, 1), (0, 2), (1, 2), (1, 3)


@pytest.mark.parametrize(
    ("closed", "left", "bare", "plated"),
    [
        ([MAIN, LOW, HIGH], [], Verdict.PASS, Verdict.PASS),
        ([LOW, HIGH], [MAIN], Verdict.CAUTION, Verdict.NOTE),  # over the wedge
        ([MAIN], [LOW, HIGH], Verdict.FAIL, Verdict.CAUTION),  # nothing holds the wedge
        ([LOW], [MAIN, HIGH], Verdict.FAIL, Verdict.CAUTION),
        ([LOW, HIGH], [MAIN, APART], Verdict.FAIL, Verdict.CAUTION),
    ],
)
def test_every_fragment_hangs_on_another(closed, left, bare, plated):
    found = fractures_closed(closed, left, NAMES)
    assert (found.verdict, found.measured, found.limit) == (
        bare,
        len(closed),
        len(closed) + len(left),
    )
    assert fractures_closed(closed, left, NAMES, plated=True).verdict is plated


def test_the_fragments_that_hang_on_nothing_are_named():
    why = fractures_closed([LOW, HIGH], [MAIN, APART], NAMES).why
    assert "between upper and splinter (2 of 4 have a screw): nothing holds" in why
    assert "between lower and upper" not in why


def test_a_caution_names_the_decision():
    why = fractures_closed([LOW, HIGH], [MAIN], NAMES).why
    assert "between lower and upper" in why
    assert "Decide on a plate" in why
