"""Pictures of a report: pixels from pyvista, and words over them that stay text.

Labels, scale bar and orientation cue are kept apart from the pixels, so that they print
sharply and can be read by a search or a screen reader.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import COLOURS, WORDS
from trajplan.show._items.plate import every_screw
from trajplan.show._picture.camera import View, framed
from trajplan.show._picture.draw import BARS, draw, look, mesh_of
from trajplan.show._picture.sight import close_to, sights
from trajplan.show._picture.vtk import quiet
from trajplan.show._report.overlay import bar_box, cross_of, marks_of, words_at
from trajplan.show._report.views import (
    Direction,
    down_the_axis,
    plate_directions,
    standard_directions,
    stretch,
)
from trajplan.show._words.cross import Box

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import pyvista as pv

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.files import PlanFile, ScrewRecord
    from trajplan.planner import Setup
    from trajplan.show._items.item import Item
    from trajplan.show._report.overlay import Mark, PlacedCross

__all__ = [
    "ASPECT",
    "Picture",
    "Pictures",
    "blank",
    "picture_of",
    "report_pictures",
    "shots",
]

#: Pixels of every picture.
SIZE = (1000, 750)
ASPECT = SIZE[0] / SIZE[1]
#: Pixels: size of the letters over a picture, larger where the page shows it smaller.
LETTER, CLOSE_LETTER = 48, 36
#: JPEG quality: no blocks to be seen at the edges of screws, a tenth of a PNG's size.
QUALITY = 90
#: Share of the width that a first picture keeps free at either side for names.
NAMES_SHARE = 0.10
#: Screws up to which a picture of the whole bone has room for their names.
FEW = 4
#: Parts of screws that no name may cover.
HEADS = ("head", "washer")
#: What a view as under an image intensifier shows beside the edge of the bone, and its ink.
METAL = frozenset({"head", "shank", "thread", "washer", "wire", "plate"})
SHADOW = "#2b2b2b"


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture and what is written over it."""

    name: str  # what it shows, for the caption
    data: str  # data address of the pixels
    width: int
    height: int
    letter: int  # pixels, size of the letters
    marks: tuple[Mark, ...]
    bar: float  # pixels of the scale bar
    bar_length: int  # mm
    cross: PlacedCross | None  # which way it looks; None: what it shows was turned
    on_axis: bool  # whether the axis is seen end-on in the middle


@dataclass(frozen=True, slots=True)
class Pictures:
    """Every picture of a report."""

    first: tuple[Picture, ...]  # along and across the surgeon's line of sight
    whole: tuple[Picture, ...]  # the whole bone from three sides
    shadows: tuple[Picture, ...]  # two as under an image intensifier
    own: Mapping[str, tuple[Picture, ...]]  # by the id of each placed screw and each plate


def report_pictures(setup: Setup, items: Sequence[Item], plan: PlanFile) -> Pictures:
    """Draw every picture of a report.

    Parameters
    ----------
    setup : Setup
        The case.
    items : sequence of Item
        As from `plan_scene`.
    plan : PlanFile
        The plan.

    Returns
    -------
    Pictures
        Of each placed screw the side that shows it best and the view down its axis; of each
        plate its top and its edge.
    """
    bone = np.vstack([i.points for i in items if i.role == "bone"])
    sides = standard_directions(plan.frame, bone, plan.screws)
    lines = sights(setup, plan)
    with quiet():
        plotter = _plotter(items)
        shoot = _Camera(plotter, items, plan)
        first = [
            shoot(_capital(s.name), close_to(items, s, ASPECT, (NAMES_SHARE,) * 2), CLOSE_LETTER)
            for s in lines
        ]
        few = len(every_screw(plan)) <= FEW
        whole = [
            shoot(f"whole bone, {side.name}", shoot.frame(bone, side), named=few) for side in sides
        ]
        own: dict[str, tuple[Picture, ...]] = {}
        for record in plan.screws:
            near = stretch(plan, record.id)
            if len(near):
                side, down = _best_side(sides, record), down_the_axis(record, bone)
                own[record.id] = (
                    shoot(side.name, shoot.frame(near, side), CLOSE_LETTER),
                    shoot(down.name, shoot.frame(near, down), CLOSE_LETTER, on_axis=True),
                )
        for plate in plan.plates:
            near = np.asarray(plate.line)
            own[plate.id] = tuple(
                shoot(side.name, shoot.frame(near, side), CLOSE_LETTER)
                for side in plate_directions(plate)
            )
        plotter.close()
    shadows = _shadows(items, plan, sides[:2])
    return Pictures(tuple(first), tuple(whole), shadows, own)


def _best_side(sides: Sequence[Direction], record: ScrewRecord) -> Direction:
    """The side from which a screw is seen least end-on."""
    return min(sides, key=lambda side: abs(float(side.toward @ np.asarray(record.direction))))


def _shadows(
    items: Sequence[Item], plan: PlanFile, sides: Sequence[Direction]
) -> tuple[Picture, ...]:
    """Two parallel views of the bone's edge and of the metal alone, as an intensifier shows them.

    From the two sides of the body that a C-arm is usually turned to; where the frame names no
    side, across the bone and at a right angle to that.
    """
    near = stretch(plan)
    bone = np.vstack([i.points for i in items if i.role == "bone"])
    close = near if len(near) else bone
    with quiet():
        plotter = _plotter([])
        for item in items:
            if item.role in METAL and item.faces is not None:
                draw(plotter, [replace(item, colour=SHADOW, opacity=1.0)])
            elif item.role == "bone":
                plotter.add_silhouette(mesh_of(item), color=COLOURS["hollow"], line_width=4.0)
        marks = {f"{mark.name} label" for mark in plan.bearings.landmarks}  # no ray shows them
        shoot = _Camera(plotter, [item for item in items if item.name not in marks], plan)
        told = tuple(
            shoot(
                f"image intensifier, {side.name}",
                shoot.frame(close, side),
                CLOSE_LETTER,
            )
            for side in sides
        )
        plotter.close()
    return told


