"""The window: fragments, the gap in colours, how they fit in words, keys and the mouse."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import InputError
from trajplan.show._picture.camera import framed
from trajplan.show._picture.draw import INK, look, scale_bar
from trajplan.show._picture.vtk import quiet
from trajplan.show._reduction.gap import GAP_MOST, gap_table, shown
from trajplan.show._reduction.picture import gap_scale
from trajplan.show._window.held import HeldEvents
from trajplan.show._window.viewer import need_display

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Vec3
    from trajplan.show._adjust.session import Adjusting

__all__ = ["KEYS", "AdjustWindow", "show_adjusting"]

SIZE = (1600, 1000)  # pixels
SHARE = 0.70  # of the width, for the view
ROWS = (0.93, 0.07)  # of the height: view and words; cautions
#: mm and degrees of a press of a key, and of one with Shift.
STEP, FINE = (0.5, 1.0), (0.1, 0.2)
#: Share of the bone that is seen, so that broken surfaces show through it.
SEE_THROUGH = 0.3
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
        self.plotter.enable_depth_peeling(8)
        gap_scale(self.plotter)
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
            cmap=gap_table(see_through=SEE_THROUGH),
            clim=(0.0, GAP_MOST),
            show_scalar_bar=False,
            name=f"fragment {number}",
        )
        return mesh, actor

    def _aim(self) -> None:
        every = np.concatenate(
            [
                pose.points(part.vertices)
                for part, pose in zip(
                    self.session.opened.fragments, self.session.poses, strict=True
                )
            ]
        )
        up = self.session.axis
        side = np.linalg.svd(np.outer(up, up) - np.eye(3))[0][:, 0]
        aspect = SHARE * SIZE[0] / (ROWS[0] * SIZE[1])
        view = framed(every, every, side, up, aspect, (0.2, 0.05))
        look(self.plotter, view)
        scale_bar(self.plotter, view, aspect)

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
        else:
            self._step(word)
        self.refresh()

    def _step(self, word: str) -> None:
        """Shift or turn the picked fragment by a step, where the key says so."""
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
        if word in shifts:
            session.keep()
            session.shift(shifts[word])
        elif word in turns:
            session.keep()
            session.turn(*turns[word])

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
        self.session.keep()
        self._dragged = pixel
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
        self.session.shift(scale * (x * across + y * up))
        self._dragged = pixel
        self.refresh(moving=True)
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
        for number, (pose, gaps) in enumerate(zip(session.poses, session.gaps(), strict=True)):
            mesh, actor = self._meshes[number]
            actor.user_matrix = pose.matrix
            mesh.cell_data["gap"] = shown(gaps)
            mesh.Modified()
        if moving:
            self.plotter.render()
            return
        self.plotter.subplot(0, 1)
        top = ROWS[0] * SIZE[1] - 14
        for name, text, at, size in (
            ("title", "Move fragments by hand", top, 12),
            ("fragments", self._fragments(), top - 40, 8),
            ("fits", self._fits(), top - 210, 8),
            ("keys", "\n".join(f"{key:<11} {what}" for key, what in KEYS.items()), top - 480, 8),
            ("said", "\n".join(textwrap.wrap(self.said, 56)), top - 740, 8),
        ):
            font = "courier" if name == "keys" else "arial"
            actor = self.plotter.add_text(
                text, position=(14, at), font_size=size, font=font, color=INK, name=name
            )
            actor.prop.justification_vertical = "top"
        self.plotter.subplot(0, 0)
        self.plotter.render()

    def _fragments(self) -> str:
        session = self.session
        fixed, moved = session.opened.reduction.fixed, session.moved
        lines = []
        for number, name in enumerate(session.names):
            mark = ">" if number == session.picked else " "
            word = "fixed" if number == fixed else "moved by hand" if number in moved else ""
            lines.append(f"{mark} {number + 1}  {Path(name).stem[:34]}  {word}")
        return "\n".join(lines)

    def _fits(self) -> str:
        names = [str(number + 1) for number in range(len(self.session.names))]
        lines = [
            f"{names[fit.first]} and {names[fit.second]}: gap {_told(fit.gap_mean)} in the mean, "
            f"{_told(fit.gap_90)} on nine tenths;\n     step {_told(fit.step_mean)} in the mean, "
            f"{_told(fit.step_largest)} at the most;\n     touch on "
            f"{_told(100.0 * fit.contact, 0)} %, overlap {_told(fit.overlap, 0)} mm³"
            for fit in self.session.fits()
        ]
        return "\n".join(["How they fit, mm:", *(lines or ["no two fragments face each other"])])


def _told(value: float, digits: int = 1) -> str:
    """A number, without a sign before nought; "?" where it cannot be told."""
    return f"{round(value, digits) + 0.0:.{digits}f}" if np.isfinite(value) else "?"


def show_adjusting(session: Adjusting, keep: Callable[[Adjusting], Path]) -> None:
    """Open fragments in a window and return when it is closed.

    Parameters
    ----------
    session : Adjusting
        What is moved.
    keep : callable
        Writes the session's reduction into a new folder, and says which.

    Raises
    ------
    OutputError
        If there is no display, or pyvista is missing.
    """
    need_display()
    with quiet():
        window = AdjustWindow(session, keep)
        events = _Events(window)
        window.plotter.show(title="trajplan: reduction", auto_close=False)
        window.plotter.close()
    if events.raised is not None:
        raise events.raised


class _Events(HeldEvents):
    """From keys and the left button to the window over fragments."""

    def __init__(self, window: AdjustWindow) -> None:
        self._window = window
        answers = {
            "KeyPressEvent": self._key,
            "CharEvent": lambda: None,
            "LeftButtonPressEvent": self._press,
            "MouseMoveEvent": self._move,
            "LeftButtonReleaseEvent": self._release,
        }
        super().__init__(window, answers)

    def _key(self) -> None:
        self._window.fine = bool(self._iren.GetShiftKey())
        self._window.do(self._key_name())

    def _press(self) -> None:
        if not self._window.press(self._iren.GetEventPosition()):
            self._style.OnLeftButtonDown()

    def _move(self) -> None:
        if not self._window.move(self._iren.GetEventPosition()):
            self._style.OnMouseMove()

    def _release(self) -> None:
        if not self._window.release():
            self._style.OnLeftButtonUp()
