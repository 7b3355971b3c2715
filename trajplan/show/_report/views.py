"""From where a report looks: anatomical sides, or along the bone; and down each screw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.geometry import anatomy_directions, frames
from trajplan.show._items.plate import every_screw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.files import PlanFile, PlateRecord, ScrewRecord

__all__ = [
    "Direction",
    "down_the_axis",
    "plate_directions",
    "standard_directions",
    "stretch",
]

#: Letters of the directions to the front, to the left and up.
TOWARDS = "ALS"
#: What those sides are called, and their opposites.
SIDES = (
    ("from the front", "from the back"),
    ("from the left", "from the right"),
    ("from above", "from below"),
)
#: The same along the bone, where no frame names sides: middle, thinnest, longest direction.
BONE_SIDES = ("across the bone", "across the bone, turned 90°", "along the bone")
#: Sine of how far the heads must lie to the opposite side for it to be shown instead.
CLEARLY = 0.3
#: Share of a screw's length that is shown beyond its ends.
ROOM = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Direction:
    """A direction to look from."""

    name: str
    toward: Vec3  # (3,) unit, from what is seen to the camera
    up: Vec3  # (3,) unit, square to it


def standard_directions(
    frame: str, bone: Vec3s, screws: Sequence[ScrewRecord]
) -> tuple[Direction, ...]:
    """Three directions at right angles, each from the side that the heads are on.

    Parameters
    ----------
    frame : str
        Label of the frame.
    bone : (n, 3) float array, mm
        Points of the bone.
    screws : sequence of ScrewRecord
        Screws of the plan.

    Returns
    -------
    tuple of Direction
        Sides of the body where the frame names them, else the bone's principal directions.
    """
    heads = _mean_direction(screws)
    compass = anatomy_directions(frame)
    axes = np.stack([compass[way] for way in TOWARDS]) if compass else _principal(bone)
    out = []
    for row, up in enumerate((axes[2], axes[2], axes[0])):
        opposite = bool(axes[row] @ heads < -CLEARLY)
        name = SIDES[row][int(opposite)] if compass else BONE_SIDES[row]
        out.append(Direction(name, -axes[row] if opposite else axes[row], up))
    return tuple(out)


def _mean_direction(screws: Sequence[ScrewRecord]) -> Vec3:
    """From tips to heads; zero where screws oppose each other or there are none."""
    total: Vec3 = -np.array([s.direction for s in screws]).reshape(-1, 3).sum(axis=0)
    size = np.linalg.norm(total)
    return total / size if size > 0 else total


def down_the_axis(screw: ScrewRecord, bone: Vec3s) -> Direction:
    """Look from the head to the tip, as one looks down the drill.

    Parameters
    ----------
    screw : ScrewRecord
        The screw.
    bone : (n, 3) float array, mm
        Points of the bone, whose long direction is shown upright.

    Returns
    -------
    Direction
    """
    toward = -as_directions(screw.direction)[0]
    long = _principal(bone)[2]
    up = long - (long @ toward) * toward
    if np.linalg.norm(up) < 0.1:  # the screw runs along the bone: any upright will do
        up = frames(toward[None])[0, 0]
    return Direction(f"down the axis of {screw.id}", toward, as_directions(up)[0])


def plate_directions(plate: PlateRecord) -> tuple[Direction, Direction]:
    """Look onto a plate, and at its edge, the plate lying level with hole 1 at the left.

    Parameters
    ----------
    plate : PlateRecord
        The plate.

    Returns
    -------
    tuple of two Direction
    """
    points = as_points(plate.line)
    along = as_directions(points[-1] - points[0])[0]
    out = np.asarray(plate.out).mean(axis=0)
    out = as_directions(out - (out @ along) * along)[0]
    return (
        Direction(f"onto {plate.id}", out, np.cross(out, along)),
        Direction(f"{plate.id} from its edge", -np.cross(out, along), out),
    )


def stretch(plan: PlanFile, screw: str | None = None) -> Vec3s:
    """Points round the placed screws of a plan, or round one of them, with room about them.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    screw : str, optional
        Id of the one screw.

    Returns
    -------
    (n, 3) float array, mm
        Corners of boxes round spheres that hold the screws; none where no screw is placed.
    """
    corners = np.stack(np.meshgrid(*[[-1.0, 1.0]] * 3), axis=-1).reshape(-1, 3)
    boxes = []
    for record in every_screw(plan):
        if screw not in (None, record.id) or record.entry is None or record.exit is None:
            continue
        ends = as_points([record.entry, record.exit])
        half = (0.5 + ROOM) * max(float(np.linalg.norm(ends[1] - ends[0])), record.length or 0.0)
        boxes.append(ends.mean(axis=0) + half * corners)
    return np.vstack(boxes) if boxes else np.empty((0, 3))


def _principal(points: Vec3s) -> Vec3s:
    """Principal directions of points: middle, shortest, longest; right-handed, longest upwards."""
    _, _, rows = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    lead = np.take_along_axis(rows, np.abs(rows).argmax(axis=1)[:, None], axis=1)
    long, middle = (rows * np.sign(lead))[:2]
    return np.stack([middle, np.cross(long, middle), long])
