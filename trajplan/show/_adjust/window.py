"""The window: fragments, the gap in colours, how they fit in words, keys and the mouse."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import InputError
from trajplan.files import BearingsRecord
from trajplan.show._items.palette import FRAGMENTS
from trajplan.show._picture.camera import framed
from trajplan.show._picture.compass import compass
from trajplan.show._picture.draw import INK, look, scale_bar
from trajplan.show._reduction.gap import GAP_MOST, gap_table, shown
from trajplan.show._reduction.picture import gap_scale, sides
from trajplan.show._words.numbers import number
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Callable

    import pyvista as pv

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.show._adjust.session import Adjusting

__all__ = ["KEYS", "AdjustWindow"]

SIZE = (1600, 1000)  # pixels
SHARE = 0.70  # of the width, for the view
ROWS = (0.93, 0.07)  # of the height: view and words; cautions
#: mm and degrees of a press of a key, and of one with Shift.
STEP, FINE = (0.5, 1.0), (0.1, 0.2)
MEASURED_SOON = "How they fit: measured as soon as the hand rests."
#: Pixels of a place beside the fracture line, coloured by the step there.
PLACE = 6
#: Opacity of bone, so that broken surfaces show through it: of the picked fragment, of others.
PICKED, SEE_THROUGH = 0.55, 0.3
#: Room round the broken surfaces in the view as it opens, over their extent.
ROOM = 1.6
#: What each key does.
KEYS = {
    "1-9": "pick a fragment",
    "Left Right": "shift across the view",
    "Up Down": "shift along the view's height",
    "A D": "turn about the shaft",
    "W S": "tilt forwards, backwards",
    "Q E": "tilt to the left, to the right",
    "N": "snap to the nearest fit",
    "Z Y": "undo, redo",
    "K": "keep as a new reduction",
    "X": "close",
}
HINT = (
    "Drag a free fragment: shift it. Drag elsewhere: turn the view. Wheel: zoom. With Shift a key "
    "moves by a fifth."
)


class AdjustWindow:
    """Fragments in a window.

    Parameters
    ----------
    session : Adjusting
        What is moved.
    keep : callable
        Writes the session's reduction into a new folder, and says which.
    off_screen : bool
        Whether to draw without a window.
    """

    def __init__(
        self, session: Adjusting, keep: Callable[[Adjusting], Path], *, off_screen: bool = False
    ) -> None:
        import pyvista as pv

        self.session, self._keep = session, keep
        self.fine, self.said = False, HINT
        self._dragged: tuple[int, int] | None = None
        self._kept = False  # whether the place that the drag started from is remembered
        #: Measures the fits once the hand rests; a window that is open waits for that.
        self.rest: Callable[[], None] = self.refresh
        self.plotter = pv.Plotter(
            off_screen=off_screen or None,
            shape=(2, 2),
            groups=[(1, slice(0, 2))],
            col_weights=[SHARE, 1.0 - SHARE],
            row_weights=list(ROWS),
            window_size=list(SIZE),
            border_color="#bbbbbb",
        )
        self.plotter.set_background("#ffffff", all_renderers=True)
        self.plotter.subplot(1, 0)
        cautions = "\n".join(textwrap.wrap(CAUTION_TEXT, 210))
        self.plotter.add_text(cautions, position=(14, 10), font_size=7, font="arial", color=INK)
        self.plotter.subplot(0, 0)
        on_screen = "EGL" not in type(self.plotter.render_window).__name__
        self.plotter.enable_anti_aliasing("fxaa" if on_screen else "ssaa", all_renderers=False)
        self._meshes = [self._fragment(number) for number in range(len(session.names))]
        self._steps = self._places()
        self.plotter.enable_depth_peeling(8)
        gap_scale(self.plotter, "Gap, step, mm")
        self._aim()
        self.refresh()

    def _fragment(self, number: int) -> tuple[Any, Any]:
        import pyvista as pv

        part = self.session.opened.fragments[number]
        mesh = pv.PolyData.from_regular_faces(part.vertices.copy(), part.faces)
        mesh.cell_data["gap"] = shown(self.session.gaps()[number])
        actor = self.plotter.add_mesh(
            mesh,
            scalars="gap",
            cmap=gap_table(FRAGMENTS[number % len(FRAGMENTS)], SEE_THROUGH),
            clim=(0.0, GAP_MOST),
            show_scalar_bar=False,
            name=f"fragment {number}",
        )
        return mesh, actor

    def _places(self) -> pv.Actor:
        """Places beside the fracture lines, one actor for all."""
        import pyvista as pv

        mapper = pv.DataSetMapper(_coloured(*self.session.steps()))
        mapper.lookup_table = gap_table()
        mapper.SetScalarRange(0.0, GAP_MOST)
        actor = pv.Actor(mapper=mapper, name="steps")
        actor.prop.point_size = PLACE
        actor.prop.lighting = False
        self.plotter.add_actor(actor, pickable=False, reset_camera=False, render=False)
        return actor

    def _aim(self) -> None:
        """Look at the broken surfaces, square to the bone; all of it where none is seen."""
        session = self.session
        corners = [
            pose.points(part.vertices)[part.faces]
            for part, pose in zip(session.opened.fragments, session.poses, strict=True)
        ]
        every = np.concatenate([c.reshape(-1, 3) for c in corners])
        broken = [c[np.isfinite(g)] for c, g in zip(corners, session.gaps(), strict=True)]
        near = np.concatenate([c.reshape(-1, 3) for c in broken])
        near = near.mean(axis=0) + ROOM * (near - near.mean(axis=0)) if len(near) else every
        toward, up = sides(session.opened, session.axis)
        aspect = SHARE * SIZE[0] / (ROWS[0] * SIZE[1])
        view = framed(near, every, toward, up, aspect, (0.2, 0.05))
        look(self.plotter, view)
        scale_bar(self.plotter, view, aspect)
        compass(self.plotter, view, aspect, arms(session.opened.case.frame, BearingsRecord()))

    # what moves

    def _camera(self) -> tuple[Vec3, Vec3, Vec3]:
        """To the right, up and towards the viewer."""
        camera = self.plotter.renderers[0].camera
        toward = -np.array(camera.direction)
        up = np.array(camera.up) - (np.array(camera.up) @ toward) * toward
        up /= np.linalg.norm(up)
        return np.cross(up, toward), up, toward

    def do(self, key: str) -> None:
        """Do what a key says; others do nothing.

        Parameters
        ----------
        key : str
            Name of the key, as the window system gives it.
        """
        word = key.lower()
        self.said = HINT
        acts: dict[str, Callable[[], object]] = {
            "n": self._snap,
            "z": self.session.undo,
            "y": self.session.redo,
            "k": self._save,
        }
        if word == "x":
            self.close()
            return
        if word.isdecimal():
            if not self.session.pick(int(word) - 1):
                self.said = "That fragment is fixed, or is not there."
        elif word in acts:
            acts[word]()
        elif self._step(word):
            self.refresh(moving=True)
            self.rest()
            return
        self.refresh()

    def _step(self, word: str) -> bool:
        """Shift or turn the picked fragment by a step; whether the key says so."""
        session = self.session
        right, up, toward = self._camera()
        mm, degrees = FINE if self.fine else STEP
        shifts = {"left": -mm * right, "right": mm * right, "up": mm * up, "down": -mm * up}
        turns = {
            "a": (session.axis, degrees),
            "d": (session.axis, -degrees),
            "w": (right, degrees),
            "s": (right, -degrees),
            "q": (toward, degrees),
            "e": (toward, -degrees),
        }
        if word not in shifts and word not in turns:
            return False
        session.keep()
        if word in shifts:
            session.shift(shifts[word])
        else:
            session.turn(*turns[word])
        return True

    def _snap(self) -> None:
        if not self.session.snap():
            self.said = "No fit is near: move the fragment closer first."

    def _save(self) -> None:
        if not self.session.moved:
            self.said = "Nothing was moved."
            return
        try:
            self.said = f"Written: {self._keep(self.session)}"
        except InputError as error:
            self.said = str(error)

    def close(self) -> None:
        """Close the window."""
        self.plotter.iren.terminate_app()

    # the mouse

    def press(self, pixel: tuple[int, int]) -> bool:
        """Take hold of a free fragment; whether there is one."""
        from vtkmodules.vtkRenderingCore import vtkCellPicker

        picker: Any = vtkCellPicker()
        picker.Pick(*pixel, 0, self.plotter.renderers[0])
        actor = picker.GetActor()
        number = next((i for i, (_, own) in enumerate(self._meshes) if own is actor), None)
        if number is None or not self.session.pick(number):
            return False
        self._dragged, self._kept = pixel, False
        self.refresh()
        return True

    def move(self, pixel: tuple[int, int]) -> bool:
        """Drag the fragment that is held; whether one is."""
        if self._dragged is None:
            return False
        pane = self.plotter.renderers[0]
        scale = 2.0 * pane.camera.parallel_scale / float(pane.GetSize()[1])  # mm a pixel
        across, up, _ = self._camera()
        x, y = pixel[0] - self._dragged[0], pixel[1] - self._dragged[1]
        if not self._kept:
            self.session.keep()
        self.session.shift(scale * (x * across + y * up))
        self._dragged, self._kept = pixel, True
        self.refresh(moving=True)
        self.rest()
        return True

    def release(self) -> bool:
        """Let the fragment go; whether one was held."""
        held, self._dragged = self._dragged is not None, None
        if held:
            self.refresh()
        return held

    # what is seen

    def refresh(self, *, moving: bool = False) -> None:
        """Draw fragments and gaps as they are now; the numbers too, unless something moves."""
        session = self.session
        for row, (pose, gaps) in enumerate(zip(session.poses, session.gaps(), strict=True)):
            mesh, actor = self._meshes[row]
            actor.user_matrix = pose.matrix
            mesh.cell_data["gap"] = shown(gaps)
            mesh.Modified()
            picked = row == session.picked
            actor.mapper.lookup_table.nan_opacity = PICKED if picked else SEE_THROUGH
        self._steps.mapper.dataset = _coloured(*session.steps())
        # sorting what is seen through costs a machine without a graphics card ten times the rest
        self.plotter.renderers[0].SetUseDepthPeeling(not moving)
        self.plotter.subplot(0, 1)
        top = ROWS[0] * SIZE[1] - 14
        for name, text, at, size in (
            ("title", "Move fragments by hand", top, 12),
            ("fragments", self._fragments(), top - 40, 8),
            ("fits", MEASURED_SOON if moving else self._fits(), top - 210, 8),
            ("keys", "\n".join(f"{key:<11} {what}" for key, what in KEYS.items()), top - 480, 8),
            ("said", "\n".join(textwrap.wrap(self.said, 56)), top - 740, 8),
        ):
            font = "courier" if name == "keys" else "arial"
            actor = self.plotter.add_text(
                text, position=(14, at), font_size=size, font=font, color=INK, name=name,
                render=False,
            )  # fmt: skip
            actor.prop.justification_vertical = "top"
        self.plotter.subplot(0, 0)
        self.plotter.render()

    def _fragments(self) -> str:
        session = self.session
        fixed, moved = session.opened.reduction.fixed, session.moved
        lines = []
        for row, name in enumerate(session.names):
            mark = ">" if row == session.picked else " "
            word = "fixed" if row == fixed else "moved by hand" if row in moved else ""
            lines.append(f"{mark} {row + 1}  {Path(name).stem[:34]}  {word}")
        return "\n".join(lines)

    def _fits(self) -> str:
        names = [str(row + 1) for row in range(len(self.session.names))]
        lines = [
            f"{names[fit.first]} and {names[fit.second]}: gap {_told(fit.gap_mean)} on average, "
            f"{_told(fit.gap_90)} on nine tenths;\n     step {_told(fit.step_mean)} on average, "
            f"{_told(fit.step_largest)} at the most;\n     touch on "
            f"{_told(100.0 * fit.contact, 0)} %, overlap {_told(fit.overlap, 0)} mm³"
            for fit in self.session.fits()
        ]
        return "\n".join(["How they fit, mm:", *(lines or ["no two fragments face each other"])])


def _coloured(points: Vec3s, steps: Floats) -> pv.PolyData:
    """Places with the step at each, as it is coloured."""
    import pyvista as pv

    places = pv.PolyData(points)
    places.point_data["step"] = np.minimum(steps, GAP_MOST)
    places.set_active_scalars("step")
    return places


def _told(value: float, digits: int = 1) -> str:
    """A number, without a sign before nought; "?" where it cannot be told."""
    return number(value if np.isfinite(value) else None, digits)
