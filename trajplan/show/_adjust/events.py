"""Keys, the mouse and the clock over fragments, and the window that they move."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._adjust.window import AdjustWindow
from trajplan.show._picture.vtk import quiet
from trajplan.show._window.held import HeldEvents
from trajplan.show._window.viewer import need_display

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from trajplan.show._adjust.session import Adjusting

__all__ = ["show_adjusting"]

#: Milliseconds that the hand rests before fits are measured anew; colours follow at once.
REST = 200


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
        self._window, self._timer = window, 0
        window.rest = self._wait
        answers = {
            "KeyPressEvent": self._key,
            "CharEvent": lambda: None,
            "LeftButtonPressEvent": self._press,
            "MouseMoveEvent": self._move,
            "LeftButtonReleaseEvent": self._release,
            "TimerEvent": window.refresh,
        }
        super().__init__(window, answers)

    def _key(self) -> None:
        self._window.fine = bool(self._iren.GetShiftKey())
        self._window.do(self._key_name())

    def _wait(self) -> None:
        self._iren.DestroyTimer(self._timer)
        self._timer = self._iren.CreateOneShotTimer(REST)

    def _press(self) -> None:
        if not self._window.press(self._iren.GetEventPosition()):
            self._style.OnLeftButtonDown()

    def _move(self) -> None:
        if not self._window.move(self._iren.GetEventPosition()):
            self._style.OnMouseMove()

    def _release(self) -> None:
        if not self._window.release():
            self._style.OnLeftButtonUp()
