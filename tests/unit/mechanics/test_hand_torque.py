"""What hands tighten a screw to, from its core alone."""

import pytest

from trajplan.mechanics import hand_torque


def test_the_torque_that_was_measured():
    """A 3.5 mm screw, core 2.4 mm: hands stopped at 1312 N·mm (Aziz et al. 2014, Proc Inst Mech
    Eng H 228:446, abstract), 82 % of what strips; others at 66 and 86 % (Fletcher et al. 2020, Clin
    Biomech 80; Cleek et al. 2007; abstracts).
    """
    found = hand_torque(2.4)
    assert found.estimate == pytest.approx(1312.0)
    assert found.low == pytest.approx(1056.0)  # 1312 x 66 / 82
    assert found.high == pytest.approx(1376.0)  # 1312 x 86 / 82


def test_it_grows_with_the_cube_of_the_core():
    assert hand_torque(3.0).estimate == pytest.approx(2562.5)  # 1312 x 1.25³
    assert hand_torque([1.2, 4.8]).estimate == pytest.approx([164.0, 10496.0])
