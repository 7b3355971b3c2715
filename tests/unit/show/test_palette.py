"""Colours keep apart what touches, in colour and in grey."""

import pytest

from trajplan.show._items.palette import COLOURS, KEY, OPACITY, VERDICT_COLOURS, lightness


@pytest.mark.parametrize(
    ("colour", "expected"),
    # White, black and the web grey closest to L* = 50, as any colour converter gives them.
    [("#ffffff", 100.0), ("#000000", 0.0), ("#777777", 50.03), ("#010101", 0.27)],
)
def test_lightness(colour, expected):
    assert lightness(colour) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("head", "shank"),
        ("shank", "thread"),
        ("head", "washer"),
        ("washer", "shank"),
        ("bone", "head"),
        ("bone", "thread"),
        ("bone", "fracture"),
        ("thread", "outline"),
        ("bone", "avoid"),
        ("bone", "hollow"),
    ],
)
def test_parts_that_touch_differ_in_grey(one, other):
    assert abs(lightness(COLOURS[one]) - lightness(COLOURS[other])) > 15


def test_hues_are_of_the_open_palette():
    # Okabe and Ito 2008, the eight colours as RGB (from memory).
    palette = {"#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}
    assert {COLOURS[r] for r in ("fracture", "joint", "avoid", "thread", "washer")} <= palette


def test_words_are_dark_enough_to_read_on_white():
    # WCAG 2.1, 1.4.3: contrast of 4.5 to 1, which on white is L* below about 49.9.
    assert all(lightness(colour) < 49.9 for colour in VERDICT_COLOURS.values())


def test_every_role_of_the_key_has_a_colour():
    assert KEY.keys() <= COLOURS.keys()
    assert OPACITY.keys() <= COLOURS.keys()
