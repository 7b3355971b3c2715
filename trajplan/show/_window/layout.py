"""Where the panes of a window lie, whatever its size, and how many letters go into them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LEAST", "Layout", "layout_of"]

#: Pixels: the least window in which every word can be read. A smaller one is laid out in the
#: same shares, and its words run over one another.
LEAST = (1280, 720)
#: Pixels: the strip with the cautions; buttons and key, at least and as a share of the height;
#: the panel beside the view, as a share of the width.
STRIP, BUTTONS, KEY = 66.0, (196.0, 0.26), (112.0, 0.15)
PANEL = 0.30
#: Pixels of a letter, of the words and of the title; from one line to the next; at the edges.
LETTER, TITLE_LETTER, CAUTION_LETTER = 7.8, 11.8, 6.9
LINE, TITLE_LINE, SMALL_LINE, EDGE = 18.5, 27.0, 16.0, 14.0


@dataclass(frozen=True, slots=True)
class Layout:
    """Panes of a window: left, low, right and high edge as shares of it."""

    size: tuple[float, float]  # pixels
    view: tuple[float, float, float, float]
    words: tuple[float, float, float, float]
    buttons: tuple[float, float, float, float]
    key: tuple[float, float, float, float]
    strip: tuple[float, float, float, float]

    def pixels(self, pane: tuple[float, float, float, float]) -> tuple[float, float]:
        """Width and height of a pane.

        Parameters
        ----------
        pane : tuple of four floats
            One of the panes.

        Returns
        -------
        (float, float)
        """
        return (pane[2] - pane[0]) * self.size[0], (pane[3] - pane[1]) * self.size[1]

    @property
    def title_letters(self) -> int:
        """Letters to a line of the title."""
        return max(int((self.pixels(self.words)[0] - 2 * EDGE) / TITLE_LETTER), 8)

    @property
    def letters(self) -> int:
        """Letters to a line of the words."""
        return max(int((self.pixels(self.words)[0] - 2 * EDGE) / LETTER), 12)

    @property
    def caution_letters(self) -> int:
        """Letters to a line of the cautions."""
        return max(int((self.size[0] - 2 * EDGE) / CAUTION_LETTER), 40)

    def lines(self, taken: float) -> int:
        """Lines of words below what is taken up at the top of their pane.

        Parameters
        ----------
        taken : float
            Pixels.

        Returns
        -------
        int
        """
        return max(int((self.pixels(self.words)[1] - taken - EDGE) / LINE), 3)


def layout_of(size: tuple[float, float]) -> Layout:
    """Lay a window out.

    Parameters
    ----------
    size : (float, float), pixels
        Of the window.

    Returns
    -------
    Layout
    """
    wide, high = (max(float(value), 1.0) for value in size)
    small = min(1.0, wide / LEAST[0], high / LEAST[1])
    low = small * STRIP / high
    key = low + max(small * KEY[0] / high, KEY[1])
    buttons = key + max(small * BUTTONS[0] / high, BUTTONS[1])
    edge = 1.0 - PANEL
    return Layout(
        size=(wide, high),
        view=(0.0, low, edge, 1.0),
        words=(edge, buttons, 1.0, 1.0),
        buttons=(edge, key, 1.0, buttons),
        key=(edge, low, 1.0, key),
        strip=(0.0, 0.0, 1.0, low),
    )
