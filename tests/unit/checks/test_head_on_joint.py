"""Rule: no head sits on a joint surface."""

from dataclasses import replace

import numpy as np
import pytest
from builders import catalogue, changed, in_slab, obstacle, screw, words
from specimens import box

from trajplan.bone import Volume
from trajplan.checks import head_on_joint


def cartilage(x):
    """A joint surface on the slab's upper face, from ``x`` mm on."""
    return obstacle(box((x, -20, 0), (x + 20, 20, 0.001)), name="upper {joint} surface")


@pytest.mark.parametrize(("x", "word"), [(-5, "fail"), (3.999, "fail"), (4.0, "pass"), (9, "pass")])
def test_edge_of_the_head(x, word):
    """The head of HA4.5 is 8 mm across."""
    ruling = head_on_joint(in_slab(), cartilage(x))
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(max(x, 0) - 4.0, abs=1e-3)


def test_a_washer_is_wider():
    washer = catalogue().washers[screw().washer]
    screws = in_slab(washers=(washer,))
    assert washer.outer_diameter == 13.0
    assert words(head_on_joint(screws, cartilage(6.4))) == ["fail"]
    assert words(head_on_joint(screws, cartilage(6.6))) == ["pass"]


def test_a_joint_below_the_entry_is_no_seat():
    below = obstacle(box((-20, -20, -30), (20, 20, -20)))
    assert words(head_on_joint(in_slab(), below)) == ["pass"]


def test_a_head_inside_a_joint_body():
    """A body with a volume, as a joint may be drawn: its surface lies 8 mm from the entry."""
    bare = obstacle(box((-20, -20, -8), (20, 20, 8)))
    body = replace(bare, volume=Volume.of(bare.surface))
    ruling = head_on_joint(in_slab(), body)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(-8.0 - 4.0, abs=1e-9)


def test_the_joint_is_named():
    (found,) = head_on_joint(in_slab(), cartilage(0.0)).findings("a")
    assert "The head sits on upper (joint) surface" in found.why


def test_doubts_and_misses():
    unsure = changed(in_slab(), "corridors", decided=False)
    assert words(head_on_joint(unsure, cartilage(9.0))) == ["unknown"]
    assert words(head_on_joint(unsure, cartilage(0.0))) == ["fail"]
    assert words(head_on_joint(in_slab(x=np.array([90.0])), cartilage(9.0))) == [None]
    assert words(head_on_joint(in_slab(x=[]), cartilage(9.0))) == []
