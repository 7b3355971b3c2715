"""The window in which a plan is looked at and changed: view, words, buttons, key, cautions."""

from __future__ import annotations

import textwrap
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import InputError
from trajplan.geometry import Plane
from trajplan.show._items.palette import COLOURS
from trajplan.show._picture.actors import Actors
from trajplan.show._picture.compass import compass
from trajplan.show._picture.draw import look, scale_bar
from trajplan.show._picture.flat import fit_flat
from trajplan.show._picture.legend import NAME, entries, legend
from trajplan.show._picture.panes import heading
from trajplan.show._window.band import PressureBand
from trajplan.show._window.buttons import Buttons
from trajplan.show._window.commands import COMMANDS
from trajplan.show._window.ct_behind import CtBehind
from trajplan.show._window.edit_scene import changing_items, cut_frame, standing_items
from trajplan.show._window.layout import EDGE, LINE, layout_of
from trajplan.show._window.lens import Lens, in_pane
from trajplan.show._window.mouse import Mouse
from trajplan.show._window.panel import Panel
from trajplan.show._window.sights import sight_view
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from trajplan.files import PlanFile
    from trajplan.show._window.commands import Command
    from trajplan.show._window.session import Session

__all__ = ["Window"]

#: Pixels of the whole window, where the screen has room for it; and of buttons and key as they
#: are laid out, to be brought to the size of their panes.
SIZE, BUTTONS, KEY = (1600, 1000), (480.0, 260.0), (480.0, 165.0)
#: Pixels of the key's last row, for the colours of pressure.
BAND_ROW = 30.0
#: Numbers of the panes.
VIEW, WORDS, _, MEANS, _ = range(5)
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
            window_size=list(SIZE),
            border=False,  # pyvista's lie where its own layout has them
        )
        self.plotter.set_background("#ffffff", all_renderers=True)
        for pane in self.plotter.renderers:
            pane.add_border("#bbbbbb", 1.0)
        self.layout = layout_of(SIZE)
        self.plotter.subplot(0, 1)
        self.words: Panel = Panel(self.plotter, self.layout)
        self._strip()
        self.plotter.subplot(1, 1)
        self.buttons = Buttons(self.plotter, COMMANDS, BUTTONS)
        self.plotter.subplot(0, 0)
        self._scale: float | None = None  # upper end of the colours of pressure, MPa
        self._band: PressureBand | None = None
        self.actors = Actors(self.plotter, self._pressure)
        field = session.setup.settings.field
        self._ct = None if field is None else CtBehind(self.plotter, field)
        self._free = False  # whether the view was turned by hand since it was aimed
        self._is_quick = False  # whether it is drawn quickly, as something moves
        on_screen = "EGL" not in type(self.plotter.render_window).__name__
        self._smoothing = "fxaa" if on_screen else "ssaa"  # quick, or fine
        self.plotter.enable_anti_aliasing(self._smoothing, all_renderers=False)
        self._update(moving=False)
        self._orient(session.record)
        self.plotter.subplot(2, 1)
        told = [*entries(list(self.actors.items().values())), (COLOURS["grip"], "end to drag")]
        self._names = legend(self.plotter, told, KEY, below=BAND_ROW)
        self._band = PressureBand(self.plotter)
        self._band.tell(self._scale)
        self.plotter.subplot(0, 0)
        self.mouse = Mouse(self)
        self._fit(self._room(off_screen=off_screen))
        self.aim()
        self.plotter.render_window.AddObserver("WindowResizeEvent", self._resized)

    # the size

    def _room(self, *, off_screen: bool) -> tuple[int, int]:
        """Size of the window: no larger than the screen has room for."""
        if off_screen:
            return SIZE
        wide, high = self.plotter.render_window.GetScreenSize()
        size = (min(SIZE[0], wide), min(SIZE[1], high))
        self.plotter.window_size = list(size)
        return size

    def _resized(self, *_: object) -> None:
        size = tuple(self.plotter.render_window.GetSize())
        if size != self.layout.size:
            self._fit(size)

    def _fit(self, size: tuple[float, float]) -> None:
        """Lay the panes out for a size, and what is written in them."""
        self.layout = layout = layout_of(size)
        panes = (layout.view, layout.words, layout.buttons, layout.key, layout.strip)
        for renderer, place in zip(self.plotter.renderers, panes, strict=True):
            renderer.SetViewport(*place)
        self.buttons.fit()
        words = [*self._names, *(self._band.words if self._band else ())]
        fit_flat(self.plotter.renderers[MEANS], KEY, words, NAME)
        caution = "\n".join(textwrap.wrap(CAUTION_TEXT, layout.caution_letters))
        self._caution.input = caution
        top = layout.pixels(layout.strip)[1]
        self._said.position = (EDGE, top - 4.0)
        self._caution.position = (EDGE, top - 4.0 - LINE)
        self.words.fit(layout, self.session)
        self._view_pane.camera.Modified()  # scale bar and cross follow the camera

    def _pressure(self, scale: float | None) -> None:
        self._scale = scale
        if self._band is not None:
            self._band.tell(scale)

    def _aspect(self) -> float:
        wide, high = self.layout.pixels(self.layout.view)
        return wide / high

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
        return in_pane(self._view_pane, pixel)

    def aim(self, *, zoom: bool = True) -> None:
        """Look from where the session says.

        Parameters
        ----------
        zoom : bool
            Whether to choose how near; otherwise that stays as it is.
        """
        items = list(self.actors.items().values())
        view = sight_view(self.session, items, self._aspect())
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
        self.words.tell(session)
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
        most = int(self.layout.caution_letters * 0.85)
        self._said.input = textwrap.shorten(sentence, most, placeholder=" ...")

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

    def _strip(self) -> None:
        self.plotter.subplot(3, 0)
        self._caution = heading(self.plotter, "", 0.0, 7)
        self._said = heading(self.plotter, HINT, 0.0, 8)

    def _orient(self, record: PlanFile) -> None:
        """Draw scale bar and orientation cross, named by the frame of the case."""
        view = sight_view(self.session, self._standing, self._aspect())
        if view is not None:
            points = self.session.setup.bone.surface.vertices
            reach = float(np.linalg.norm(np.ptp(points, axis=0)))  # in front from every side
            before = replace(view, reach=reach)
            scale_bar(self.plotter, before, self._aspect)
            compass(self.plotter, before, self._aspect, arms(record.frame, record.bearings))