def _plate_name(plan: PlanFile) -> str:
    """What goes without saying before "hole 3": the only plate."""
    return f"{plan.plates[0].id} " if len(plan.plates) == 1 else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def shots(scenes: Sequence[tuple[str, Sequence[Item]]], plan: PlanFile) -> tuple[Picture, ...]:
    """Draw several scenes of one bone from the same side, all in one frame and scale.

    Parameters
    ----------
    scenes : sequence of (str, sequence of Item)
        Names and bones; the last one gives the side.
    plan : PlanFile
        Names the frame.

    Returns
    -------
    tuple of Picture
    """
    every = [item for _, items in scenes for item in items]
    near = np.vstack([item.points for item in every])
    bone = np.vstack([item.points for item in scenes[-1][1]])
    side = standard_directions(plan.frame, bone, plan.screws)[0]
    told = []
    with quiet():
        for name, items in scenes:
            plotter = _plotter(items)
            shoot = _Camera(plotter, every, plan)
            told.append(shoot(name, shoot.frame(near, side)))
            plotter.close()
    return tuple(told)


def blank() -> pv.Plotter:
    """An empty picture of the report's size."""
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=list(SIZE))
    plotter.set_background("white")
    plotter.enable_anti_aliasing("ssaa")
    return plotter


def picture_of(
    plotter: pv.Plotter, name: str, view: View, words: Sequence[tuple[str, Vec3]] = ()
) -> Picture:
    """Take a picture that shows no frame, for what it shows was turned.

    Parameters
    ----------
    plotter : pyvista.Plotter
        Of `blank`, with what is drawn; closed afterwards.
    name : str
        What it shows, for the caption.
    view : View
        From where.
    words : sequence of (str, (3,) float array)
        Words, and their places.

    Returns
    -------
    Picture
    """
    pixels, per_mm = _shot(plotter, view)
    plotter.close()
    taken = [bar_box(_bar(per_mm)[0], SIZE[1], CLOSE_LETTER)]
    places = [(text, _pixels(view, place[None], per_mm)[0]) for text, place in words]
    marks = words_at(places, SIZE, CLOSE_LETTER, taken)
    return _picture(name, pixels, per_mm, CLOSE_LETTER, marks)


def _plotter(items: Sequence[Item]) -> pv.Plotter:
    plotter = blank()
    draw(plotter, [item for item in items if item.role not in WORDS])
    return plotter


def _shot(plotter: pv.Plotter, view: View) -> tuple[np.ndarray, float]:
    """Pixels of a view, and how many of them a millimetre has."""
    look(plotter, view)
    plotter.render()
    return plotter.screenshot(return_img=True), SIZE[1] / (2 * view.half_height)


def _bar(per_mm: float) -> tuple[float, int]:
    """Scale bar: pixels and mm."""
    length = max((b for b in BARS if b * per_mm <= 0.3 * SIZE[0]), default=BARS[0])
    return length * per_mm, length


def _picture(
    name: str, pixels: np.ndarray, per_mm: float, letter: int, marks: Iterable[Mark],
    cross: PlacedCross | None = None, *, on_axis: bool = False,
) -> Picture:  # fmt: skip
    bar, length = _bar(per_mm)
    return Picture(
        name=name,
        data=_jpeg(pixels),
        width=SIZE[0],
        height=SIZE[1],
        letter=letter,
        marks=tuple(marks),
        bar=bar,
        bar_length=length,
        cross=cross,
        on_axis=on_axis,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Camera:
    """Takes pictures of one scene, which is built once."""

    plotter: pv.Plotter
    items: Sequence[Item]
    plan: PlanFile

    def frame(self, near: Vec3s, side: Direction) -> View:
        everything = np.vstack([item.points for item in self.items])
        return framed(near, everything, side.toward, side.up, ASPECT, (0.0, 0.0))

    def __call__(
        self,
        name: str,
        view: View,
        letter: int = LETTER,
        *,
        on_axis: bool = False,
        named: bool = True,
    ) -> Picture:
        pixels, per_mm = _shot(self.plotter, view)
        cross = cross_of(view, self.plan, SIZE, letter)
        worded = [item for item in self.items if item.role in WORDS] if named else []
        places = [_pixels(view, item.points[[0, -1]], per_mm) for item in worded]
        taken = [bar_box(_bar(per_mm)[0], SIZE[1], letter), cross.box]
        heads = [
            _box_of(_pixels(view, item.points, per_mm)) for item in self.items if item.role in HEADS
        ]
        marks = marks_of(worded, places, SIZE, letter, taken, heads, _plate_name(self.plan))
        return _picture(name, pixels, per_mm, letter, marks, cross, on_axis=on_axis)


def _box_of(pixels: np.ndarray) -> Box:
    (left, low), (right, high) = pixels.min(axis=0).tolist(), pixels.max(axis=0).tolist()
    return Box(left, low, right, high)


def _jpeg(pixels: np.ndarray) -> str:
    from PIL import Image

    content = io.BytesIO()
    Image.fromarray(pixels).save(content, "JPEG", quality=QUALITY, subsampling=0, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(content.getvalue()).decode()


def _pixels(view: View, points: Vec3s, per_mm: float) -> np.ndarray:
    """Where points come to lie in the picture, from its upper left corner, (n, 2)."""
    across = np.stack([view.right, -view.up], axis=1)
    place: np.ndarray = (points - view.focus) @ across * per_mm + np.array(SIZE) / 2.0
    return place
