"""The mouse in the window: drag an end of the axis, pick a screw, press a button."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._window.lens import pixels_to_line

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.show._window.edited import Hold
    from trajplan.show._window.session import Session
    from trajplan.show._window.window import Window

__all__ = ["Mouse", "grip_at", "screw_at"]

#: Pixels; a press this near to an end of the picked axis takes hold of it.
GRIP_REACH = 26.0
#: Pixels; a click this near to a screw picks it.
PICK_REACH = 14.0
#: Pixels; a mouse that moves less between press and release clicks.
STILL = 4.0


class Mouse:
    """What the left button does; all that it leaves alone turns the view.

    Parameters
    ----------
    window : Window
        The window.
    """

    def __init__(self, window: Window) -> None:
        self._window = window
        self._pressed: Floats | None = None  # place of the press
        self._drags = False

    def press(self, pixel: tuple[int, int]) -> bool:
        """Take the button's press.

        Parameters
        ----------
        pixel : (int, int)
            Place in the window, from its lower left.

        Returns
        -------
        bool
            Whether it was for a grip or a button, not for the view.
        """
        window, session = self._window, self._window.session
        command = window.buttons.at(pixel)
        if command is not None:
            window.do(command)
            return True
        if not window.in_view(pixel):
            return True
        self._pressed = np.array(pixel, dtype=np.float64)
        grip = grip_at(window, self._pressed)
        if grip is None:
            return False
        if session.looking.hold != "both":
            session.hold(grip)
        session.grab()
        self._drags = True
        return True

    def move(self, pixel: tuple[int, int]) -> bool:
        """Take a move of the mouse.

        Parameters
        ----------
        pixel : (int, int)
            Place in the window.

        Returns
        -------
        bool
            Whether an axis was dragged.
        """
        if not self._drags or self._pressed is None:
            return False
        by = np.array(pixel, dtype=np.float64) - self._pressed
        if np.abs(by).max() >= STILL or self._window.session.dragging:
            self._window.session.drag(self._window.lens().shift(by))
            self._window.refresh(moving=True)
        return True

    def release(self, pixel: tuple[int, int]) -> bool:
        """Take the button's release.

        Parameters
        ----------
        pixel : (int, int)
            Place in the window.

        Returns
        -------
        bool
            Whether a drag ended.
        """
        at, began, dragged = np.array(pixel, dtype=np.float64), self._pressed, self._drags
        self._pressed, self._drags = None, False
        session = self._window.session
        if dragged:
            session.release()
            self._window.follow()
        elif began is not None and np.abs(at - began).max() < STILL:
            row = screw_at(self._window, at)
            if row is not None:
                session.pick(row)
                self._window.follow()
        return dragged


def grip_at(window: Window, pixel: Floats) -> Hold | None:
    """End of the picked axis that is near a place in the picture.

    Parameters
    ----------
    window : Window
        The window.
    pixel : (2,) float array
        The place.

    Returns
    -------
    "entry", "target" or None
    """
    ends = window.session.ends
    if ends is None:
        return None
    apart = np.linalg.norm(window.lens().pixels(np.stack(ends)) - pixel, axis=1)
    near = int(apart.argmin())
    if apart[near] > GRIP_REACH:
        return None
    if abs(apart[0] - apart[1]) < STILL and window.session.looking.hold != "both":
        return window.session.looking.hold  # both ends on one spot: what is held stays so
    return "entry" if near == 0 else "target"


def screw_at(window: Window, pixel: Floats) -> int | None:
    """Row of the screw that is near a place in the picture.

    Parameters
    ----------
    window : Window
        The window.
    pixel : (2,) float array
        The place.

    Returns
    -------
    int or None
    """
    ends = _all_ends(window.session)
    if len(ends) == 0:
        return None
    lens = window.lens()
    apart = pixels_to_line(pixel, lens.pixels(ends[:, 0]), lens.pixels(ends[:, 1]))
    return int(apart.argmin()) if apart.min() <= PICK_REACH else None


def _all_ends(session: Session) -> Floats:
    rows = range(len(session.state.table.ids))
    return np.array([session.ends_of(row) for row in rows]).reshape(-1, 2, 3)
