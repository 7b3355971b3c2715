"""The load that opens or slides a squeezed fracture: cases with a closed form."""

import numpy as np
import pytest
from specimens import box

from trajplan.bone import as_surface, make_bone
from trajplan.errors import DegenerateError
from trajplan.fracture import fracture_from_plane
from trajplan.mechanics import (
    BONE_FRICTION,
    Load,
    clamp_load,
    opening_load,
    region_quadrature,
    shaft_load,
)

Z = (0.0, 0.0, 1.0)
MIDDLE = np.array([0.0, 0.0, 50.0])
BONE = make_bone(as_surface(box((-10, -5, 0), (10, 5, 100))))
REGION = region_quadrature(fracture_from_plane(BONE, MIDDLE, Z).zones[0], 1.0)
CLAMP = clamp_load([1000.0], [Z], [MIDDLE], Z)


def load(force=(0, 0, 0), moment=(0, 0, 0)):
    return Load(np.array(force, dtype=float), np.array(moment, dtype=float), MIDDLE)


def slips(found):
    return [found.slip_low, found.slip_estimate, found.slip_high]


FRICTIONS = np.array([BONE_FRICTION.low, BONE_FRICTION.estimate, BONE_FRICTION.high])


def test_bending_opens_at_the_kern():
    # M = N b / 6; the outermost points stand a quarter of a piece or less inside the edge.
    bend = shaft_load(Z, Z, MIDDLE, bending=1.0, bending_axis=[0, 1, 0])
    found = opening_load(REGION, CLAMP, load(moment=1000 * bend.moment))
    assert found.gap == pytest.approx(20 / 6, rel=0.02)
    assert found.gap >= 20 / 6


def test_pulling_opens_at_the_squeeze():
    found = opening_load(REGION, CLAMP, load(force=[0, 0, -500]))
    assert found.gap == pytest.approx(2.0, rel=1e-3)


def test_half_of_the_region_may_open():
    # A no-tension rectangle keeps the share 3 (b/2 - e) / b: 1/2 at e = b/3.
    found = opening_load(REGION, CLAMP, load(moment=[0, 1000, 0]), share=0.5)
    assert found.gap == pytest.approx(20 / 3, rel=0.03)


def test_shear_slides_at_friction_times_squeeze():
    found = opening_load(REGION, CLAMP, load(force=[0, 100, 0]))
    assert slips(found) == pytest.approx(FRICTIONS * 10, rel=1e-3)
    assert found.gap == np.inf
    assert (found.low, found.high) == (found.slip_low, found.slip_high)


def test_oblique_push_slides_or_locks():
    # N + P cos a against P sin a: P = mu N / (sin a - mu cos a), never where tan a < mu.
    a = np.radians(23.0)
    found = opening_load(REGION, CLAMP, load(force=[0, 500 * np.sin(a), 500 * np.cos(a)]))
    due = FRICTIONS[:2] * 2 / (np.sin(a) - FRICTIONS[:2] * np.cos(a))
    assert slips(found)[:2] == pytest.approx(due, rel=1e-3)
    assert found.slip_high == np.inf  # arctan 0.46 is 24.7 degrees


def test_already_open_and_already_sliding():
    aside = clamp_load([1000.0], [Z], [[8, 0, 50]], Z)
    assert opening_load(REGION, aside, load(force=[0, 0, -1])).gap == 0.0
    steep = clamp_load([1000.0], [[0, np.sin(0.6), np.cos(0.6)]], [MIDDLE], Z)
    assert slips(opening_load(REGION, steep, load(force=[0, 1, 0]))) == [0.0, 0.0, 0.0]


def test_more_squeeze_bears_more():
    twice = clamp_load([2000.0], [Z], [MIDDLE], Z)
    torsion = load(moment=[0, 0, 1000])
    once, double = (opening_load(REGION, c, torsion) for c in (CLAMP, twice))
    assert slips(double) == pytest.approx([2 * s for s in slips(once)], rel=1e-3)


@pytest.mark.parametrize("share", [0.0, -1.0, 1.1, np.nan])
def test_impossible_share(share):
    with pytest.raises(DegenerateError, match="share"):
        opening_load(REGION, CLAMP, load(force=[1, 0, 0]), share=share)


def test_no_load_and_no_number():
    with pytest.raises(DegenerateError, match="nothing"):
        opening_load(REGION, CLAMP, load())
    with pytest.raises(DegenerateError, match="finite"):
        opening_load(REGION, CLAMP, load(force=[np.nan, 0, 0]))
    unknown = clamp_load([np.nan], [Z], [MIDDLE], Z)
    with pytest.raises(DegenerateError, match="finite"):
        opening_load(REGION, unknown, load(force=[1, 0, 0]))
