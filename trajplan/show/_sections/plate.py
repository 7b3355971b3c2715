"""Section along a plate: both fragments, the fracture, the plate and the screws in it, to scale."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.arrays import as_directions, as_points, as_vector
from trajplan.cautions import CAUTION_TEXT
from trajplan.implants import find_screw
from trajplan.show._items.plate import screws_in, solid_of
from trajplan.show._sections.cut import Frame, bone_area, fracture_lines, solid_area
from trajplan.show._sections.draw import DPI, KEY, RC, STYLES, put, teeth
from trajplan.show._sections.page import (
    CAUTION_SIZE,
    KEY_SIZE,
    LABEL_SIZE,
    LEADING,
    MARGIN,
    NOTE_SIZE,
    SCALES,
    TITLE_SIZE,
    WIDTH,
    Page,
    cross_of,
)
from trajplan.show._sections.paper import MM_PER_POINT, wrap
from trajplan.show._sections.screw import screw_outlines
from trajplan.show._sections.words import Swatch, draw_cross, key, key_rows, scale_bar, write
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

    from trajplan.arrays import Vec3
    from trajplan.files import PlanFile, PlateRecord, ScrewRecord
    from trajplan.implants import Catalogue
    from trajplan.planner import Setup

__all__ = ["PlateSection", "plate_section", "plate_section_bytes"]

#: mm of bone shown beyond the plate's ends, and beyond heads and tips.
BEYOND, OVER = 8.0, 3.0
#: mm of paper, room for words above heads and below tips.
HEADROOM, FOOTROOM = 12.0, 6.0
#: Degrees by which a screw may leave the plane before a note says how far.
LEAVES = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class PlateSection:
    """Section in the plane along a plate; coordinates are along the plate and out of the bone."""

    title: str
    parts: Mapping[str, BaseGeometry]  # by the name of its style
    marks: tuple[tuple[str, str, tuple[float, float], tuple[float, float]], ...]
    # of each hole: over the plate, below the tip, and the places of both
    notes: tuple[str, ...]
    frame: Frame
    ways: tuple[tuple[str, Vec3], ...]  # words and unit vectors of the orientation cross


def plate_section(setup: Setup, plan: PlanFile, plate: PlateRecord) -> PlateSection:
    """Section bone and plate along the plate, its screws turned into that plane.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    plate : PlateRecord
        A plate of it.

    Returns
    -------
    PlateSection

    Raises
    ------
    CatalogueError
        If the catalogue lacks the kind of a screw.
    """
    frame = _frame(plate)
    bone, canal, gaps = bone_area(setup.bone, frame)
    fracture = fracture_lines(setup.fracture, frame, bone)
    cut = solid_area(solid_of(plate), frame)
    parts: dict[str, list[BaseGeometry]] = {
        "bone": [bone],
        "bone outline": [shapely.boundary(bone)],
        "canal": [canal],
        "fracture": [shapely.difference(fracture, canal)],
        "fracture in the canal": [shapely.intersection(fracture, canal)],
        "plate": [cut],
    }
    screws = screws_in(plan, plate)
    for screw in screws.values():
        for name, shape in _turned_in(screw, setup.catalogue, frame).items():
            parts.setdefault(name, []).append(shape)
    whole = {name: shapely.union_all(shapes) for name, shapes in parts.items()}
    window = _window(whole)
    return PlateSection(
        title=f"{plate.id}: {plate.kind}, {plate.holes} holes, to {plate.work}; section along it",
        parts={name: shapely.intersection(shape, window) for name, shape in whole.items()},
        marks=tuple(_marks(plate, screws, frame, whole)),
        notes=tuple(_notes(screws, frame, gaps)),
        frame=frame,
        ways=tuple(arms(plan.frame, plan.bearings)),
    )


def _frame(plate: PlateRecord) -> Frame:
    """Plane through the plate's middle along its chord, upright on it."""
    points = as_points(plate.line)
    along = as_directions(points[-1] - points[0])[0]
    out = np.asarray(plate.out, dtype=np.float64).mean(axis=0)
    up = as_directions(out - (out @ along) * along)[0]
    return Frame(as_points([hole.centre for hole in plate.hole]).mean(axis=0), along, up)


