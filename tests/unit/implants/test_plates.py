"""Plates of a catalogue file: what is read, where holes lie, and what is refused."""

import pytest

from trajplan.errors import CatalogueError
from trajplan.implants import find_implant, find_plate, load_catalogue

# The form of the design, values made up.
PLATE = """
[[plate]]
kind = "X 4.5"
thickness = 3.6
width = 12.0
spacing = 16.0
middle = 25.0
end = 8.0
holes = [6, 8]
material = { modulus = 193000, yield = 690 }
[plate.hole]
form = "sloped"
thread = [4.5]
tilt_along = 25
tilt_across = 7
shift = 1.0
neutral = 0.1
slope = 45
seat = 4.0
[plate.sources]
default = { status = "common practice", source = "measured on our own tray" }
"""


@pytest.fixture
def load(tmp_path):
    def _load(text):
        path = tmp_path / "mine.toml"
        path.write_text(text)
        return load_catalogue(path)

    return _load


def test_a_plate_of_your_own(load):
    catalogue = load(PLATE)
    plate = find_plate(catalogue, "x4.5")
    assert (plate.kind, plate.holes, plate.hole.slope) == ("X4.5", (6, 8), 45.0)
    assert plate.value("yield") == 690.0
    assert set(plate.sources) == {
        "thickness", "width", "spacing", "middle", "end", "holes", "modulus", "yield", "form",
        "thread", "tilt_along", "tilt_across", "shift", "neutral", "slope", "seat",
    }  # fmt: skip
    assert find_implant(catalogue, "X4.5") is plate
    assert find_implant(catalogue, "HA4.5").kind == "HA4.5"


def test_holes_lie_evenly_but_for_the_middle(load):
    plate = load(PLATE).plates["X4.5"]
    assert list(plate.places(4)) == [8.0, 24.0, 49.0, 65.0]
    assert list(plate.places(5)) == [8.0, 24.0, 49.0, 65.0, 81.0]
    assert list(plate.places(2)) == [8.0, 33.0]
    assert plate.length(4) == 73.0


def test_what_is_not_given_is_not_made_up(load):
    plate = load(PLATE.replace("slope = 45\n", "")).plates["X4.5"]
    assert plate.hole.slope is None
    assert "slope" not in plate.sources


def test_a_row_replaces_one_of_the_same_kind(load):
    catalogue = load(PLATE.replace("X 4.5", "narrow4.5"))
    assert catalogue.plates["narrow4.5"].holes == (6, 8)
    assert "Narrow4.5" not in catalogue.plates


def test_the_sphere_of_a_head(load):
    plate = load(PLATE).plates["X4.5"]
    # half of it sunk: its middle lies in the upper face
    assert plate.seat_height(4.0, 4.5) == 3.6
    # a thin plate: the circle of 4.5 mm on a sphere of radius 4 lies sqrt(4² - 2.25²) below its
    # middle, and that circle meets the underside
    thin = load(PLATE.replace("thickness = 3.6", "thickness = 1.0")).plates["X4.5"]
    assert thin.seat_height(4.0, 4.5) == pytest.approx(3.30719, abs=1e-5)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("width = 12.0", "", "key width: the key is missing"),
        ("width = 12.0", "wide = 12.0", 'key wide: the key is not known; write "width"'),
        ("width = 12.0", "width = 4.0", "key width: 4: the plate is no wider than the thread"),
        ("spacing = 16.0", "spacing = 4.5", "key spacing: 4.5: holes no further apart"),
        ("middle = 25.0", "middle = 12.0", "key middle: 12 is below the spacing 16"),
        ("end = 8.0", "end = 2.0", "key end: 2 is no more than half the thread 4.5"),
        ("holes = [6, 8]", "holes = []", "key holes: found []"),
        ("holes = [6, 8]", "holes = [1, 8]", "key holes: found 1; give whole numbers from 2 on"),
        ("holes = [6, 8]", "holes = [6.5]", "key holes: found 6.5"),
        ("end = 8.0", "end = 8.0\nback = 5.0", "key back: a radius of 5 is less than half"),
        ("yield = 690", "yield = 0", "material, key yield: found 0; give MPa above 0"),
        ("yield = 690", "strength = 690", "material, key strength: the key is not known"),
        ("slope = 45", "slope = 90", "hole, key slope: found 90; give degrees above 0"),
        ('form = "sloped"', 'form = "oval"', "hole, key form: found 'oval'; give sloped or"),
        ('form = "sloped"', 'form = "round"', "key shift: a round hole moves no plate"),
        ("default =", "kind =", "key kind: the key is not known"),
        ("default =", "width =", 'key thickness: it has no source; name one in "sources"'),
    ],
)
def test_what_cannot_be_one_plate_is_refused(load, old, new, said):
    assert old in PLATE
    with pytest.raises(CatalogueError, match=r"mine\.toml, plate 1") as refused:
        load(PLATE.replace(old, new))
    assert said in str(refused.value)
