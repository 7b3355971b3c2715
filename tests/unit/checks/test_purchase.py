"""Rule: enough turns of thread bite bone beyond the fracture.

Pitch of HA4.5, 1.75 mm: from memory (ISO 5835); turns are lengths over the catalogue's pitch.
"""

from dataclasses import replace

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, level, screw, screws_in, shaft, slab, words, zone_of
from specimens import box, cylinder, flipped, joined, pipe, tube

from trajplan.checks import Limits, cortex_known, purchase
from trajplan.trajectory import Within, everywhere

LIMITS = Limits()
PITCH = screw().pitch


@pytest.mark.parametrize(("cortex", "word"), [(3.0, "fail"), (4.0, "caution"), (6.0, "pass")])
def test_shallow_thread_in_an_assumed_cortex(cortex, word):
    ruling = purchase(in_slab(cortex=cortex), LIMITS)
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(cortex / PITCH, abs=1e-6)
    assert "with the assumed cortex" in ruling.findings(["screw 1"])[0].why


def test_shallow_thread_in_a_bone_whose_cortex_nobody_knows_is_never_a_pass():
    screws = in_slab(60.0, 8.0)
    assert screws.turns[0] > 20
    assert words(purchase(screws, LIMITS)) == ["unknown"]


@pytest.mark.parametrize("kind", ["HB6.5", "HA4.5"])
def test_any_thread_holds_in_a_bone_end_and_in_no_marrow(kind):
    """What lies there counts, not what the thread is made for."""
    ends, shafts, untold = (everywhere(within) for within in Within)
    for cortex in (None, 2.0):
        ruling = purchase(in_slab(60.0, 20.0, kind=kind, cortex=cortex, inside=ends), LIMITS)
        assert words(ruling) == ["pass"]
    blind = {"kind": kind, "hold": "unicortical"}
    for cortex, word in ((None, "unknown"), (2.0, "fail")):
        ruling = purchase(in_slab(60.0, 20.0, cortex=cortex, inside=shafts, **blind), LIMITS)
        assert words(ruling) == [word]
    ruling = purchase(in_slab(60.0, 20.0, cortex=2.0, inside=untold, **blind), LIMITS)
    assert words(ruling) == ["unknown"]
    assert "cancellous bone, as in a bone end, or marrow" in ruling.findings(["screw 1"])[0].why
    assert "`bone.place`" in ruling.findings(["screw 1"])[0].why


def test_a_wall_that_is_enough_needs_no_word_on_what_lies_inside():
    ruling = purchase(in_slab(cortex=6.0, inside=everywhere(Within.UNTOLD)), LIMITS)
    assert words(ruling) == ["pass"]


def test_a_modelled_canal_is_not_bone():
    bone = shaft()
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    ruling = purchase(screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone), LIMITS)
    assert ruling.measured[0] * PITCH == pytest.approx(5.0, abs=0.1)  # the far wall alone
    assert words(ruling) == ["caution"]
    assert "assumed" not in ruling.findings(["screw 1"])[0].why


@pytest.mark.parametrize("mesh", [tube(), pipe()])  # a canal closed at its ends, and an open one
def test_beside_a_modelled_canal_all_is_wall(mesh):
    """No marrow hides there: half of the chords of the ring, 11.5 mm off the axis of the shaft."""
    bone, round_it = bone_of(mesh), 2.0 * np.pi * np.arange(16) / 16
    chords = np.sqrt(14.0**2 - (11.5 + 2.25 * np.cos(round_it)) ** 2)
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    for known in ({}, {"cortex": 2.0}, {"inside": everywhere(Within.MARROW)}):
        screws = screws_in(bone, [[-40, 11.5, 50]], [[1, 0, 0]], zones=zone, **known)
        ruling = purchase(screws, LIMITS)
        assert words(ruling) == ["pass"]
        assert ruling.measured[0] * PITCH == pytest.approx(chords.mean(), rel=0.01)
        assert "assumed" not in ruling.findings(["screw 1"])[0].why
        (told,) = cortex_known(screws, LIMITS).findings(["screw 1"])
        assert "runs beside it" in told.why
        assert told.measured == pytest.approx(2.0 * np.sqrt(14**2 - 11.5**2), rel=0.01)


def test_past_the_end_of_a_modelled_canal_nobody_knows():
    canal = flipped(cylinder(9.0, 140.0, start=10.0))
    bone = bone_of(joined(cylinder(14.0, 300.0), canal))
    for height, word in ((100.0, "pass"), (200.0, "unknown")):
        zone = zone_of(bone, [0, 0, height], [1, 0, 0])
        at = [[-40, 11.5, height]]
        screws = screws_in(bone, at, [[1, 0, 0]], zones=zone, inside=everywhere(Within.MARROW))
        assert words(purchase(screws, LIMITS)) == [word]


def test_each_screw_says_what_its_own_purchase_rests_on():
    screws = in_slab(x=[0, 5], cortex=6.0)
    mixed = changed(screws, "walls", basis=[0, 1])
    why = [finding.why for finding in purchase(mixed, LIMITS).findings(["screw 1", "screw 2"])]
    assert ["assumed" in sentence for sentence in why] == [False, True]


def test_at_the_limits():
    turns = np.array([1.999, 2.0, 2.999, 3.0, np.nan])
    screws = changed(in_slab(x=np.zeros(5), cortex=6.0), purchase=turns * PITCH)
    ruling = purchase(screws, LIMITS)
    assert words(ruling) == ["fail", "caution", "caution", "pass", "unknown"]


def test_bone_in_doubt_makes_no_pass_and_no_false_fail():
    screws = changed(
        in_slab(x=np.zeros(3), cortex=6.0),
        purchase=np.array([9.0, 0.0, 0.0]),
        doubtful=np.array([0.1, 9.0, 0.1]),
    )
    ruling = purchase(screws, LIMITS)
    assert words(ruling) == ["unknown", "unknown", "fail"]
    assert ruling.measured == pytest.approx([9 / PITCH, 0, 0])


def test_an_open_mesh():
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    screws = screws_in(
        bone_of((vertices, faces[:-2])), [[0, 0, 9]], [[0, 0, -1]], zones=level(slab(), 8.0),
        cortex=6.0,
    )  # fmt: skip
    assert words(purchase(screws, LIMITS)) == ["unknown"]


def test_a_screw_that_finds_no_seat_holds_nothing_that_is_known():
    """A washer's hole wider than the bone: nothing carries the head."""
    from builders import catalogue
    from specimens import cylinder

    bone = bone_of(cylinder(3.2, 60.0))
    washer = replace(catalogue().washers["13.0"], inner_diameter=7.0)
    zone = zone_of(bone, [0, 0, 30], [0, 0, 1])
    screws = screws_in(bone, [[0, 0, 90]], [[0, 0, -1]], zones=zone, washers=(washer,), cortex=60.0)
    assert np.isnan(screws.tip).all()
    assert words(purchase(screws, LIMITS)) == ["unknown"]


def test_misses():
    assert words(purchase(in_slab(x=[90]), LIMITS)) == [None]
    assert words(purchase(in_slab(x=[]), LIMITS)) == []
