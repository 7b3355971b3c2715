"""The order in which a plate is fixed."""

import numpy as np

from trajplan.planner._plate_steps import steps_of
from trajplan.plate import first_fragment

NAMES, UP = ("upper", "lower"), [0.0, 1.0, 0.0]
SIDE, ALONG = np.array([-1, -1, -1, 1, 1, 1]), np.array([40.0, 24.0, 8.0, -8.0, -24.0, -40.0])
IDS = tuple(f"plate 1 hole {n}" for n in range(1, 7))


def steps(work, uses, *, normal=(0.0, 1.0, 1.0), ids=IDS, beside=()):
    first = first_fragment(normal, UP, NAMES)
    return steps_of(work, uses, ids, SIDE, -1, ALONG, first, NAMES, beside)


def test_the_first_fragment_then_eccentric_then_lag_then_the_others():
    # AO Foundation, online surgery reference, compression plates: neutral, eccentric, and the lag
    # screw through the plate after axial compression; Wheeless' Textbook of Orthopaedics: the first
    # eccentric screw is loosened while the second is tightened.
    uses = ("neutral", "neutral", "lag", "eccentric", "eccentric", "neutral")
    made = steps(
        "compress",
        uses,
        ids=(
            "plate 1 hole 1",
            "plate 1 hole 2",
            "screw 1",
            "plate 1 hole 4",
            "plate 1 hole 5",
            "plate 1 hole 6",
        ),
    )
    order = [hole for step in made for hole in step.holes]
    assert order == [1, 3, 4, 2, 0, 5]
    assert "upper" in made[0].says
    assert "Release the clamp" in made[2].says
    assert "Loosen the screw of hole 4" in made[3].says
    assert made[4].screws == ("screw 1",)


def test_the_other_fragment_where_the_fracture_leans_the_other_way():
    uses = ("neutral", "neutral", "eccentric", "neutral", "neutral", "neutral")
    made = steps("compress", uses, normal=(0.0, -1.0, 1.0))
    assert made[0].holes == (3,)
    assert "lower" in made[0].says


def test_lag_screws_before_a_plate_that_protects_and_after_one_that_buttresses():
    uses = ("neutral",) * 3 + ("empty",) * 3
    protects = steps("protect", uses, beside=("screw 1", "screw 2"))
    assert protects[0].screws == ("screw 1", "screw 2")
    holds = steps("buttress", uses, beside=("screw 1", "screw 2"))
    # the first screw next to the fracture on the shaft's side (Wheeless, T plates; malleoli, AO)
    assert [step.holes for step in holes_of(holds)] == [(2,), (1,), (0,)]
    lag = next(i for i, step in enumerate(holds) if step.screws == ("screw 1", "screw 2"))
    assert lag > holds.index(holes_of(holds)[0])


def holes_of(made):
    return [step for step in made if step.holes]
