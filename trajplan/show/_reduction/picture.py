"""A picture of a reduction: as it lies, put together, and the gap on the broken surfaces."""

from __future__ import annotations

import io
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.files import write_bytes_atomic
from trajplan.geometry import frames
from trajplan.reduction import Pose, long_axis
from trajplan.show._items.palette import FRAGMENTS, VERDICT_COLOURS
from trajplan.show._picture.camera import framed
from trajplan.show._picture.draw import INK, colour_bar, fitted, look, scale_bar, write
from trajplan.show._picture.shot import need_pyvista
from trajplan.show._picture.vtk import quiet
from trajplan.show._reduction.gap import BONE, gap_table, shown
from trajplan.show._reduction.probe import gap_map

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.files import ReductionFile
    from trajplan.planner import Reduced
    from trajplan.reduction import Fragment

__all__ = ["gap_scale", "save_reduction_shot", "sides"]

SIZE = (1600, 1000)  # pixels
ROWS = (0.13, 0.81, 0.06)  # of the height: words, pictures, cautions
PAPER = "#ffffff"
#: mm of bone that is drawn beside a broken surface, and between one surface and the next.
BESIDE = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class _Pane:
    """One of the three pictures."""

    words: str
    corners: tuple[Floats, ...]  # (f, 3, 3) mm, of each fragment
    gaps: tuple[Floats, ...] | None
    names: tuple[tuple[str, Vec3], ...] = ()  # written beside what they name


def save_reduction_shot(reduced: Reduced, record: ReductionFile, path: Path) -> None:
    """Draw a reduction before and after, and its gaps, into a PNG file.

    Parameters
    ----------
    reduced : Reduced
        The reduction.
    record : ReductionFile
        Its record, for title and verdict.
    path : Path
        The file; written whole or not at all.

    Raises
    ------
    OutputError
        If pyvista is missing, or the file cannot be written.
    """
    need_pyvista()
    from PIL import Image

    with quiet():
        plotter = _stage(reduced, record)
        pixels = plotter.screenshot(return_img=True)
        plotter.close()
    content = io.BytesIO()
    Image.fromarray(pixels).save(content, "PNG", optimize=True)
    write_bytes_atomic(path, content.getvalue())


def _stage(reduced: Reduced, record: ReductionFile) -> pv.Plotter:
    import pyvista as pv

    plotter = pv.Plotter(
        off_screen=True,
        shape=(3, 3),
        groups=[(0, slice(0, 3)), (2, slice(0, 3))],
        row_weights=list(ROWS),
        window_size=list(SIZE),
        border_color="#bbbbbb",
    )
    plotter.set_background(PAPER, all_renderers=True)
    plotter.subplot(0, 0)
    _heading(plotter, record)
    axis = long_axis(reduced.fragments, reduced.poses, reduced.reduction.fixed)
    toward, up = sides(reduced, axis)
    for column, pane in enumerate(_panes(reduced, toward, up)):
        plotter.subplot(1, column)
        _draw(plotter, pane, toward, up)
    plotter.subplot(2, 0)
    caution = "\n".join(textwrap.wrap(CAUTION_TEXT, 210))
    plotter.add_text(caution, position=(14, 10), font_size=7, font="arial", color=INK)
    return plotter


def _heading(plotter: pv.Plotter, record: ReductionFile) -> None:
    title = record.title or record.case.name
    sure = "trusted" if record.trusted else "not trusted"
    _text(plotter, f"{title}: reduction", 112, 13, INK)
    colour = VERDICT_COLOURS["pass" if record.trusted else "fail"]
    _text(plotter, f"{sure}; verdict {record.verdict}", 80, 11, colour)
    moved = [
        f"{one.name}: was shifted by {one.displacement.shift:.1f} mm, turned by "
        f"{one.displacement.rotation:.1f} degrees"
        for one in record.fragments
        if one.displacement is not None
    ]
    _text(plotter, "\n".join(textwrap.wrap(";  ".join(moved), 190)[:2]), 46, 8, INK)


def _text(plotter: pv.Plotter, text: str, top: float, size: int, colour: str) -> None:
    actor = plotter.add_text(text, position=(14, top), font_size=size, font="arial", color=colour)
    actor.prop.justification_vertical = "top"


def _panes(reduced: Reduced, toward: Vec3, up: Vec3) -> tuple[_Pane, ...]:
    still = [Pose.still()] * len(reduced.fragments)
    return (
        _Pane("As it lies", _corners(reduced.fragments, still), None),
        _Pane("Reduced", _corners(reduced.fragments, reduced.poses), None),
        _face_on(reduced.fragments, reduced.poses, toward, up),
    )


def _corners(fragments: Sequence[Fragment], poses: Sequence[Pose]) -> tuple[Floats, ...]:
    return tuple(
        pose.points(part.vertices)[part.faces] for part, pose in zip(fragments, poses, strict=True)
    )


