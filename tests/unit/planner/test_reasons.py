"""Why a screw was chosen, in the numbers that it was chosen by."""

import numpy as np
from builders import changed, in_slab, level, slab

from trajplan.checks import Limits, Surroundings, screw_rulings
from trajplan.planner._reasons import reasons


def told(screws, chosen=(0,), number=12):
    around = Surroundings(slab(), (level(slab(), 8.0),), (), None)
    rulings = screw_rulings(screws, Limits(), around)
    return reasons(screws, rulings, Limits(), around.zones, np.array(chosen), number)


def crowd(**fields):
    """Five screws alike but for one field, in which the first is the best."""
    return changed(in_slab(x=np.linspace(-4.0, 4.0, 5), cortex=8.0), **fields)


def test_it_names_what_a_screw_is_better_at_and_by_how_much():
    screws = crowd()
    square = changed(screws, "crossing", tilt=np.array([1.0, 12.0, 12.0, 12.0, 12.0]))
    (said,) = told(square)
    assert said.startswith("of 12 lines that fail no rule, it stands squarer to the fracture (1°)")


def test_a_screw_like_all_others_is_not_praised():
    (said,) = told(crowd(), chosen=(2,))
    assert "squarer" not in said
    assert said.startswith("it ranks first of 12 lines")


def test_one_of_several_goes_with_the_others():
    assert told(crowd(), chosen=(1, 3))[0].startswith("of 12 lines that fail no rule, it goes best")


def test_it_says_why_the_length_is_what_it_is():
    screws = in_slab(x=[0.0])
    (said,) = told(screws)
    gauge, length, proud = screws.gauge[0], screws.length[0], screws.proud[0]
    leaves = f"{length:g} mm leaves the far cortex by {proud:.1f} mm."
    assert said.endswith(f"The gauge will read {gauge:.1f} mm: {leaves}")
    blind = in_slab(80.0, 20.0, kind="HB6.5")
    (said,) = told(blind)
    assert said.endswith("holds by 5.8 turns.")
    assert f"{blind.length[0]:g} mm is the shortest" in said


def test_a_screw_that_runs_towards_a_joint_is_the_longest_and_says_so():
    blind = in_slab(80.0, 20.0, kind="HB6.5")
    (said,) = told(changed(blind, ahead=blind.tip + 1.0))
    assert "It runs towards a joint" in said
    assert f"{blind.length[0]:g} mm is the longest" in said