def _turned_in(record: ScrewRecord, catalogue: Catalogue, frame: Frame) -> dict[str, BaseGeometry]:
    """Outlines of a screw, turned into the plane about where its axis enters the bone."""
    if record.entry is None:
        return {}
    screw = find_screw(catalogue, record.kind)
    outline = dict(screw_outlines(record, screw, None))
    if "thread" in outline:
        outline["thread"] = teeth(outline, screw.pitch)
    entry = frame.flat(as_vector(record.entry)[None])[0]
    flat = as_vector(record.direction) @ np.stack([frame.along, frame.up], axis=1)
    axis = flat / np.linalg.norm(flat)
    onto = np.stack([axis, [-axis[1], axis[0]]])
    return {
        name: shapely.transform(shape, lambda xy: entry + xy @ onto)
        for name, shape in outline.items()
    }


def _window(parts: Mapping[str, BaseGeometry]) -> BaseGeometry:
    """Part that is shown: the plate, and all between heads and tips."""
    shown = [parts[name] for name in ("plate", "head", "tip") if name in parts]
    low, bottom, high, top = shapely.union_all(shown).bounds
    left, _, right, _ = parts["plate"].bounds if not parts["plate"].is_empty else (low, 0, high, 0)
    return shapely.box(left - BEYOND, bottom - OVER, right + BEYOND, top + OVER)


def _marks(
    plate: PlateRecord,
    screws: Mapping[int, ScrewRecord],
    frame: Frame,
    parts: Mapping[str, BaseGeometry],
) -> list[tuple[str, str, tuple[float, float], tuple[float, float]]]:
    """What is written over each hole and below its screw's tip."""
    tops = shapely.union_all([parts[n] for n in ("plate", "head") if n in parts]).bounds[3]
    found = []
    for hole in plate.hole:
        x = float(frame.flat(as_vector(hole.centre)[None])[0, 0])
        use = "" if hole.use == "neutral" else f" {hole.use}"
        screw = screws.get(hole.number)
        below, tip = "", (x, 0.0)
        if screw is not None and screw.entry is not None and screw.length is not None:
            depth = (screw.seat or 0.0) + screw.length
            point = as_vector(screw.entry) + depth * as_vector(screw.direction)
            below = f"{screw.length:g}"
            flat = frame.flat(point[None])[0]
            tip = (float(flat[0]), float(flat[1]))
        found.append((f"{hole.number}{use}", below, (x, float(tops)), tip))
    return found


def _notes(screws: Mapping[int, ScrewRecord], frame: Frame, gaps: tuple[float, ...]) -> list[str]:
    notes = [
        "Plane along the plate's chord, upright on it. Below each tip: the screw's length, mm.",
    ]
    normal = frame.plane.normal
    out = [
        float(np.degrees(np.arcsin(abs(as_vector(screw.direction) @ normal))))
        for screw in screws.values()
    ]
    if out and max(out) >= LEAVES:
        notes.append(
            f"The plate twists: screws are turned into the plane, which they leave by up to "
            f"{max(out):.0f}\N{DEGREE SIGN}. Bone is as the plane cuts it: lengths are the plan's."
        )
    if gaps:
        notes.append(
            f"The bone surface is open in this plane; gaps up to {max(gaps):.1f} mm were closed "
            "with a straight line."
        )
    return notes