def _face_on(fragments: Sequence[Fragment], poses: Sequence[Pose], toward: Vec3, up: Vec3) -> _Pane:
    """Turn each fragment's broken surface to the viewer, one below the other, the rest cut off."""
    turned, kept, names, top = [], [], [], 0.0
    right = np.cross(up, toward)
    gaps = gap_map(fragments, poses)
    for part, corners, gap in zip(fragments, _corners(fragments, poses), gaps, strict=True):
        looks = np.isfinite(gap)
        if not looks.any():
            continue
        broken = corners[looks]
        normal = np.cross(broken[:, 1] - broken[:, 0], broken[:, 2] - broken[:, 0]).sum(axis=0)
        normal /= max(float(np.linalg.norm(normal)), 1e-9)
        points = broken.reshape(-1, 3)
        near = (corners >= points.min(axis=0) - BESIDE) & (corners <= points.max(axis=0) + BESIDE)
        own = near.all(axis=(1, 2))
        frame = _frame(normal, up)
        seen = (corners[own] - points.mean(axis=0)) @ frame.T @ _frame(toward, up)
        height = seen @ up
        seen = seen + (top - float(height.max())) * up
        top -= float(np.ptp(height)) + BESIDE
        turned.append(seen)
        kept.append(gap[own])
        beside = (float((seen @ right).max()) + 2.0) * right + float((seen @ up).mean()) * up
        names.append((part.name, beside + float((seen @ toward).max()) * toward))
    words = "Broken surfaces face on: gap, reduced"
    return _Pane(words, tuple(turned), tuple(kept), tuple(names))


def _frame(toward: Vec3, up: Vec3) -> Floats:
    """Rows: to the right, up and towards the viewer, as upright as that direction allows."""
    upright = up - (up @ toward) * toward
    if np.linalg.norm(upright) < 0.1:  # the surface looks along the bone: any side will do
        upright = frames(toward[None])[0, 0]
    upright = upright / np.linalg.norm(upright)
    return np.stack([np.cross(upright, toward), upright, toward])


def sides(reduced: Reduced, axis: Vec3 | None) -> tuple[Vec3, Vec3]:
    """From where to look, and what is up: along the bone, square to where fragments lie off."""
    every = np.concatenate(
        [pose.points(p.vertices) for p, pose in zip(reduced.fragments, reduced.poses, strict=True)]
    )
    if axis is None:
        axis = np.linalg.svd(every - every.mean(axis=0), full_matrices=False)[2][0]
    off = np.zeros(3)
    for part, pose in zip(reduced.fragments, reduced.poses, strict=True):
        middle = part.vertices.mean(axis=0)
        off += middle - pose.points(middle[None])[0]
    off -= (off @ axis) * axis
    if np.linalg.norm(off) < 1.0:  # mm: nothing lies off to any side
        off = frames(axis[None])[0, 0]
    toward = np.cross(axis, off)
    return toward / np.linalg.norm(toward), axis


def _draw(plotter: pv.Plotter, pane: _Pane, toward: Vec3, up: Vec3) -> None:
    plotter.enable_anti_aliasing("ssaa")
    for number, corners in enumerate(pane.corners):
        _fragment(plotter, corners, number, None if pane.gaps is None else pane.gaps[number])
    every = np.concatenate([corners.reshape(-1, 3) for corners in pane.corners])
    aspect = SIZE[0] / 3.0 / (ROWS[1] * SIZE[1])
    view = framed(every, every, toward, up, aspect, (0.04, 0.3 if pane.names else 0.04))
    look(plotter, view)
    scale_bar(plotter, view, aspect)
    plotter.add_text(
        pane.words, position=(0.03, 0.95), viewport=True, font_size=10, font="arial", color=INK
    )
    if pane.gaps is not None:
        gap_scale(plotter)
    if pane.names:
        places = np.array([place for _, place in pane.names])
        texts = [fitted(Path(name).stem, 18) for name, _ in pane.names]
        write(plotter, places, texts, size=15, side="left")


def _fragment(plotter: pv.Plotter, corners: Floats, number: int, gaps: Floats | None) -> None:

    mesh = _mesh(corners)
    if gaps is None:
        colour = FRAGMENTS[number % len(FRAGMENTS)]
        plotter.add_mesh(mesh.clean(), color=colour, smooth_shading=True, split_sharp_edges=True)
        return
    looks = np.isfinite(gaps)
    plotter.add_mesh(_mesh(corners[~looks]), color=BONE)
    if looks.any():
        broken = _mesh(corners[looks])
        broken.cell_data["gap"] = shown(gaps[looks])
        table = gap_table()
        plotter.add_mesh(broken, scalars="gap", cmap=table, show_scalar_bar=False, lighting=False)


def _mesh(corners: Floats) -> pv.PolyData:
    import pyvista as pv

    points: Vec3s = corners.reshape(-1, 3)
    return pv.PolyData.from_regular_faces(points, np.arange(len(points)).reshape(-1, 3))


def gap_scale(plotter: pv.Plotter, title: str = "Gap, mm") -> None:
    """Draw the scale of the gap's colours at the left of the active pane."""
    colour_bar(plotter, gap_table(), " ", "%.1f", "overlap", (0.17, 0.64, 0.10, 0.26))
    plotter.add_text(
        title, position=(0.03, 0.91), viewport=True, font_size=8, font="arial", color=INK
    )
