"""Plain dictionaries for scripts, of the core's frozen types."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from trajplan.files import FractureRecord
    from trajplan.fracture import Fracture

__all__ = ["fracture_json", "plain"]


def plain(value: Any) -> Any:  # noqa: ANN401 - whatever a frozen type holds
    """Turn a frozen type, its arrays and its mappings into what JSON can write.

    Parameters
    ----------
    value : object
        A dataclass, array, mapping, sequence, number or string.

    Returns
    -------
    dict, list, str, float, int, bool or None
        Numbers that are not finite become None.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def fracture_json(fracture: Fracture, record: FractureRecord) -> dict[str, Any]:
    """A fracture as a script reads it.

    Parameters
    ----------
    fracture : Fracture
        The fracture.
    record : FractureRecord
        The same as a plan file holds it: the fragments of each zone, and how each pair fits.

    Returns
    -------
    dict
        Lengths in mm, angles in degrees.
    """
    zones = [
        {
            "id": zone.id,
            "point": plain(zone.plane.point),
            "normal": plain(zone.plane.normal),
            "area": zone.area,
            "rms": plain(zone.fit.rms),
            "largest": plain(zone.fit.largest),
            "normal_bound": plain(zone.fit.normal_bound),
            "used": zone.fit.used,
            "left_out": zone.fit.left_out,
            "extents": plain(zone.fit.extents),
            "flatness": zone.fit.flatness,
            "fragments": list(kept.fragments),
        }
        for zone, kept in zip(fracture.zones, record.zones, strict=True)
    ]
    return {
        "source": fracture.source,
        "zones": zones,
        "fits": [fit.model_dump(mode="json") for fit in record.fits],
        "cautions": list(fracture.cautions),
    }
