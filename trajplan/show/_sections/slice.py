"""The CT in the plane of a section."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.show._sections.cut import Frame
    from trajplan.volume import BoneField

__all__ = ["BLACK", "WHITE", "Slice", "ct_slice"]

#: HU that are drawn black and white: a window for bone, in which marrow and muscle still differ
#: from cortex and from each other's surroundings (common practice: level 500 to 750, width 2000).
BLACK, WHITE = -250.0, 1750.0
#: mm between the points that are read: finer than a voxel shows nothing more.
STEP = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Slice:
    """A CT in the plane of a section."""

    values: Floats  # (h, w) HU, offset upwards, depth to the right; NaN: not measured
    window: tuple[float, float, float, float]  # mm, depth and offset, low and high, of its edges


def ct_slice(field: BoneField, frame: Frame, window: tuple[float, float, float, float]) -> Slice:
    """Read the CT in the plane of a section.

    Parameters
    ----------
    field : BoneField
        The CT.
    frame : Frame
        The section.
    window : tuple of four floats, mm
        Depth low and high, offset low and high.

    Returns
    -------
    Slice
        As it was scanned: metal and streaks are shown.
    """
    low, high, bottom, top = window
    wide, tall = (max(round((b - a) / STEP), 2) for a, b in ((low, high), (bottom, top)))
    depth = low + (np.arange(wide) + 0.5) * (high - low) / wide
    offset = bottom + (np.arange(tall) + 0.5) * (top - bottom) / tall
    points = frame.origin + depth[None, :, None] * frame.along + offset[:, None, None] * frame.up
    values = field.region.at(points.reshape(-1, 3)).reshape(tall, wide)
    return Slice(values, window)
