"""Drawing a section to scale: SVG or PNG, the same bytes for the same section."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import box

from trajplan.errors import OutputError
from trajplan.files import write_bytes_atomic
from trajplan.show._items.palette import COLOURS
from trajplan.show._sections.page import page, window_of
from trajplan.show._sections.paper import FONT
from trajplan.show._sections.slice import BLACK, WHITE
from trajplan.show._sections.words import INK, Swatch, key_rows, write_words

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

    from trajplan.show._sections.page import Page
    from trajplan.show._sections.section import Section
    from trajplan.show._sections.slice import Slice

__all__ = [
    "DPI",
    "KEY",
    "RC",
    "STYLES",
    "draw_section",
    "put",
    "section_bytes",
    "section_figure",
    "teeth",
]

#: Dots per inch of a PNG: a page 180 mm wide becomes 1417 pixels wide.
DPI = 200
RC = {
    "svg.hashsalt": "trajplan",
    "svg.fonttype": "path",
    "font.family": FONT,
    "hatch.linewidth": 0.5,
}

#: How each part is drawn, lowest first. Lightness, hatch and line style tell the parts apart
#: where colour does not.
STYLES: Mapping[str, dict[str, Any]] = {
    "canal": {"facecolor": "#f7f3e8", "edgecolor": "#b5a77f", "hatch": "...", "linewidth": 0.0},
    "bone": {"facecolor": COLOURS["bone"], "edgecolor": "none"},
    "bone outline": {"color": "#4a3f28", "linewidth": 1.2},
    "countersink": {"facecolor": "white", "edgecolor": INK, "linewidth": 0.7, "linestyle": "-"},
    "thread hole": {"facecolor": "white", "edgecolor": INK, "linewidth": 0.8, "linestyle": ":"},
    "shank hole": {"facecolor": "white", "edgecolor": INK, "linewidth": 1.0, "linestyle": "--"},
    "gliding hole": {"facecolor": "white", "edgecolor": INK, "linewidth": 1.0, "linestyle": "--"},
    "fracture": {"color": COLOURS["fracture"], "linewidth": 2.6},
    "fracture in the canal": {
        "color": COLOURS["fracture"],
        "linewidth": 1.2,
        "linestyle": (0, (4, 2)),
    },
    "joint": {"color": COLOURS["joint"], "linewidth": 2.2, "linestyle": "--"},
    "avoid": {"color": COLOURS["avoid"], "linewidth": 2.2, "linestyle": "-."},
    "plate": {
        "facecolor": COLOURS["plate"],
        "edgecolor": INK,
        "linewidth": 0.9,
        "hatch": "////",
    },
    "thread": {"facecolor": COLOURS["thread"], "edgecolor": INK, "linewidth": 0.5},
    "core": {"facecolor": "#eef1f3", "edgecolor": INK, "linewidth": 0.5},
    "shank": {"facecolor": COLOURS["shank"], "edgecolor": INK, "linewidth": 0.9},
    "tip": {"facecolor": "#eef1f3", "edgecolor": INK, "linewidth": 0.7},
    "washer": {"facecolor": COLOURS["washer"], "edgecolor": INK, "linewidth": 0.9},
    "head": {"facecolor": COLOURS["head"], "edgecolor": INK, "linewidth": 0.9},
}
#: Over a CT nothing hides it but the metal itself; lines that must be told on black and white.
OVER_CT: Mapping[str, dict[str, Any]] = {
    **STYLES,
    "canal": {"facecolor": "none", "edgecolor": "none"},
    "bone": {"facecolor": "none", "edgecolor": "none"},
    "bone outline": {"color": COLOURS["washer"], "linewidth": 1.2},
    **{
        name: {"facecolor": "none", "edgecolor": COLOURS["thread hole"], "linewidth": width}
        | {"linestyle": dash}
        for name, width, dash in (
            ("countersink", 0.8, "-"),
            ("thread hole", 1.0, ":"),
            ("shank hole", 1.0, "--"),
            ("gliding hole", 1.0, "--"),
        )
    },
    "thread": {"facecolor": "none", "edgecolor": "#4cd7b0", "linewidth": 0.8},
    "core": {"facecolor": "none", "edgecolor": "#4cd7b0", "linewidth": 0.8},
    "shank": {"facecolor": "none", "edgecolor": "#4cd7b0", "linewidth": 0.9},
    "tip": {"facecolor": "none", "edgecolor": "#4cd7b0", "linewidth": 0.7},
}
#: What the key says, in its order; a part that is not drawn is not in the key.
KEY = {
    "bone": "bone",
    "canal": "canal",
    "fracture": "fracture",
    "plate": "plate",
    "head": "head",
    "washer": "washer",
    "shank": "shank",
    "core": "core",
    "thread": "thread",
    "gliding hole": "gliding hole",
    "shank hole": "shank hole",
    "thread hole": "thread hole",
    "joint": "joint surface",
    "avoid": "keep clear of",
}


#: The same over a CT.
KEY_OVER_CT = {
    "bone outline": "edge of the mesh",
    **{n: w for n, w in KEY.items() if n not in ("bone", "canal")},
}


def draw_section(section: Section, path: Path) -> None:
    """Draw a section to scale.

    Parameters
    ----------
    section : Section
        As from `sections`.
    path : Path
        The file, ending in ``.svg`` or ``.png``; its folder must exist.

    Raises
    ------
    OutputError
        If the ending is another, or the file cannot be written.
    """
    form = path.suffix.lower()
    if form not in (".svg", ".png"):
        raise OutputError(
            f'the ending "{path.suffix}" names no picture that a section is drawn as',
            remedy="let the name end in .svg or .png",
            file=path,
        )
    write_bytes_atomic(path, section_bytes(section, form[1:]))


def section_bytes(section: Section, form: str, *, cautions: bool = True) -> bytes:
    """Draw a section to scale, as the content of a picture file.

    Parameters
    ----------
    section : Section
        As from `sections`.
    form : str
        "svg" or "png".
    cautions : bool
        Whether the drawing carries the cautions: not where the page that holds it does.

    Returns
    -------
    bytes
        The same for the same section.
    """
    import matplotlib.style

    empty = {"Date": None} if form == "svg" else {"Software": None}
    stream = io.BytesIO()
    with matplotlib.style.context(["default", RC]):
        figure = section_figure(section, cautions=cautions)
        figure.savefig(stream, format=form, dpi=DPI, metadata=empty)
    return stream.getvalue()


def section_figure(section: Section, *, cautions: bool = True) -> Figure:
    """Draw a section on a figure whose size is its true size on paper.

    Parameters
    ----------
    section : Section
        As from `sections`.
    cautions : bool
        Whether the drawing carries the cautions.

    Returns
    -------
    matplotlib.figure.Figure
    """
    from matplotlib.figure import Figure

    seen = _seen(section)
    styles, key = (STYLES, KEY) if section.ct is None else (OVER_CT, KEY_OVER_CT)
    swatches = [Swatch(words, styles[name]) for name, words in key.items() if name in seen]
    rows = key_rows(swatches)
    sheet = page(section, len(rows), cautions=cautions)
    size = (sheet.width / 25.4, sheet.height / 25.4)
    figure = Figure(figsize=size, dpi=DPI, facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0, sheet.width), ylim=(0, sheet.height))
    axes.axis("off")
    if section.ct is not None:
        _show_ct(axes, section.ct, sheet)
    for order, (name, style) in enumerate(styles.items()):
        if name in seen:
            put(axes, seen[name], sheet, {"zorder": order, **style})
    write_words(axes, sheet, section, rows)
    return figure


def _show_ct(axes: Axes, ct: Slice, sheet: Page) -> None:
    """Lay the CT under everything, grey; what was not measured stays white."""
    low, high, bottom, top = ct.window
    corners = sheet.at(np.array([[low, bottom], [high, top]]))
    extent = (corners[0, 0], corners[1, 0], corners[0, 1], corners[1, 1])
    axes.imshow(
        np.ma.masked_invalid(ct.values),
        cmap="gray",
        vmin=BLACK,
        vmax=WHITE,
        origin="lower",
        extent=extent,
        interpolation="none",  # a drawing in lines then holds the points read, and is small
        aspect="auto",
        zorder=-1.0,
    )
    axes.set(xlim=(0, sheet.width), ylim=(0, sheet.height))


def _seen(section: Section) -> Mapping[str, BaseGeometry]:
    """What the window shows of everything, by the name of its style."""
    named: dict[str, BaseGeometry] = {
        "bone": section.bone,
        "bone outline": shapely.boundary(section.bone),
        "canal": section.canal,
        "fracture": shapely.difference(section.fracture, section.canal),
        "fracture in the canal": shapely.intersection(section.fracture, section.canal),
        "plate": section.plate,
        **{name: hole for name, hole in section.holes.items() if name != "tap"},
        **section.outline,
    }
    if "countersink" in named:
        named["countersink"] = shapely.intersection(named["countersink"], section.bone)
    if "thread" in section.outline:
        named["thread"] = teeth(section.outline, section.pitch)
    for role in ("joint", "avoid"):
        named[role] = shapely.union_all([line for _, r, line in section.surfaces if r == role])
    low, high, bottom, top = window_of(section)
    window = box(low, bottom, high, top)
    clipped = {name: shapely.intersection(shape, window) for name, shape in named.items()}
    return {name: shape for name, shape in clipped.items() if not shape.is_empty}


def teeth(outline: Mapping[str, BaseGeometry], pitch: float) -> BaseGeometry:
    """Thread in section: ridges on the core, half a turn apart on its two sides.

    Parameters
    ----------
    outline : mapping of str to Polygon
        Parts of a screw, "thread" (its envelope) and "core" among them.
    pitch : float, mm
        Of the thread.

    Returns
    -------
    shapely geometry

    Notes
    -----
    As in the picture of the whole screw, the flank towards the head is the steeper one; its
    exact angles are not drawn.
    """
    start, _, end, crest = outline["thread"].bounds
    _, _, root_end, core = outline["core"].bounds
    width = 0.55 * pitch
    foot = np.arange(start, max(end - pitch, start) + 1e-9, pitch)[:, None, None] * [1.0, 0.0]
    shape = np.array([[0.0, 0.0], [0.10, 1.0], [0.30, 1.0], [1.0, 0.0]])
    upper = shape * [width, crest - core] + [0.0, core] + foot  # (k, 4, 2)
    lower = (upper + np.array([pitch / 2.0, 0.0])) * [1.0, -1.0]
    ridges = shapely.polygons(np.concatenate([upper, lower]))
    return shapely.intersection(
        shapely.union_all(ridges), box(start, -crest, max(root_end, start), crest)
    )


def put(axes: Axes, shape: BaseGeometry, sheet: Page, style: dict[str, Any]) -> None:
    """Draw areas as patches and lines as lines.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Covers the page, in mm of paper.
    shape : shapely geometry
        mm of bone.
    sheet : Page
        Puts it on the paper.
    style : dict
        Properties of matplotlib.
    """
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            rings = [np.array(r.coords) for r in (part.exterior, *part.interiors)]
            outline = Outline.make_compound_path(
                *(Outline(sheet.at(r), closed=True) for r in rings)
            )
            axes.add_patch(PathPatch(outline, **style))
        elif part.geom_type == "LineString":
            axes.plot(*sheet.at(np.array(part.coords)).T, solid_capstyle="round", **style)
        elif part.geom_type.startswith("Multi") or part.geom_type == "GeometryCollection":
            put(axes, part, sheet, style)
