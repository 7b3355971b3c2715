"""The window in which a plan is looked at and changed: view, words, buttons, key, cautions."""

from __future__ import annotations

import textwrap
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import InputError
from trajplan.geometry import Plane
from trajplan.show._items.palette import COLOURS, VERDICT_COLOURS
from trajplan.show._picture.actors import Actors
from trajplan.show._picture.compass import compass
from trajplan.show._picture.draw import INK, look, scale_bar
from trajplan.show._picture.legend import entries, legend
from trajplan.show._window.aside import aside
from trajplan.show._window.buttons import Buttons
from trajplan.show._window.commands import COMMANDS
from trajplan.show._window.ct_behind import CtBehind
from trajplan.show._window.edit_scene import changing_items, cut_frame, standing_items
from trajplan.show._window.lens import Lens
from trajplan.show._window.mouse import Mouse
from trajplan.show._window.sights import sight_view
from trajplan.show._words.places import side_text
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from trajplan.files import PlanFile
    from trajplan.show._window.commands import Command
    from trajplan.show._window.session import Session

__all__ = ["Window"]

SIZE = (1600, 1000)  # pixels of the whole window
MAIN_SHARE = 0.70  # of the width, for the view
ROW_SHARES = (0.51, 0.26, 0.16, 0.07)  # of the height: words, buttons, key; cautions
ASPECT = MAIN_SHARE * SIZE[0] / (sum(ROW_SHARES[:3]) * SIZE[1])
SIDE_WIDTH = (1 - MAIN_SHARE) * SIZE[0]
#: Number of the pane of the view, and of that of the words.
VIEW, WORDS = 0, 1
#: Letters in a line of the words, and lines of them.
WORDS_WIDTH, WORDS_MOST = 58, 25
HINT = (
    "Drag a blue ring: move that end of the axis. Drag elsewhere: turn the view. Wheel: zoom. "
    "Click a screw: pick it. Shift with an arrow: a fifth of the step."
)


