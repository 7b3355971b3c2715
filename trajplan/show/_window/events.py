"""From what the window system reports to what the window does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trajplan.show._window.commands import find_command

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.show._window.window import Window

__all__ = ["Events"]


class Events:
    """Takes keys and the left button from the view's own style, which keeps the rest.

    A style that has an observer for an event leaves the event to it. What an observer raises
    would be printed and lost: it is kept, and the window closes.

    Parameters
    ----------
    window : Window
        The window.
    """

    def __init__(self, window: Window) -> None:
        from vtkmodules.vtkInteractionStyle import vtkInteractorStyleTrackballCamera

        self._window = window
        self.raised: Exception | None = None
        style: Any = vtkInteractorStyleTrackballCamera()
        for event, answer in (
            ("KeyPressEvent", self._key),
            ("CharEvent", lambda: None),
            ("LeftButtonPressEvent", self._press),
            ("MouseMoveEvent", self._move),
            ("LeftButtonReleaseEvent", self._release),
            ("StartInteractionEvent", self._start),
            ("EndInteractionEvent", self._end),
        ):
            style.AddObserver(event, self._guarded(answer))
        window.plotter.iren.clear_key_event_callbacks()
        self._style = style
        window.plotter.iren.style = style

    @property
    def _iren(self) -> Any:  # noqa: ANN401 - VTK has no types here
        return self._window.plotter.iren.interactor

    def _guarded(self, answer: Callable[[], None]) -> Callable[..., None]:
        def run(*_: object) -> None:
            if self.raised is not None:
                return
            try:
                answer()
            except Exception as error:  # noqa: BLE001 - raised again once the window is closed
                self.raised = error
                self._window.close()

        return run

    def _key(self) -> None:
        key = str(self._iren.GetKeySym() or "").removeprefix("KP_")
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

    def _start(self) -> None:
        self._window.turned_by_hand()
        self._window.coarse(on=True)

    def _end(self) -> None:
        self._window.coarse(on=False)
