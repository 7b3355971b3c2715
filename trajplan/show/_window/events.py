"""From what the window system reports to what the window does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._window.commands import find_command
from trajplan.show._window.held import HeldEvents

if TYPE_CHECKING:
    from trajplan.show._window.window import Window

__all__ = ["Events"]

#: Lines of words that a notch of the wheel moves.
WHEEL = 3


class Events(HeldEvents):
    """From keys and the left button to the window that edits a plan.

    Parameters
    ----------
    window : Window
        The window.
    """

    def __init__(self, window: Window) -> None:
        self._window = window
        answers = {
            "KeyPressEvent": self._key,
            "CharEvent": lambda: None,
            "LeftButtonPressEvent": self._press,
            "MouseMoveEvent": self._move,
            "LeftButtonReleaseEvent": self._release,
            "MouseWheelForwardEvent": lambda: self._wheel(-1),
            "MouseWheelBackwardEvent": lambda: self._wheel(1),
            "StartInteractionEvent": self._start,
            "EndInteractionEvent": self._end,
        }
        super().__init__(window, answers)

    def _key(self) -> None:
        key = self._key_name()
        self._window.fine = bool(self._iren.GetShiftKey())
        command = find_command(key)
        if key.isdecimal() and key != "0":
            self._window.pick(int(key) - 1)
        elif command is not None:
            self._window.do(command)

    def _press(self) -> None:
        self._window.fine = bool(self._iren.GetShiftKey())
        if not self._window.mouse.press(self._iren.GetEventPosition()):
            self._style.OnLeftButtonDown()

    def _move(self) -> None:
        if not self._window.mouse.move(self._iren.GetEventPosition()):
            self._style.OnMouseMove()

    def _release(self) -> None:
        if not self._window.mouse.release(self._iren.GetEventPosition()):
            self._style.OnLeftButtonUp()

    def _wheel(self, way: int) -> None:
        """Over the words the wheel moves them; elsewhere it goes nearer and farther."""
        if self._window.words.holds(self._iren.GetEventPosition()):
            self._window.words.scroll(WHEEL * way)
            self._window.render()
        elif way > 0:
            self._style.OnMouseWheelBackward()
        else:
            self._style.OnMouseWheelForward()

    def _start(self) -> None:
        self._window.turned_by_hand()
        self._window.coarse(on=True)

    def _end(self) -> None:
        self._window.coarse(on=False)
