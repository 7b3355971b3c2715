"""Colours and their meaning, safe for colour-blind readers and for grey print.

The hues are those of Okabe and Ito, "Color universal design" (2008), an open palette;
bone, steel and ink are neutral. Parts that touch each other also differ in lightness, so
that a black-and-white print still tells them apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "COLOURS",
    "FRAGMENTS",
    "FRAGMENT_OPACITY",
    "KEY",
    "NO_CONTACT",
    "OPACITY",
    "PRESSURE_MAP",
    "VERDICT_COLOURS",
    "WORDS",
    "Role",
    "lightness",
]

Role: TypeAlias = Literal[
    "bone",
    "hollow",
    "fracture",
    "outline",
    "joint",
    "avoid",
    "head",
    "shank",
    "thread",
    "washer",
    "gliding hole",
    "thread hole",
    "section",
    "edge",
    "wire",
    "plate",
    "number",
    "axis",
    "mark",
    "landmark",
    "label",
    "grip",
    "distance",
]

COLOURS: Mapping[Role, str] = {
    "bone": "#d9c9a3",
    "hollow": "#8f7f5c",
    "fracture": "#d55e00",  # vermilion
    "outline": "#7a2f00",
    "joint": "#56b4e9",  # sky blue
    "avoid": "#cc79a7",  # reddish purple
    "head": "#003f63",
    "shank": "#dfe4e8",
    "thread": "#009e73",  # bluish green
    "washer": "#e69f00",  # orange
    "gliding hole": "#ffffff",
    "thread hole": "#f0e442",  # yellow
    "section": "#e8d9b0",
    "edge": "#111111",
    "wire": "#5b5b5b",
    "plate": "#a3acb5",
    "number": "#111111",
    "axis": "#111111",
    "mark": "#111111",
    "landmark": "#882255",  # wine, of Tol's muted scheme (from memory)
    "label": "#111111",
    "grip": "#0072b2",  # blue
    "distance": "#0072b2",
}

#: Roles that are written and not drawn: what a line leads to from the side, and what stands
#: where it is.
WORDS: frozenset[Role] = frozenset({"label", "number"})

#: Colours of fragments in turn: they differ in hue and in lightness.
FRAGMENTS = ("#d9c9a3", "#7d93ad", "#a9714b", "#b9c48c", "#5f5a4e", "#c9a9c9")

#: Fragments are drawn a little more solid than a whole bone, so that their colours tell.
FRAGMENT_OPACITY = 0.28

#: Contact pressure, low to high, and where there is no contact. Cividis (Nunez et al. 2018, doi
#: 10.1371/journal.pone.0199239, from memory) is even in lightness, for colour-blind readers too.
PRESSURE_MAP = "cividis"
NO_CONTACT = "#f2f2f2"

OPACITY: Mapping[Role, float] = {
    "bone": 0.18,
    "hollow": 0.14,
    "fracture": 0.60,
    "joint": 0.35,
    "avoid": 0.95,
    "gliding hole": 0.25,
    "thread hole": 0.45,
}

#: What the key says of each role, in the order in which it lists them.
KEY: Mapping[Role, str] = {
    "bone": "bone",
    "hollow": "canal",
    "fracture": "fracture",
    "joint": "joint surface",
    "avoid": "keep clear of",
    "plate": "plate",
    "head": "head",
    "washer": "washer",
    "shank": "shank",
    "thread": "thread",
    "gliding hole": "gliding hole",
    "thread hole": "thread hole",
    "wire": "wire",
    "mark": "entry and exit",
    "landmark": "landmark",
}

VERDICT_COLOURS: Mapping[str, str] = {
    "pass": "#00664b",
    "caution": "#8a5a00",
    "fail": "#a31515",
    "unknown": "#444444",
}


def lightness(colour: str) -> float:
    """Lightness L* of a colour, 0 black to 100 white: what is left of it in grey.

    Parameters
    ----------
    colour : str
        ``#rrggbb``, sRGB.

    Returns
    -------
    float

    References
    ----------
    .. [1] IEC 61966-2-1 (sRGB transfer function) and CIE 15 (L*), from memory.
    """
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116 * luminance ** (1 / 3) - 16 if luminance > (6 / 29) ** 3 else luminance * 903.3
