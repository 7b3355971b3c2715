"""The panel of words beside the view: title, verdict, lines that scroll where they do not fit."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from trajplan.show._items.palette import VERDICT_COLOURS
from trajplan.show._picture.draw import INK
from trajplan.show._picture.panes import heading
from trajplan.show._window.aside import aside
from trajplan.show._window.layout import EDGE, TITLE_LINE
from trajplan.show._window.lens import in_pane
from trajplan.show._words.places import side_text

if TYPE_CHECKING:
    import pyvista as pv

    from trajplan.show._window.layout import Layout
    from trajplan.show._window.session import Session

__all__ = ["Panel"]


class Panel:
    """Words in a pane.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    layout : Layout
        Of the window.
    """

    def __init__(self, plotter: pv.Plotter, layout: Layout) -> None:
        self._pane: Any = plotter.renderer
        self._layout = layout
        self._lines: list[str] = []
        self._first = 0  # the first line that is shown
        self._title = heading(plotter, "", 0.0, 12)
        self._verdict = heading(plotter, "", 0.0, 12)
        self._text = heading(plotter, "", 0.0, 8)

    @property
    def title(self) -> str:
        """The title that is shown now."""
        return str(self._title.input)

    @property
    def verdict(self) -> str:
        """The line of the verdict that is shown now."""
        return str(self._verdict.input)

    @property
    def shown(self) -> str:
        """The words under the verdict that are shown now."""
        return str(self._text.input)

    def tell(self, session: Session) -> None:
        """Write what a session has to say; from its first line, where it is something new.

        Parameters
        ----------
        session : Session
            The session.
        """
        record, layout = session.record, self._layout
        star = "  (edited)" if session.edited else ""
        title = (record.title or record.case.name) + star
        self._title.input = "\n".join(textwrap.wrap(title, layout.title_letters)[:2])
        whole = session.state.complete
        self._verdict.input = f"Verdict{'' if whole else ' so far'}: {record.verdict}"
        self._verdict.prop.color = VERDICT_COLOURS.get(record.verdict, INK)
        side = textwrap.wrap(side_text(record), layout.letters)
        lines = [*side, *aside(session, width=layout.letters)]
        if lines != self._lines:
            self._lines, self._first = lines, 0
        self._write()

    def fit(self, layout: Layout, session: Session) -> None:
        """Write anew for another size of the window.

        Parameters
        ----------
        layout : Layout
            Of the window.
        session : Session
            The session.
        """
        self._layout = layout
        self.tell(session)

    def scroll(self, lines: int) -> None:
        """Move the words.

        Parameters
        ----------
        lines : int
            How many further down; negative: up. It stops at either end.
        """
        self._first = max(self._first + lines, 0)
        self._write()

    def page(self, way: int) -> None:
        """Move the words by as many lines as are shown.

        Parameters
        ----------
        way : int
            1 down, -1 up.
        """
        self.scroll(way * max(self.shown.count("\n") - 1, 1))

    def holds(self, pixel: tuple[int, int]) -> bool:
        """Whether a place in the window lies in the panel.

        Parameters
        ----------
        pixel : (int, int)
            From the window's lower left.

        Returns
        -------
        bool
        """
        return in_pane(self._pane, pixel)

    def _write(self) -> None:
        """Write as much as there is room for, from the line that it was scrolled to."""
        head = TITLE_LINE * (1 + str(self._title.input).count("\n"))
        top = self._layout.pixels(self._layout.words)[1] - EDGE
        down = {self._title: 0.0, self._verdict: head, self._text: head + TITLE_LINE}
        for actor, below in down.items():
            actor.position = (EDGE, top - below)
        room, every = self._layout.lines(head + TITLE_LINE), len(self._lines)
        if every <= room:
            self._first, self._text.input = 0, "\n".join(self._lines)
            return
        self._first = min(self._first, every - room + 1)
        last = self._first + room - 1
        more = f"Lines {self._first + 1} to {last} of {every}; more: PgDn or the wheel"
        self._text.input = "\n".join([*self._lines[self._first : last], more])
