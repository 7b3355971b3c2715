"""Contact pressure in a report's model: the colours of the viewer, and their key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from trajplan.planner import judge_axes
from trajplan.show._exports.export import axes_table
from trajplan.show._items.palette import NO_CONTACT, PRESSURE_MAP
from trajplan.show._items.pressure import pressure_scale

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from trajplan.arrays import Floats
    from trajplan.files import PlanFile
    from trajplan.planner import Plan, Pressing, Setup
    from trajplan.show._items.item import Item

    Tints: TypeAlias = npt.NDArray[np.uint8]

__all__ = ["PressureKey", "judged_lags", "pressing_of", "pressure_key", "pressure_tints"]

#: Colours that the key's band runs through; between them a browser blends, nothing to be seen.
STOPS = 9


@dataclass(frozen=True, slots=True)
class PressureKey:
    """Key of the colours of contact pressure."""

    highest: float  # MPa, upper end of the band; the lower is 0
    band: tuple[str, ...]  # colours from 0 to the upper end
    no_contact: str


def judged_lags(setup: Setup, plan: PlanFile) -> Plan | None:
    """Judge the lag screws of a plan anew: a plan file holds no map of pressure.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.

    Returns
    -------
    Plan or None
        None where there are none.
    """
    table = axes_table(plan)
    return judge_axes(setup, table, placement=False) if table.ids else None


def pressing_of(judged: Plan | None) -> Pressing | None:
    """How judged screws press their fracture.

    Parameters
    ----------
    judged : Plan or None
        As from `judged_lags`.

    Returns
    -------
    Pressing or None
        None where it is not known.
    """
    return None if judged is None or judged.outlook is None else judged.outlook.pressing


def pressure_tints(values: Floats, highest: float) -> Tints:
    """Colours of contact pressure.

    Parameters
    ----------
    values : (n,) float array, MPa
        Pressures; 0 where the gap stays open.
    highest : float, MPa
        Upper end of the scale.

    Returns
    -------
    (n, 3) uint8 array
        Red, green and blue; `NO_CONTACT` where nothing presses.
    """
    from matplotlib import colormaps

    tints: Tints = colormaps[PRESSURE_MAP](values / highest, bytes=True)[:, :3]
    tints[values <= 0.0] = [int(NO_CONTACT[i : i + 2], 16) for i in (1, 3, 5)]
    return tints


def pressure_key(items: Sequence[Item]) -> PressureKey | None:
    """Key of the contact pressure in a scene.

    Parameters
    ----------
    items : sequence of Item
        The scene.

    Returns
    -------
    PressureKey or None
        None where no pressure is drawn.
    """
    highest = pressure_scale(items)
    if highest is None:
        return None
    values = np.linspace(1e-9, highest, STOPS)  # the lowest is pressed too
    band = tuple(f"#{r:02x}{g:02x}{b:02x}" for r, g, b in pressure_tints(values, highest))
    return PressureKey(highest, band, NO_CONTACT)
