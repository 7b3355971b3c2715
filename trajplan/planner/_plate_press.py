"""How the pull of a plate presses a fracture: before it, under it straight, and overbent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.mechanics import plate_pull, plate_section, press_surface, resultant
from trajplan.planner._pressing import clamp_of, friction_range

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3
    from trajplan.files import PlateRecord
    from trajplan.mechanics import Load, Region
    from trajplan.planner._plan import Plan
    from trajplan.planner._setup import Setup

__all__ = ["PlatePress", "plate_press"]


@dataclass(frozen=True, slots=True, eq=False)
class PlatePress:
    """Contact pressure on the surface of a fracture before a plate pulls, and after."""

    region: Region
    out: Vec3  # (3,) unit, from the bone to the plate
    before: Floats | None  # (t,) MPa by lag screws alone; None: there are none, or not known
    straight: Floats | None  # (t,) MPa under the plate without overbend; None: its pull passes
    # outside the bone, so that only the near rim is pressed and the far side gapes
    overbent: Floats | None  # (t,) MPa with the overbend wanted; None: that is not known


def plate_press(setup: Setup, plate: PlateRecord, judged: Plan | None) -> PlatePress | None:
    """Work out anew how a plate presses: a plan file holds no map.

    Parameters
    ----------
    setup : Setup
        The case.
    plate : PlateRecord
        A plate of its plan.
    judged : Plan or None
        The plan's lag screws judged as they are; None where it has none.

    Returns
    -------
    PlatePress or None
        At the estimate of the plate's force. None where no force of it is known, or the
        fracture has several surfaces: which of them it presses cannot be told.
    """
    squeeze = plate.forces.squeeze
    known = squeeze is not None and squeeze.estimate is not None and squeeze.estimate > 0.0
    if not known or len(setup.regions) != 1 or plate.kind not in setup.catalogue.plates:
        return None
    assert squeeze is not None
    assert squeeze.estimate is not None
    region = setup.regions[0]
    lag = _lag_load(region, judged)
    point, out = _over_fracture(setup, plate)
    force, friction = squeeze.estimate, friction_range(setup.limits).low

    def pressed(load: Load) -> Floats | None:
        found = press_surface(region, load if lag is None else lag.plus(load), friction).contact
        return region.over_triangles(found.pressure) if found.converged else None

    def pulled(moment: float) -> Floats | None:
        return pressed(plate_pull(force, moment, point, region.normal, out))

    lever = _lever(setup, plate, force)
    return PlatePress(
        region=region,
        out=out,
        before=None if lag is None else _alone(region, lag, friction),
        straight=pulled(0.0),
        overbent=None if lever is None else pulled(lever * force),
    )


def _lag_load(region: Region, judged: Plan | None) -> Load | None:
    """Sum of the lag screws' preloads on the surface, at the estimate."""
    view = None if judged is None else judged.outlook
    pressing = None if view is None else view.pressing
    if judged is None or view is None or pressing is None or not pressing.known:
        return None
    rows = pressing.surfaces[0].screws
    return clamp_of(judged.assessment.screws, view.forces, rows, region) if len(rows) else None


def _alone(region: Region, lag: Load, friction: float) -> Floats | None:
    found = press_surface(region, lag, friction).contact
    return region.over_triangles(found.pressure) if found.converged else None


def _over_fracture(setup: Setup, plate: PlateRecord) -> tuple[Vec3, Vec3]:
    """Point of the plate's axis over the fracture, and the direction out of the bone there."""
    told = [hole for hole in plate.hole if hole.along is not None]
    near = min(told, key=lambda hole: abs(hole.along or 0.0))
    points = as_points(plate.line)
    node = int(np.linalg.norm(points - np.asarray(near.centre), axis=1).argmin())
    across, out = np.asarray(plate.across[node]), np.asarray(plate.out[node])
    along = np.cross(across, out)
    height = plate_section(setup.catalogue.plates[plate.kind]).height
    point: Vec3 = np.asarray(near.centre) + (near.along or 0.0) * along + height * out
    return point, as_directions(out)[0]


def _lever(setup: Setup, plate: PlateRecord, force: float) -> float | None:
    """Where the overbent plate's resultant lies, mm from its axis into the bone."""
    bend = plate.overbend
    filled = [hole for hole in plate.hole if hole.screw is not None and hole.along is not None]
    low = [hole for hole in filled if (hole.along or 0.0) > 0.0]
    high = [hole for hole in filled if (hole.along or 0.0) < 0.0]
    if bend is None or bend.estimate is None or not low or not high:
        return None
    between = float(np.linalg.norm(np.subtract(high[0].centre, low[-1].centre)))
    section = plate_section(setup.catalogue.plates[plate.kind])
    found = resultant(section, bend.estimate, force, between=between, length=plate.size.length)
    return float(found)
