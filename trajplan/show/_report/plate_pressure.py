"""Maps of a fracture's contact pressure before a plate and under it, side by side."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner import plate_press
from trajplan.show._items.palette import COLOURS, NO_CONTACT
from trajplan.show._items.pressure import round_up
from trajplan.show._report.pressure import pressure_tints
from trajplan.show._sections.paper import FONT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from trajplan.arrays import Floats
    from trajplan.files import PlateRecord
    from trajplan.planner import Plan, PlatePress, Setup

__all__ = ["press_figure", "press_picture", "press_picture_of"]

#: Inches and dots per inch of the picture: as wide as a page.
SIZE, DPI = (10.0, 4.3), 110
INK = "#111111"


def press_picture_of(setup: Setup, plate: PlateRecord, judged: Plan | None) -> str | None:
    """Work out how a plate presses, and draw it.

    Parameters
    ----------
    setup : Setup
        The case.
    plate : PlateRecord
        A plate of its plan.
    judged : Plan or None
        Its lag screws, judged again.

    Returns
    -------
    str or None
        None where no force of the plate is known.
    """
    press = plate_press(setup, plate, judged)
    return None if press is None else press_picture(plate, press)


def press_picture(plate: PlateRecord, press: PlatePress) -> str:
    """Draw the maps as a picture that a page holds.

    Parameters
    ----------
    plate : PlateRecord
        The plate.
    press : PlatePress
        How it presses.

    Returns
    -------
    str
        Data address of a PNG.
    """
    import matplotlib.style

    stream = io.BytesIO()
    with matplotlib.style.context(["default", {"font.family": FONT}]):
        figure = press_figure(plate, press)
        figure.savefig(stream, format="png", dpi=DPI, metadata={"Software": None})
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode()


def press_figure(plate: PlateRecord, press: PlatePress) -> Figure:
    """Draw the maps: one frame, one scale of colours, the plate's side up.

    Parameters
    ----------
    plate : PlateRecord
        The plate.
    press : PlatePress
        How it presses.

    Returns
    -------
    matplotlib.figure.Figure
    """
    from matplotlib.figure import Figure

    wanted = plate.overbend.estimate if plate.overbend is not None else None
    maps = [
        ("Before: lag screws alone" if press.before is not None else "Before the plate",
         press.before, plate.gap_near.before, plate.gap_far.before),
        ("No overbend" + ("" if press.straight is not None else ": near rim alone"),
         press.straight, plate.gap_near.straight,
         plate.gap_far.straight),
    ]  # fmt: skip
    if press.overbent is not None and wanted is not None:
        name = f"Plate overbent by {wanted:.1f} mm"
        maps.append((name, press.overbent, plate.gap_near.after, plate.gap_far.after))
    peak = max((float(v.max()) for _, v, _, _ in maps if v is not None), default=0.0)
    highest = round_up(peak) if peak > 0.0 else 1.0
    figure = Figure(figsize=SIZE, dpi=DPI, facecolor="white")
    flat = _flat(press)
    for number, (name, values, near, far) in enumerate(maps):
        axes = figure.add_axes((0.01 + 0.29 * number, 0.03, 0.28, 0.87))
        _map(axes, flat, values, highest)
        axes.set_title(name, fontsize=11, fontweight="bold", color=INK)
        low, high = flat[..., 1].min(), flat[..., 1].max()
        axes.text(0.0, high + 1.2, "plate", ha="center", va="center", fontsize=9, zorder=3)
        axes.text(0.0, high + 3.6, _gap("near side", near), ha="center", fontsize=9.5)
        axes.text(0.0, low - 2.6, _gap("far side", far), ha="center", fontsize=9.5)
    _key(figure, highest)
    return figure


def _flat(press: PlatePress) -> Floats:
    """Triangles in the plane of the fracture, the plate's side up, (t, 3, 2) mm."""
    normal, centre = press.region.normal, press.region.centre
    up = press.out - (press.out @ normal) * normal
    up = up / np.linalg.norm(up)
    flat: Floats = (press.region.triangles - centre) @ np.stack([np.cross(up, normal), up], axis=1)
    return flat


def _map(axes: Axes, flat: Floats, values: Floats | None, highest: float) -> None:
    """One map; where nothing spreads over the surface it stays in the colour of no contact."""
    from matplotlib.collections import PolyCollection
    from matplotlib.patches import Rectangle

    shown = np.zeros(len(flat)) if values is None else values
    tints = pressure_tints(shown, highest) / 255.0
    shapes = PolyCollection(list(flat), facecolors=tints, edgecolors=tints, linewidths=0.3)
    axes.add_collection(shapes)
    low, high = flat.reshape(-1, 2).min(axis=0), flat.reshape(-1, 2).max(axis=0)
    bar = Rectangle((-6.0, high[1] + 0.2), 12.0, 2.0, facecolor=COLOURS["plate"], edgecolor=INK)
    axes.add_patch(bar)
    axes.set_xlim(low[0] - 2.0, high[0] + 2.0)
    axes.set_ylim(low[1] - 4.5, high[1] + 6.0)
    axes.set_aspect("equal")
    axes.axis("off")


def _gap(where: str, gap: float | None) -> str:
    return f"{where}: gap not known" if gap is None else f"{where}: gap {gap:.2f} mm"


def _key(figure: Figure, highest: float) -> None:
    """Band of colours at the right."""
    from matplotlib.patches import Rectangle

    axes = figure.add_axes((0.90, 0.18, 0.09, 0.62), xlim=(0.0, 3.0), ylim=(-0.16, 1.1))
    axes.axis("off")
    steps = np.linspace(1e-9, highest, 64)
    axes.imshow(pressure_tints(steps, highest)[:, None], extent=(0, 0.7, 0, 1), origin="lower",
                aspect="auto")  # fmt: skip
    axes.add_patch(Rectangle((0.0, 0.0), 0.7, 1.0, fill=False, edgecolor=INK))
    axes.add_patch(Rectangle((0.0, -0.14), 0.7, 0.08, facecolor=NO_CONTACT, edgecolor=INK))
    for share in (0.0, 0.5, 1.0):
        axes.text(0.9, share, f"{share * highest:g}", va="center", fontsize=9)
    axes.text(0.0, 1.06, "MPa, estimate", fontsize=9)
    axes.text(0.9, -0.10, "no contact", va="center", fontsize=9)
