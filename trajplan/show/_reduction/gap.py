"""Colours of the gap between fragments: one scale for pictures and for the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import PRESSURE_MAP

if TYPE_CHECKING:
    import pyvista as pv

    from trajplan.arrays import Floats

__all__ = ["BONE", "GAP_MOST", "gap_table", "shown"]

#: mm; a gap of so much and more has the last colour of the scale.
GAP_MOST = 2.0
#: mm; bone in bone by no more than this is the noise of a mesh, and drawn as closed.
NOISE = 0.2
#: Colour of bone beside the gap's colours, and of bone in bone.
BONE = "#e9e3d3"
OVERLAP = "#d55e00"


def gap_table(bone: str = BONE, opacity: float = 1.0) -> pv.LookupTable:
    """Colours of a gap; where bone lies in bone `OVERLAP`.

    Parameters
    ----------
    bone : str
        Colour of bone beside the gap.
    opacity : float
        Of bone beside the gap, 0 to 1.

    Returns
    -------
    pyvista.LookupTable
    """
    import pyvista as pv

    table = pv.LookupTable(PRESSURE_MAP, scalar_range=(0.0, GAP_MOST), nan_color=bone)
    table.nan_opacity = opacity
    table.below_range_color = OVERLAP
    return table


def shown(gaps: Floats) -> Floats:
    """Gaps as they are coloured: below 0 only where bone lies in bone past the noise."""
    told: Floats = np.where(gaps < -NOISE, -1.0, np.clip(gaps, 0.0, GAP_MOST))
    return told
