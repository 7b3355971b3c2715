"""Pictures of a report: pixels from pyvista, and words over them that stay text.

Labels, scale bar and orientation cue are kept apart from the pixels, so that they print
sharply and can be read by a search or a screen reader.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import WORDS
from trajplan.show._picture.camera import View, framed, side_view
from trajplan.show._picture.draw import BARS, draw, look
from trajplan.show._picture.vtk import quiet
from trajplan.show._report.views import (
    Direction,
    axis_letters,
    down_the_axis,
    plate_directions,
    standard_directions,
    stretch,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    import pyvista as pv

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.files import PlanFile
    from trajplan.show._items.item import Item

__all__ = ["ASPECT", "Mark", "Picture", "blank", "picture_of", "report_pictures", "shots"]

#: Pixels of every picture.
SIZE = (1000, 750)
ASPECT = SIZE[0] / SIZE[1]
#: Pixels: size of the letters over a picture, larger where the page shows it smaller, and how
#: far a label stands from its head.
LETTER, CLOSE_LETTER, STAND_OFF = 48, 32, 28
#: Width of a letter over its size, about right for sans-serif faces; only keeps labels apart.
LETTER_WIDTH = 0.6
#: Arms of the orientation cue, pixels; one shorter than the second length is left out: it
#: points at the reader.
ARM, SHORT_ARM = 60.0, 12.0
#: JPEG quality: no blocks to be seen at the edges of screws, a tenth of a PNG's size.
QUALITY = 90


@dataclass(frozen=True, slots=True)
class Mark:
    """A word over a picture; pixels from its upper left corner."""

    text: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Arm:
    """An arm of the orientation cue; pixels."""

    letter: str
    x: float
    y: float


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
    arms: tuple[Arm, ...]
    cross: bool  # whether the axis is seen end-on in the middle


def report_pictures(
    items: Sequence[Item], plan: PlanFile
) -> tuple[tuple[Picture, ...], Mapping[str, tuple[Picture, ...]]]:
    """Draw every picture of a report.

    Parameters
    ----------
    items : sequence of Item
        As from `plan_scene`.
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of Picture
        Of the plan: the screws from the side, then the whole bone from three sides.
    mapping of str to tuple of Picture
        By the id of each placed screw: three sides, then down its axis; of each plate: its top
        and its edge.
    """
    bone = np.vstack([i.points for i in items if i.role == "bone"])
    sides = standard_directions(plan.frame, bone, plan.screws)
    with quiet():
        plotter = _plotter(items)
        shoot = _Camera(plotter, items, plan)
        near = stretch(plan)
        beside = side_view(items, ASPECT)
        if len(near):
            beside = shoot.frame(near, Direction("", beside.toward, beside.up))
        close = shoot("the screws from the side", beside, CLOSE_LETTER)
        whole = [shoot(f"whole bone, {side.name}", shoot.frame(bone, side)) for side in sides]
        screws = {}
        for record in plan.screws:
            near = stretch(plan, record.id)
            if len(near):
                down = down_the_axis(record, bone)
                views = [shoot(s.name, shoot.frame(near, s), CLOSE_LETTER) for s in sides]
                end_on = shoot(down.name, shoot.frame(near, down), CLOSE_LETTER, cross=True)
                screws[record.id] = (*views, end_on)
        for plate in plan.plates:
            near = np.asarray(plate.line)
            views = [
                shoot(side.name, shoot.frame(near, side), CLOSE_LETTER)
                for side in plate_directions(plate)
            ]
            screws[plate.id] = tuple(views)
        plotter.close()
    return (close, *whole), screws


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
    marks: list[Mark] = []
    for text, place in words:
        x, y = (float(v) for v in _pixels(view, place[None], per_mm)[0])
        marks.append(_clear(text, x, y, CLOSE_LETTER, marks))
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


def _picture(
    name: str, pixels: np.ndarray, per_mm: float, letter: int, marks: Iterable[Mark],
    arms: Iterable[Arm] = (), *, cross: bool = False,
) -> Picture:  # fmt: skip
    length = max((b for b in BARS if b * per_mm <= 0.3 * SIZE[0]), default=BARS[0])
    return Picture(
        name=name,
        data=_jpeg(pixels),
        width=SIZE[0],
        height=SIZE[1],
        letter=letter,
        marks=tuple(marks),
        bar=length * per_mm,
        bar_length=length,
        arms=tuple(arms),
        cross=cross,
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
        self, name: str, view: View, letter: int = LETTER, *, cross: bool = False
    ) -> Picture:
        pixels, per_mm = _shot(self.plotter, view)
        marks = _marks(self.items, view, per_mm, letter)
        arms = _arms(view, self.plan.frame)
        return _picture(name, pixels, per_mm, letter, marks, arms, cross=cross)


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


def _marks(items: Sequence[Item], view: View, per_mm: float, letter: int) -> list[Mark]:
    """Name of each head in the picture, away from its shank and clear of other names."""
    marks: list[Mark] = []
    for item in items:
        if item.role not in WORDS:
            continue
        head, tip = _pixels(view, item.points, per_mm)
        text = item.label.split("  ")[0]
        x, y = (float(v) for v in head + STAND_OFF * _outward(head, tip))
        if 0 < x < SIZE[0] and 0 < y < SIZE[1]:
            marks.append(_clear(text, x, y, letter, marks))
    return marks


def _clear(text: str, x: float, y: float, letter: int, others: Sequence[Mark]) -> Mark:
    """A mark within the picture, as far below its place as others make needful."""

    def half(words: str) -> float:
        return LETTER_WIDTH * letter * len(words) / 2.0

    x = min(max(x, half(text)), SIZE[0] - half(text))
    while any(abs(x - o.x) < half(text) + half(o.text) and abs(y - o.y) < letter for o in others):
        y += letter / 2.0
    return Mark(text, x, min(y, SIZE[1] - letter))


def _outward(head: np.ndarray, tip: np.ndarray) -> np.ndarray:
    """From tip to head in the picture; to the upper right where the screw is seen end-on."""
    away = head - tip
    size = float(np.linalg.norm(away))
    return away / size if size > STAND_OFF else np.array([1.5, -1.5])


def _arms(view: View, frame: str) -> Iterator[Arm]:
    across: Vec3s = np.stack([view.right, -view.up], axis=1)
    for letter, (x, y) in zip(axis_letters(frame), ARM * across, strict=True):
        if np.hypot(x, y) > SHORT_ARM:
            yield Arm(letter, float(x), float(y))