def plate_section_bytes(section: PlateSection, form: str, *, cautions: bool = True) -> bytes:
    """Draw a section along a plate, as the content of a picture file.

    Parameters
    ----------
    section : PlateSection
        As from `plate_section`.
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
        figure = _figure(section, cautions=cautions)
        figure.savefig(stream, format=form, dpi=DPI, metadata=empty)
    return stream.getvalue()


def _figure(section: PlateSection, *, cautions: bool) -> Figure:
    from matplotlib.figure import Figure

    seen = {name: part for name, part in section.parts.items() if not part.is_empty}
    swatches = [Swatch(words, STYLES[name]) for name, words in KEY.items() if name in seen]
    rows = key_rows(swatches)
    sheet = _page(section, len(rows), cautions=cautions)
    size = (sheet.width / 25.4, sheet.height / 25.4)
    figure = Figure(figsize=size, dpi=DPI, facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0, sheet.width), ylim=(0, sheet.height))
    axes.axis("off")
    for order, (name, style) in enumerate(STYLES.items()):
        if name in seen:
            put(axes, seen[name], sheet, {"zorder": order, **style})
    _words(axes, sheet, section)
    draw_cross(axes, sheet)
    key(axes, sheet, rows)
    scale_bar(axes, sheet, "")
    return figure


def _page(section: PlateSection, key_lines: int, *, cautions: bool) -> Page:
    low, bottom, high, top = shapely.union_all(list(section.parts.values())).bounds
    room = WIDTH - 2.0 * MARGIN
    scale = next((s for s in SCALES if s <= 1.0 and s * (high - low) <= room), SCALES[-1])
    step = LEADING * MM_PER_POINT
    text = wrap(CAUTION_TEXT, CAUTION_SIZE, room) if cautions else []
    said = _upwards(text, step * CAUTION_SIZE, MARGIN)
    foot = MARGIN + step * CAUTION_SIZE * len(said) + 3.0
    key_top = foot + 7.0 + key_lines * step * KEY_SIZE
    base = key_top + 4.0 + FOOTROOM - scale * bottom
    upper = base + scale * top + HEADROOM
    cross = cross_of(section.frame, section.ways)
    beside = room - MARGIN - (cross.box.right - cross.box.left)
    lines = [line for note in section.notes for line in wrap(note, NOTE_SIZE, beside)]
    taken = step * (NOTE_SIZE * len(lines) + TITLE_SIZE) + 3.0
    upper += max(cross.box.high - cross.box.low - taken, 0.0)
    notes = _upwards(lines, step * NOTE_SIZE, upper)
    title_base = upper + step * NOTE_SIZE * len(lines) + 3.0
    height = title_base + step * TITLE_SIZE + MARGIN / 2.0
    return Page(
        width=WIDTH,
        height=height,
        scale=scale,
        window=(low, high, bottom, top),
        axis=(WIDTH / 2.0 - scale * (low + high) / 2.0, base),
        title=((section.title, title_base),),
        notes=notes,
        placed=(),
        key=key_top,
        foot=foot,
        cautions=said,
        cross=cross,
        cross_at=(WIDTH - MARGIN - cross.box.right, height - MARGIN / 2.0 - cross.box.high),
    )


def _upwards(lines: list[str], step: float, low: float) -> tuple[tuple[str, float], ...]:
    """Base lines of a paragraph whose last line stands lowest."""
    return tuple((text, low + step * i) for i, text in enumerate(reversed(lines)))


def _words(axes: Axes, sheet: Page, section: PlateSection) -> None:
    for text, y in sheet.title:
        write(axes, MARGIN, y, text, TITLE_SIZE, weight="bold")
    for text, y in sheet.notes:
        write(axes, MARGIN, y, text, NOTE_SIZE)
    for text, y in sheet.cautions:
        write(axes, MARGIN, y, text, CAUTION_SIZE)
    for over, below, top, tip in section.marks:
        number, _, use = over.partition(" ")
        x, y = sheet.at(np.array(top))
        write(axes, x, y + 2.0, number, LABEL_SIZE, ha="center", weight="bold")
        write(axes, x, y + 6.0, use, CAUTION_SIZE, ha="center")
        x, y = sheet.at(np.array(tip))
        write(axes, x, y - 4.2, below, NOTE_SIZE, ha="center")
