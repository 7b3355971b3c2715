"""The list of keys in the window; every line of it can be pressed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._picture.draw import INK
from trajplan.show._picture.flat import fit_flat, flat_camera

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.show._window.commands import Command
    from trajplan.show._window.session import Session

__all__ = ["Buttons"]

COLUMNS = 3
#: Share of its cell that a button fills, and size of its letters in pixels.
FILL = (0.97, 0.84)
LETTERS = 15
#: Pixels from a button's left edge to its text, and what each further letter of a key adds.
SPACE, LETTER = 28.0, 9.0
BUTTON = {False: "#e9edf0", True: "#ffd98a"}  # at rest, switched on


class Buttons:
    """Buttons in a pane, filled column by column.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    commands : sequence of Command
        What the buttons do.
    size : (2,) float array, pixels
        Width and height of the pane as it is laid out.
    """

    def __init__(self, plotter: pv.Plotter, commands: Sequence[Command], size: Any) -> None:  # noqa: ANN401 - anything that numpy takes
        self._renderer = plotter.renderer
        self._commands = tuple(commands)
        self._size = np.asarray(size, dtype=np.float64)
        self._rows = -(-len(self._commands) // COLUMNS)
        self._words: list[pv.Label] = []
        self._faces = [self._button(plotter, i) for i in range(len(self._commands))]
        flat_camera(plotter, self._size)
        self._share = 1.0  # pixels of now for one of the layout

    def fit(self) -> None:
        """Bring the buttons to the size that their pane has now."""
        self._share = fit_flat(self._renderer, tuple(self._size), self._words, LETTERS)

    def light(self, session: Session) -> None:
        """Colour the buttons of what is switched on.

        Parameters
        ----------
        session : Session
            The session.
        """
        for command, face in zip(self._commands, self._faces, strict=True):
            face.prop.color = BUTTON[command.on(session)]

    def at(self, pixel: Any) -> Command | None:  # noqa: ANN401 - anything that numpy takes
        """The command under a place in the window.

        Parameters
        ----------
        pixel : (2,) array_like, pixels
            From the window's lower left.

        Returns
        -------
        Command or None
        """
        corner, extent = (
            np.array(pair, dtype=np.float64)
            for pair in (self._renderer.GetOrigin(), self._renderer.GetSize())
        )
        place = (np.asarray(pixel) - corner - extent / 2.0) / self._share
        place += self._size / 2.0
        for number, command in enumerate(self._commands):
            if (np.abs(place - self._middle(number)) <= self._cell / 2.0).all():
                return command
        return None

    def pixel(self, command: Command) -> tuple[int, int]:
        """Where a command's button stands in the window.

        Parameters
        ----------
        command : Command
            One of the commands.

        Returns
        -------
        (int, int), pixels
            From the window's lower left.
        """
        corner, extent = (
            np.array(pair, dtype=np.float64)
            for pair in (self._renderer.GetOrigin(), self._renderer.GetSize())
        )
        place = self._middle(self._commands.index(command)) - self._size / 2.0
        x, y = corner + extent / 2.0 + place * self._share
        return round(float(x)), round(float(y))

    @property
    def _cell(self) -> Any:  # noqa: ANN401 - numpy array
        return self._size / (COLUMNS, self._rows)

    def _middle(self, number: int) -> Any:  # noqa: ANN401 - numpy array
        column, row = divmod(number, self._rows)
        return self._cell * (column + 0.5, self._rows - row - 0.5)

    def _button(self, plotter: pv.Plotter, number: int) -> Any:  # noqa: ANN401 - pyvista has no types here
        import pyvista as pv

        command, middle = self._commands[number], self._middle(number)
        width, height = self._cell * FILL
        face = pv.Plane(center=(*middle, 0.0), i_size=width, j_size=height)
        actor = plotter.add_mesh(face, color=BUTTON[False], lighting=False, reset_camera=False)
        edge = face.extract_feature_edges()
        plotter.add_mesh(edge, color="#8a949c", line_width=1, lighting=False, reset_camera=False)
        left = middle[0] - width / 2.0
        after = SPACE + LETTER * max(0, len(command.shown) - 1)
        for text, place, bold in ((command.shown, 8.0, True), (command.text, after, False)):
            at = (left + place, middle[1], 1.0)
            word = pv.Label(text, position=at, size=LETTERS)
            word.prop.color, word.prop.bold, word.prop.font_family = INK, bold, "arial"
            word.prop.justification_vertical = "center"
            plotter.add_actor(word, reset_camera=False, render=False)
            self._words.append(word)
        return actor
