"""Contact pressure on the fracture, as far as it is known."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.item import solid_item

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3s
    from trajplan.planner import Pressing, Setup
    from trajplan.show._items.item import Item

__all__ = ["pressure_items", "pressure_scale", "round_up", "with_pressure"]

#: Share of a colour that pressed bone lets through.
OPACITY = 0.92
#: Ends of a scale of pressure: one of these times a power of ten.
ROUND = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0])


def pressure_items(setup: Setup, pressing: Pressing | None) -> list[Item]:
    """Draw the zones whose contact pressure is known.

    Parameters
    ----------
    setup : Setup
        The case.
    pressing : Pressing or None
        How its fracture is pressed.

    Returns
    -------
    list of Item
        In role and name those of the bare zones; values in MPa, 0 where the gap stays open.
    """
    if pressing is None or not pressing.known:
        return []
    items = []
    for region, surface in zip(setup.regions, pressing.surfaces, strict=True):
        if surface.contact is None or not surface.solved:
            continue
        values = region.over_triangles(surface.contact.pressure)
        for row in region.zones:
            own = region.zone == row
            name = f"fracture {setup.fracture.zones[row].id}"
            item = solid_item(name, "fracture", _solid(region.triangles[own]))
            items.append(replace(item, opacity=OPACITY, values=values[own]))
    return items


def with_pressure(items: Sequence[Item], setup: Setup, pressing: Pressing | None) -> list[Item]:
    """Put the zones whose pressure is known in the place of the bare ones.

    Parameters
    ----------
    items : sequence of Item
        A scene.
    setup : Setup
        The case.
    pressing : Pressing or None
        How its fracture is pressed.

    Returns
    -------
    list of Item
    """
    pressed = {item.name: item for item in pressure_items(setup, pressing)}
    return [pressed.get(item.name, item) for item in items]


def pressure_scale(items: Sequence[Item]) -> float | None:
    """Upper end of the scale of pressure of a scene.

    Parameters
    ----------
    items : sequence of Item
        The scene.

    Returns
    -------
    float or None, MPa
        A round number, not below any value; None where nothing is pressed.
    """
    peak = max((i.values.max(initial=0.0) for i in items if i.values is not None), default=0.0)
    return None if peak <= 0.0 else round_up(peak)


def round_up(peak: float) -> float:
    """A round number that is not below a pressure.

    Parameters
    ----------
    peak : float, MPa
        Above 0.

    Returns
    -------
    float, MPa
    """
    power = 10.0 ** np.floor(np.log10(peak))
    return float(power * ROUND[np.searchsorted(ROUND, peak / power * (1.0 - 1e-9))])


def _solid(triangles: Vec3s) -> tuple[Vec3s, np.ndarray]:
    points = triangles.reshape(-1, 3)
    return points, np.arange(len(points)).reshape(-1, 3)
