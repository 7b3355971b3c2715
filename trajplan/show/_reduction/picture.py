"""A picture of a reduction: as it lies, put together, and the gap on the broken surfaces."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trajplan.files import TOLD, BearingsRecord
from trajplan.geometry import frames
from trajplan.reduction import Pose, long_axis
from trajplan.show._items.palette import FRAGMENTS, VERDICT_COLOURS
from trajplan.show._picture.camera import framed
from trajplan.show._picture.compass import compass
from trajplan.show._picture.draw import INK, colour_bar, look, scale_bar
from trajplan.show._picture.labels import fitted, write
from trajplan.show._picture.panes import SIZE, heading, panes, write_png
from trajplan.show._picture.shot import need_pyvista
from trajplan.show._picture.vtk import quiet
from trajplan.show._reduction.face_on import add_gaps, face_on, triangles
from trajplan.show._reduction.gap import gap_table
from trajplan.show._reduction.probe import gap_map
from trajplan.show._words.sides import arms
from trajplan.show._words.trust import trust_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.files import FragmentRecord, ReductionFile
    from trajplan.planner import Reduced
    from trajplan.reduction import Fragment

__all__ = ["gap_scale", "save_reduction_shot", "sides"]

ROWS = (0.13, 0.81, 0.06)  # of the height: words, pictures, cautions
#: Letters and lines of the words under the verdict.
WORDS_WIDE, WORDS_HIGH = 190, 3
#: Findings that ask for nothing.
QUIET = ("pass", "note")
#: mm between fragments and their names, and between one name and the next.
ROOM, NAME = 4.0, 14.0
#: Share of a pane's width that the cross is placed in: its words need room in a narrow pane.
CROSS = 0.76
#: Share of a pane's width that the scale of colours takes at its left.
SCALE = 0.3
#: mm: a shorter way is not drawn.
LEAST_WAY = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class _Pane:
    """One of the three pictures."""

    words: str
    corners: tuple[Floats, ...]  # (f, 3, 3) mm, of each fragment
    gaps: tuple[Floats, ...] | None
    names: tuple[tuple[str, Vec3], ...] = ()  # written beside what they name
    ways: tuple[Vec3s, ...] = ()  # from and to, of each fragment
    leaders: tuple[Vec3s, ...] = ()  # from each fragment to its name
    frame: Vec3s | None = None  # what must be in the picture; None: the fragments
    room: bool = False  # whether names would have room at the right, though there are none


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
    with quiet():
        write_png(_stage(reduced, record), path)


def _stage(reduced: Reduced, record: ReductionFile) -> pv.Plotter:
    plotter = panes(3, ROWS)
    _heading(plotter, record)
    axis = long_axis(reduced.fragments, reduced.poses, reduced.reduction.fixed)
    toward, up = sides(reduced, axis)
    for column, pane in enumerate(_panes(reduced, record, toward, up)):
        plotter.subplot(1, column)
        _draw(plotter, pane, toward, up, record.frame)
    return plotter


def _heading(plotter: pv.Plotter, record: ReductionFile) -> None:
    """Title, how sure the reduction is, and what asks for a decision, worst first."""
    title = record.title or record.case.name
    sure = trust_words(record.findings, trusted=record.trusted)
    heading(plotter, f"{title}: reduction", 118, 13, INK)
    colour = VERDICT_COLOURS[record.verdict if record.trusted else "fail"]
    heading(plotter, f"{sure}; verdict {record.verdict}", 88, 11, colour)
    told = sorted(
        (f for f in record.findings if f.verdict not in QUIET), key=lambda f: TOLD.index(f.verdict)
    )
    lines = textwrap.wrap("   ".join(f"{f.verdict.upper()}: {f.why}" for f in told), WORDS_WIDE)
    if len(lines) > WORDS_HIGH:
        lines = [*lines[: WORDS_HIGH - 1], f"{lines[WORDS_HIGH - 1][:-30]} ... (see the record)"]
    heading(plotter, "\n".join(lines), 60, 8, INK)


def _panes(reduced: Reduced, record: ReductionFile, toward: Vec3, up: Vec3) -> tuple[_Pane, ...]:
    parts, poses = reduced.fragments, reduced.poses
    lain = _corners(parts, [Pose.still()] * len(parts))
    back = _corners(parts, poses)
    both = np.concatenate([corners.reshape(-1, 3) for corners in (*lain, *back)])
    front = (both @ toward).max()
    right = np.cross(up, toward)
    middles = [corners.reshape(-1, 3).mean(axis=0) for corners in lain]
    column = (both @ right).max() + ROOM  # all names to the right of everything
    places = [
        _onto(np.array([middle, middle + (column - middle @ right) * right]), toward, front)
        for middle in _apart(middles, up)
    ]
    ways = [
        _onto(np.array([middle, pose.points(middle[None])[0]]), toward, front)
        for middle, pose in zip(_broken_middles(parts, poses), poses, strict=True)
    ]
    names = tuple(
        (_moved_words(one), place[1]) for one, place in zip(record.fragments, places, strict=True)
    )
    return (
        _Pane(
            "As it lies; arrows: how it was moved",
            lain,
            None,
            names,
            tuple(ways),
            tuple(places),
            both,
        ),
        _Pane("Reduced", back, None, frame=both, room=True),
        _face_on(parts, poses, toward, up),
    )


def _apart(middles: Sequence[Vec3], up: Vec3) -> list[Vec3]:
    """Middles of fragments, pushed up along the picture until their names stand apart."""
    told: list[Vec3] = [np.zeros(3)] * len(middles)
    last = -np.inf
    for row in sorted(range(len(middles)), key=lambda k: float(middles[k] @ up)):
        height = float(middles[row] @ up)
        last = max(height, last + NAME)
        told[row] = middles[row] + (last - height) * up
    return told


def _moved_words(one: FragmentRecord) -> str:
    name, lying = fitted(Path(one.name).stem, 18), one.displacement
    if lying is None:
        return f"{name}: stays"
    hand = ", by hand" if one.origin == "hand" else ""
    return f"{name}:\n{lying.shift:.0f} mm, {lying.rotation:.0f}°{hand}"


def _beside(corners: Floats, toward: Vec3, up: Vec3) -> Vec3:
    """A place to the right of a piece, at its middle height."""
    points = corners.reshape(-1, 3)
    right = np.cross(up, toward)
    across = (points @ right).max() + 2.0
    place: Vec3 = across * right + (points @ up).mean() * up + (points @ toward).max() * toward
    return place


def _broken_middles(fragments: Sequence[Fragment], poses: Sequence[Pose]) -> list[Vec3]:
    """Middle of each broken surface as it lies; of the whole piece where none was found."""
    told = []
    for part, gap in zip(fragments, gap_map(fragments, poses), strict=True):
        corners = part.vertices[part.faces]
        looks = np.isfinite(gap)
        told.append((corners[looks] if looks.any() else corners).mean(axis=(0, 1)))
    return told


def _onto(way: Vec3s, toward: Vec3, front: float) -> Vec3s:
    """A way in front of everything, so that no bone hides it."""
    moved: Vec3s = way + (front + 1.0 - way @ toward)[:, None] * toward
    return moved


def _corners(fragments: Sequence[Fragment], poses: Sequence[Pose]) -> tuple[Floats, ...]:
    return tuple(
        pose.points(part.vertices)[part.faces] for part, pose in zip(fragments, poses, strict=True)
    )


def _face_on(fragments: Sequence[Fragment], poses: Sequence[Pose], toward: Vec3, up: Vec3) -> _Pane:
    """Each broken surface face on, one below the other."""
    seen = face_on(fragments, poses, toward, up, -up)
    return _Pane(
        "Broken surfaces face on: gap, reduced",
        tuple(one.corners for one in seen),
        tuple(one.gaps for one in seen),
        tuple((one.name, _beside(one.corners, toward, up)) for one in seen),
    )


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


def _draw(plotter: pv.Plotter, pane: _Pane, toward: Vec3, up: Vec3, frame: str) -> None:
    plotter.enable_anti_aliasing("ssaa")
    for number, corners in enumerate(pane.corners):
        _fragment(plotter, corners, number, None if pane.gaps is None else pane.gaps[number])
    every = np.concatenate([corners.reshape(-1, 3) for corners in pane.corners])
    near = every if pane.frame is None else pane.frame
    for way in pane.ways:
        _arrow(plotter, way)
    for leader in pane.leaders:
        plotter.add_lines(leader, color="#777777", width=1)
    aspect = SIZE[0] / 3.0 / (ROWS[1] * SIZE[1])
    beside = 0.3 if pane.names or pane.room else 0.04
    left = 0.04 if pane.gaps is None else SCALE
    view = framed(near, near, toward, up, aspect, (left, beside))
    look(plotter, view)
    scale_bar(plotter, view, aspect)
    plotter.add_text(
        pane.words, position=(0.03, 0.95), viewport=True, font_size=10, font="arial", color=INK
    )
    if pane.gaps is None:  # broken surfaces are turned to the viewer: they look their own ways
        compass(plotter, view, CROSS * aspect, arms(frame, BearingsRecord()))
    else:
        gap_scale(plotter)
    if pane.names:
        places = np.array([place for _, place in pane.names])
        texts = [name for name, _ in pane.names]
        for place, text in zip(places, texts, strict=True):
            write(plotter, np.asarray(place), text, size=15, side="left")


def _fragment(plotter: pv.Plotter, corners: Floats, number: int, gaps: Floats | None) -> None:
    if gaps is None:
        colour = FRAGMENTS[number % len(FRAGMENTS)]
        mesh = triangles(corners).clean()
        plotter.add_mesh(mesh, color=colour, smooth_shading=True, split_sharp_edges=True)
    else:
        add_gaps(plotter, corners, gaps)


def _arrow(plotter: pv.Plotter, way: Vec3s) -> None:
    """An arrow as long as the way of the middle of a broken surface."""
    import pyvista as pv

    length = float(np.linalg.norm(way[1] - way[0]))
    if length < LEAST_WAY:
        return
    head = min(6.0 / length, 0.5)
    arrow = pv.Arrow(
        start=way[0], direction=way[1] - way[0], scale=length, tip_length=head,
        tip_radius=2.4 / length, shaft_radius=0.9 / length,
    )  # fmt: skip
    plotter.add_mesh(arrow, color=INK, lighting=False)


def gap_scale(plotter: pv.Plotter, title: str = "Gap, mm") -> None:
    """Draw the scale of the gap's colours at the left of the active pane."""
    colour_bar(plotter, gap_table(), " ", "%.1f", "overlap", (0.17, 0.64, 0.10, 0.26))
    plotter.add_text(
        title, position=(0.03, 0.91), viewport=True, font_size=8, font="arial", color=INK
    )
