"""Rule: what the cortex thickness rests on is said."""

import numpy as np
import pytest
from builders import changed, in_slab, screws_in, shaft, words, zone_of

from trajplan.checks import Limits, cortex_known

LIMITS = Limits()


def test_a_modelled_canal():
    bone = shaft()
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone, cortex=3.0)
    ruling = cortex_known(screws, LIMITS)
    assert words(ruling) == ["pass"]
    assert ruling.measured == pytest.approx(5.0, abs=1e-9)  # and not the 3.0 of the case


def test_an_assumed_cortex_is_a_note_and_never_silent():
    ruling = cortex_known(in_slab(cortex=4.0, angle=[60]), LIMITS)
    assert words(ruling) == ["note"]
    assert ruling.measured == pytest.approx(4.0 / np.cos(np.radians(60)), abs=1e-3)
    assert "an assumption of the case" in ruling.findings(["screw 1"])[0].why


def test_nothing_known_is_unknown():
    ruling = cortex_known(in_slab(), LIMITS)
    assert words(ruling) == ["unknown"]
    assert ruling.findings(["screw 1"])[0].measured is None


def test_a_modelled_canal_where_the_surface_is_open():
    bone = shaft()
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone)
    assert words(cortex_known(changed(screws, "corridors", decided=False), LIMITS)) == ["unknown"]


def test_misses():
    assert words(cortex_known(in_slab(x=[90], cortex=4.0), LIMITS)) == [None]
    assert words(cortex_known(in_slab(x=[]), LIMITS)) == []
