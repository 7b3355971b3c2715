"""A plan in a window or in a notebook."""

from __future__ import annotations

import importlib
import os
import sys
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.errors import OutputError, install
from trajplan.files import make_folder
from trajplan.planner import note_case, plan_record
from trajplan.show._picture.shot import need_pyvista
from trajplan.show._picture.vtk import quiet
from trajplan.show._window.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.planner import Plan

__all__ = ["need_display", "save_edited", "show_window", "viewer"]


def show_window(session: Session, keep: Callable[[Session], Path]) -> None:
    """Open a session in a window and return when it is closed.

    Parameters
    ----------
    session : Session
        A plan, to be looked at and changed.
    keep : callable
        Writes the session's plan as a new file, and says which.

    Raises
    ------
    OutputError
        If there is no display, or pyvista is missing.
    """
    need_display()
    import pyvista as pv

    from trajplan.show._window.events import Events
    from trajplan.show._window.window import Window

    with quiet():
        window = Window(session, keep)
        plotter = window.plotter
        if not pv.OFF_SCREEN and "EGL" in type(plotter.render_window).__name__:
            plotter.close()
            raise _no_display(f'"{os.environ.get("DISPLAY", "")}" of DISPLAY does not answer')
        events = Events(window)
        title = session.record.title or session.record.case.name
        plotter.show(title=f"trajplan: {title}", auto_close=False)
        plotter.close()
    if events.raised is not None:
        raise events.raised


def viewer(plan: Plan, folder: str | Path = ".") -> object:
    """Show a plan: in a window, or below the cell of a notebook.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : str or Path
        Where plans that are edited in the window are saved.

    Returns
    -------
    object
        In a notebook the picture, which can be turned but not edited; else None, once the
        window is closed.

    Raises
    ------
    OutputError
        If there is no display, or a library is missing.
    """
    need_pyvista()
    session = Session(plan.setup, plan_record(plan))
    stem = Path(session.record.case.name).stem

    def keep(edited: Session) -> Path:
        return save_edited(edited, Path(folder), stem)

    if not importlib.import_module("scooby").in_ipykernel():  # as pyvista itself asks
        show_window(session, keep)
        return None
    if find_spec("trame_pyvista") is None and find_spec("trame_vtk") is None:
        raise OutputError(
            "pictures in a notebook need trame, which is not installed",
            remedy=install("notebook"),
        )
    from trajplan.show._window.window import Window

    with quiet():
        plotter = Window(session, keep, off_screen=True).plotter
        # drawn by this process: the page is sent pictures, no mesh, and fetches nothing else
        shown: object = plotter.show(jupyter_backend="server", return_viewer=True)
    return shown


def save_edited(session: Session, folder: Path, stem: str) -> Path:
    """Save a plan as it stands in a new file, beside a note of where its case lies.

    Parameters
    ----------
    session : Session
        The plan.
    folder : Path
        Where the file is to lie; it is made if it is not there.
    stem : str
        What its name begins with.

    Returns
    -------
    Path
        ``STEM-edited-1.json``, or the next number that is free.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    make_folder(folder)
    names = (folder / f"{stem}-edited-{number}.json" for number in count(1))
    path = next(path for path in names if not path.exists())
    session.save(path)
    note_case(folder, session.setup.case.file)
    return path


def need_display() -> None:
    """Refuse to go on where no window can open.

    Asked before VTK is, some builds of which end the whole process instead.

    Raises
    ------
    OutputError
        If there is no display, or pyvista is missing.
    """
    need_pyvista()
    import pyvista as pv

    shown = not sys.platform.startswith("linux") or os.environ.get("DISPLAY")
    if not (shown or pv.OFF_SCREEN):
        raise _no_display("DISPLAY is not set")


def _no_display(found: str) -> OutputError:
    return OutputError(
        f"no display was found: {found}",
        remedy="set DISPLAY to one that is there, or write a picture without one: trajplan view "
        "with --shot FILE.png, or save_plan_shot in a script",
    )
