"""The scene of a plan, with everything that its case names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._items.pressure import with_pressure
from trajplan.show._items.scene import scene
from trajplan.show._picture.front import front
from trajplan.show._picture.panes import write_png
from trajplan.show._picture.shot import need_pyvista
from trajplan.show._picture.vtk import quiet

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.files import PlanFile
    from trajplan.planner import Pressing, Setup
    from trajplan.show._items.item import Item

__all__ = ["plan_scene", "save_plan_shot"]


def plan_scene(setup: Setup, plan: PlanFile, pressing: Pressing | None = None) -> list[Item]:
    """List what a picture of a plan shows: bone, fracture, obstacles, screws.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    pressing : Pressing, optional
        How its screws press the fracture, which is then coloured by contact pressure.

    Returns
    -------
    list of Item
    """
    obstacles = setup.around.obstacles
    items = scene(
        setup.bone.surface,
        plan,
        setup.catalogue,
        shells=setup.bone.shells,
        fragments=setup.fragment_names,
        fracture=setup.fracture,
        joints={o.name: o.surface for o in obstacles if o.role == "joint"},
        avoids={o.name: o.surface for o in obstacles if o.role == "avoid"},
    )
    return with_pressure(items, setup, pressing)


def save_plan_shot(setup: Setup, plan: PlanFile, path: Path) -> None:
    """Draw the first page of a plan into a PNG file of 1600 by 1000 pixels.

    Two views along and across the surgeon's line of sight, the verdict in a sentence, the drill
    table, and what needs a decision.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    path : Path
        The file; written whole or not at all.

    Raises
    ------
    OutputError
        If pyvista is missing, or the file cannot be written.
    """
    need_pyvista()
    with quiet():
        write_png(front(setup, plan, plan_scene(setup, plan)), path)
