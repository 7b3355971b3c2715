"""The scene of a plan, with everything that its case names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._scene import scene

if TYPE_CHECKING:
    from trajplan.files import PlanFile
    from trajplan.planner import Setup
    from trajplan.show._item import Item

__all__ = ["plan_scene"]


def plan_scene(setup: Setup, plan: PlanFile) -> list[Item]:
    """List what a picture of a plan shows: bone, fracture, obstacles, screws.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.

    Returns
    -------
    list of Item
    """
    obstacles = setup.around.obstacles
    return scene(
        setup.bone.surface,
        plan,
        setup.catalogue,
        shells=setup.bone.shells,
        fracture=setup.fracture,
        joints={o.name: o.surface for o in obstacles if o.role == "joint"},
        avoids={o.name: o.surface for o in obstacles if o.role == "avoid"},
    )
