"""What a terminal tells of a plate: no sentence that a surgeon would stumble over."""

import pytest

from trajplan.show import plan_text


@pytest.mark.parametrize(
    ("slide", "turn", "said"),
    [
        (-0.2, 0.3, "Not chosen: 7 holes, 6 screws. It is shorter."),
        (-5.4, 0.3, "Not chosen: 7 holes, -5 mm along from it, 6 screws. It is shorter."),
        (0.4, 15.0, "Not chosen: 7 holes, 15 degrees round from it, 6 screws. It is shorter."),
        (8.0, 15.0, "Not chosen: 7 holes, +8 mm along and 15 degrees round from it, 6 screws."),
    ],
)
def test_a_place_that_was_not_chosen(plan, plate_record, record, slide, turn, said):
    option = {
        "kind": "Narrow4.5", "holes": 7, "work": "protect", "side": (1.0, 0.0, 0.0),
        "slide": slide, "turn": turn, "screws": 6, "verdict": "pass", "why": "It is shorter.",
    }  # fmt: skip
    text = plan_text(plan(record(), plates=(plate_record(options=(option,)),)))
    assert said in " ".join(text.split())
