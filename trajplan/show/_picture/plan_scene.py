"""The scene of a plan, with everything that its case names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._items.pressure import with_pressure
from trajplan.show._items.scene import scene
from trajplan.show._picture.panel import findings_text
from trajplan.show._picture.shot import save_shot
from trajplan.show._words.places import side_text
from trajplan.show._words.sides import arms

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
    """Draw a plan and its findings into a PNG file.

    The picture looks across the screws, so that the fracture stands on edge: its contact
    pressure would not show, and is left to the window.

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
    save_shot(
        plan_scene(setup, plan),
        path,
        plan.title or plan.case.name,
        findings_text(plan),
        verdict=plan.verdict,
        side=side_text(plan),
        arms=arms(plan.frame, plan.bearings),
    )
