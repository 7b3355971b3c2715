"""Keys and the left button, taken from the view's own style."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import pyvista as pv

__all__ = ["HeldEvents"]


class HeldWindow(Protocol):
    """What events need of a window."""

    plotter: pv.Plotter

    def close(self) -> None:
        """Close the window."""
        ...  # the body of a protocol


class HeldEvents:
    """Takes events from the view's own style, which keeps the rest.

    A style that has an observer for an event leaves the event to it. What an observer raises
    would be printed and lost: it is kept in `raised`, and the window closes.

    Parameters
    ----------
    window : HeldWindow
        The window.
    answers : mapping of str to callable
        What answers each event.
    """

    def __init__(self, window: HeldWindow, answers: Mapping[str, Callable[[], None]]) -> None:
        from vtkmodules.vtkInteractionStyle import vtkInteractorStyleTrackballCamera

        self._held = window
        self.raised: Exception | None = None
        style: Any = vtkInteractorStyleTrackballCamera()
        for event, answer in answers.items():
            style.AddObserver(event, self._guarded(answer))
        window.plotter.iren.clear_key_event_callbacks()
        self._style = style
        window.plotter.iren.style = style

    @property
    def _iren(self) -> Any:  # noqa: ANN401 - VTK has no types here
        return self._held.plotter.iren.interactor

    def _key_name(self) -> str:
        """Name of the key that was pressed, the same on either part of the keyboard."""
        return str(self._iren.GetKeySym() or "").removeprefix("KP_")

    def _guarded(self, answer: Callable[[], None]) -> Callable[..., None]:
        def run(*_: object) -> None:
            if self.raised is not None:
                return
            try:
                answer()
            except Exception as error:  # noqa: BLE001 - raised again once the window is closed
                self.raised = error
                self._held.close()

        return run