class Window:
    """A session in a window.

    Parameters
    ----------
    session : Session
        What is looked at and changed.
    keep : callable
        Writes the session's plan as a new file, and says which.
    off_screen : bool
        Whether to draw without a window.
    """

    def __init__(
        self, session: Session, keep: Callable[[Session], Path], *, off_screen: bool = False
    ) -> None:
        import pyvista as pv

        self.session: Session = session
        self.fine = False  # whether nudges are small
        self._keep = keep
        self._standing = standing_items(session.setup)
        self.plotter = pv.Plotter(
            off_screen=off_screen or None,
            shape=(4, 2),
            groups=[(slice(0, 3), 0), (3, slice(0, 2))],
            col_weights=[MAIN_SHARE, 1 - MAIN_SHARE],
            row_weights=list(ROW_SHARES),
            window_size=list(SIZE),
            border_color="#bbbbbb",
        )
        self.plotter.set_background("#ffffff", all_renderers=True)
        self._words()
        self.plotter.subplot(1, 1)
        self.buttons = Buttons(self.plotter, COMMANDS, (SIDE_WIDTH, ROW_SHARES[1] * SIZE[1]))
        self.plotter.subplot(0, 0)
        self.actors = Actors(self.plotter)
        field = session.setup.settings.field
        self._ct = None if field is None else CtBehind(self.plotter, field)
        self._free = False  # whether the view was turned by hand since it was aimed
        self._is_quick = False  # whether it is drawn quickly, as something moves
        on_screen = "EGL" not in type(self.plotter.render_window).__name__
        self._smoothing = "fxaa" if on_screen else "ssaa"  # quick, or fine
        self.plotter.enable_anti_aliasing(self._smoothing, all_renderers=False)
        self._update(moving=False)
        self.aim()
        self._orient(session.record)
        self.plotter.subplot(2, 1)
        told = [*entries(list(self.actors.items().values())), (COLOURS["grip"], "end to drag")]
        legend(self.plotter, told, (SIDE_WIDTH, ROW_SHARES[2] * SIZE[1]))
        self.plotter.subplot(0, 0)
        self.mouse = Mouse(self)

    # the view

    @property
    def _view_pane(self) -> Any:  # noqa: ANN401 - pyvista has no types here
        return self.plotter.renderers[VIEW]

    def lens(self) -> Lens:
        """The view as it is looked at now.

        Returns
        -------
        Lens
        """
        camera, pane = self._view_pane.camera, self._view_pane
        toward = -np.array(camera.direction)
        up = np.array(camera.up) - (np.array(camera.up) @ toward) * toward
        up /= np.linalg.norm(up)
        corner, extent = np.array(pane.GetOrigin()), np.array(pane.GetSize())
        return Lens(
            focus=np.array(camera.focal_point),
            right=np.cross(up, toward),
            up=up,
            middle=corner + extent / 2.0,
            size=2.0 * camera.parallel_scale / float(extent[1]),
        )

    def in_view(self, pixel: tuple[int, int]) -> bool:
        """Whether a place in the window lies in the view.

        Parameters
        ----------
        pixel : (int, int)
            From the window's lower left.

        Returns
        -------
        bool
        """
        corner, extent = np.array(self._view_pane.GetOrigin()), np.array(self._view_pane.GetSize())
        inside = (np.array(pixel) >= corner) & (np.array(pixel) < corner + extent)
        return bool(inside.all())

    def aim(self, *, zoom: bool = True) -> None:
        """Look from where the session says.

        Parameters
        ----------
        zoom : bool
            Whether to choose how near; otherwise that stays as it is.
        """
        items = list(self.actors.items().values())
        view = sight_view(self.session, items, ASPECT)
        if view is None:
            return
        self.plotter.subplot(0, 0)
        scale = self._view_pane.camera.parallel_scale
        look(self.plotter, view)
        if not zoom:
            self._view_pane.camera.parallel_scale = scale
        self._free = False

    def turned_by_hand(self) -> None:
        """Leave the view where it was turned to, whatever moves."""
        self._free = True

    def turn_view(self, across: float, over: float) -> None:
        """Turn what is seen, as a drag of the mouse does.

        Parameters
        ----------
        across, over : float, degrees
            To the right about the picture's upright, and upwards about its level line.
        """
        camera = self._view_pane.camera
        camera.Azimuth(-across)
        camera.Elevation(-over)
        camera.OrthogonalizeViewUp()
        self.turned_by_hand()

    def zoom(self, factor: float) -> None:
        """Go nearer or farther.

        Parameters
        ----------
        factor : float
            Of the height that is seen.
        """
        self._view_pane.camera.parallel_scale *= factor

    def follow(self) -> None:
        """Draw what changed; a view down the drill or square to the cut goes with its axis."""
        self._update(moving=False)
        if self.session.looking.sight != "side" and not self._free:
            self.aim(zoom=False)
        self.render()

    def refresh(self, *, moving: bool = False) -> None:
        """Draw what changed.

        Parameters
        ----------
        moving : bool
            Whether more changes are under way: only view and words are drawn, and quickly.
        """
        self._update(moving=moving)
        self.render()
        if moving:
            self._hurry(VIEW, WORDS)

    def _update(self, *, moving: bool) -> None:
        session = self.session
        self.plotter.suppress_rendering = True  # pyvista would render with each actor added
        self.plotter.subplot(0, 0)
        self.actors.show([*self._standing, *changing_items(session)])
        frame = cut_frame(session)
        self.actors.cut(None if frame is None else Plane(frame.origin, frame.plane.normal))
        if self._ct is not None:
            self._ct.show(None if moving else frame, session.ends)
        self._quick(on=moving)
        self.buttons.light(session)
        record = session.record
        title = record.title or record.case.name
        star = "  (edited)" if session.edited else ""
        self._title.input = "\n".join(textwrap.wrap(title + star, 40)[:2])
        whole = session.state.complete
        self._verdict.input = f"Verdict{'' if whole else ' so far'}: {record.verdict}"
        self._verdict.prop.color = VERDICT_COLOURS.get(record.verdict, INK)
        words = aside(session, width=WORDS_WIDTH, most=WORDS_MOST - 1)
        self._text.input = f"{side_text(record)}\n{words}"
        self.plotter.suppress_rendering = False

    def render(self) -> None:
        """Bring the window up to date."""
        self._view_pane.reset_camera_clipping_range()
        self.plotter.render()

    def coarse(self, *, on: bool) -> None:
        """Draw the view quickly while it is turned.

        Parameters
        ----------
        on : bool
            Whether it is.
        """
        self._quick(on=on)
        if on:
            self._hurry(VIEW)
        else:
            self.plotter.render()

    def _quick(self, *, on: bool) -> None:
        """Thin large meshes out and leave edges rough, or draw everything finely again."""
        self.actors.coarse(on=on)
        if on == self._is_quick:
            return
        self._is_quick = on
        if on:
            self._view_pane.disable_anti_aliasing()
        else:
            self._view_pane.enable_anti_aliasing(self._smoothing)
            self._hurry(*range(len(self.plotter.renderers)))

    def _hurry(self, *panes: int) -> None:
        """Draw no panes but these from now on; the others stay in the picture as they are."""
        for number, pane in enumerate(self.plotter.renderers):
            pane.SetDraw(number in panes)

    # what can be done

    def do(self, command: Command) -> None:
        """Run a command; what the user can mend is said in the window.

        Parameters
        ----------
        command : Command
            The command.
        """
        self.say(HINT)
        try:
            command.run(self)
        except InputError as error:
            self.say(str(error))
        self.follow()

    def pick(self, row: int) -> None:
        """Pick a screw.

        Parameters
        ----------
        row : int
            Row of the screw, from 0.
        """
        self.session.pick(row)
        self.follow()

    def say(self, sentence: str) -> None:
        """Write a sentence under the view, cut short where it is long.

        Parameters
        ----------
        sentence : str
            The sentence.
        """
        self._said.input = textwrap.shorten(sentence, 200, placeholder=" ...")

    def complete(self) -> None:
        """Work out how much error the screws forgive."""
        self.say("Working out how much error the screws forgive ...")
        self.render()
        self.session.complete()
        self.say(HINT)

    def save(self) -> None:
        """Save the plan as a new file."""
        self.say("Saving ...")
        self.render()
        self.say(f"Saved: {self._keep(self.session)}")

    def close(self) -> None:
        """Close the window."""
        self.plotter.iren.terminate_app()

    # what is written

    def _words(self) -> None:
        self.plotter.subplot(0, 1)
        top = ROW_SHARES[0] * SIZE[1] - 12
        self._title = self._write("", top, 12)
        self._verdict = self._write("", top - 50, 12)
        self._text = self._write("", top - 84, 8)
        self.plotter.subplot(3, 0)
        caution = "\n".join(textwrap.wrap(CAUTION_TEXT, 210))
        self._write(caution, 0.55 * ROW_SHARES[3] * SIZE[1], 7)
        self._said = self._write(HINT, ROW_SHARES[3] * SIZE[1] - 6, 8)

    def _write(self, text: str, top: float, size: int) -> Any:  # noqa: ANN401 - pyvista has no types here
        actor = self.plotter.add_text(
            text, position=(14, top), font_size=size, font="arial", color=INK
        )
        actor.prop.justification_vertical = "top"
        return actor

    def _orient(self, record: PlanFile) -> None:
        """Draw scale bar and orientation cross, named by the frame of the case."""
        view = sight_view(self.session, self._standing, ASPECT)
        if view is not None:
            points = self.session.setup.bone.surface.vertices
            reach = float(np.linalg.norm(np.ptp(points, axis=0)))  # in front from every side
            before = replace(view, reach=reach)
            scale_bar(self.plotter, before, ASPECT)
            compass(self.plotter, before, ASPECT, arms(record.frame, record.bearings))
