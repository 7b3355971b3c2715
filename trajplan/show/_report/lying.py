"""Fragments of a reduced bone as they lay in the image: pictures, and their path for the model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.reduction import Pose
from trajplan.show._report.pictures import shots

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trajplan.files import PlanFile
    from trajplan.planner import Setup
    from trajplan.show._items.item import Item
    from trajplan.show._report.pictures import Picture

__all__ = ["Path", "lying_paths", "lying_pictures"]


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """How a fragment comes from its reduced place to where it lies: a turn about a point of it."""

    pose: Pose  # from reduced to as it lies

    def data(self, item: Item) -> dict[str, Any]:
        """What the script moves the fragment by.

        Parameters
        ----------
        item : Item
            The fragment, reduced.

        Returns
        -------
        dict
            ``axis`` and ``angle`` (radians) of the turn about ``centre``, and the ``shift`` of
            that point, mm.
        """
        from scipy.spatial.transform import Rotation

        centre = (item.points.min(axis=0) + item.points.max(axis=0)) / 2.0
        vector = Rotation.from_matrix(self.pose.rotation).as_rotvec()
        angle = float(np.linalg.norm(vector))
        axis = vector / angle if angle > 0.0 else np.array([0.0, 0.0, 1.0])
        shift = self.pose.points(centre[None])[0] - centre
        return {
            "axis": [round(float(v), 6) for v in axis],
            "angle": round(angle, 6),
            "centre": [round(float(v), 4) for v in centre],
            "shift": [round(float(v), 4) for v in shift],
        }


def lying_paths(setup: Setup) -> dict[str, Path]:
    """Paths of the fragments of a reduced bone, by the names of their items.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    dict of str to Path
        Empty where the bone was planned on as it lies.
    """
    if setup.reduction is None:
        return {}
    return {
        name: Path(Pose(np.array(setup.reduction.fragments[setup.fragment_of(body)].matrix)).back())
        for body, name in enumerate(setup.fragment_names)
    }


def lying_pictures(
    items: Sequence[Item], paths: Mapping[str, Path], plan: PlanFile
) -> tuple[Picture, ...]:
    """Draw the fragments as they lie, and reduced, from the same side.

    Parameters
    ----------
    items : sequence of Item
        The scene of the plan.
    paths : mapping
        Of `lying_paths`.
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of Picture
        None where nothing was reduced.
    """
    if not paths:
        return ()
    bones = [replace(item, opacity=1.0) for item in items if item.role == "bone"]
    lain = [replace(item, points=paths[item.name].pose.points(item.points)) for item in bones]
    return shots((("as it lies", lain), ("reduced", bones)), plan)
