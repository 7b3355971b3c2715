"""Units at the edge: everything inside the package is millimetres and float64."""

from __future__ import annotations

from typing import Literal, TypeAlias

__all__ = ["MM_PER_UNIT", "Unit"]

Unit: TypeAlias = Literal["mm", "cm", "m", "inch"]

#: Millimetres in one unit; the inch is exactly 25.4 mm (ISO 80000-3).
MM_PER_UNIT: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
