"""Which way pictures look: letters as radiographs carry them, ends and sides of the limb."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from trajplan.files import BearingsRecord
from trajplan.show._words.sides import arms, side_name

LEFT = BearingsRecord(side="left", ends=("proximal", "distal"), seen=(0.0, 0.0, 1.0))
BARE = BearingsRecord()


def unit(*way):
    return np.array(way) / np.linalg.norm(way)


@pytest.mark.parametrize(
    ("frame", "way", "said"),
    [
        ("LPS", (1, 0, 0), "L"),
        ("LPS", (0, -1, 0), "A"),
        ("RAS", (1, 0, 0), "R"),
        ("ASR", (1, 0, 0), "A"),
        ("ASR", (0, 1, 0), "S"),
        # DICOM PS3.3 C.7.6.1.1.1: the letter with the larger share first
        ("LPS", (1, 0.6, 0), "LP"),
        ("LPS", (0.6, 1, 0), "PL"),
        ("LPS", (1, 0.3, 0), "L"),  # 17 degrees off: one letter
        ("LPS", (1, 0.9, 0.8), "LP"),  # never more than two
        ("scanner", (0.1, -1, 0), "\N{MINUS SIGN}y"),
        ("", (0, 0, 2), "+z"),
    ],
)
def test_letters(frame, way, said):
    assert side_name(frame, BARE, unit(*way)) == said


@pytest.mark.parametrize(
    ("way", "said"),
    [
        ((0, 0, 1), "S (proximal)"),
        ((0.9, 0, -1), "IL (distal)"),
        ((1, 0, 0.9), "LS (lateral)"),
        ((-1, 0, 0), "R (medial)"),
        ((0, 1, 0), "P"),
    ],
)
def test_ends_and_sides_of_the_limb(way, said):
    """Lateral is away from the middle of the body: left on a left limb (common practice)."""
    assert side_name("LPS", LEFT, unit(*way)) == said


def test_ends_without_a_name_of_their_own_are_not_repeated():
    named = BearingsRecord(ends=("superior", "inferior"), seen=(0.0, 0.0, 1.0))
    assert side_name("LPS", named, unit(0, 0, 1)) == "S"


def test_every_name_of_a_turned_frame_is_turned_with_it():
    """The same direction of the body has the same name in all of the frames."""
    rng = np.random.default_rng(1)
    for way in (unit(*drawn) for drawn in rng.normal(size=(50, 3))):
        # RAS is LPS turned by half a round about z; ASL: x to the front, y up, z to the left
        ras = Rotation.from_euler("z", 180, degrees=True).apply(way)
        asl = np.array([-way[1], way[2], way[0]])
        names = {side_name("LPS", BARE, way), side_name("RAS", BARE, ras)}
        assert names == {side_name("ASL", BARE, asl)}


def test_arms_of_the_cross():
    named = dict(arms("LPS", LEFT))
    assert set(named) == {"L lateral", "R medial", "A", "P", "S proximal", "I distal"}
    assert named["A"].tolist() == [0, -1, 0]
    assert [name for name, _ in arms("scanner", BARE)] == ["+x", "+y", "+z"]
