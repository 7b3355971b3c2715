"""How a screw is used, and the settings that a trajectory is worked out with."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Literal

from trajplan.trajectory._inside import NOWHERE_TOLD, Inside

if TYPE_CHECKING:
    from trajplan.volume import BoneField

__all__ = ["Settings", "Technique"]


class Technique(IntEnum):
    """What makes, or does not make, a screw pull the fragments together."""

    GLIDING = 0  # lag screw: full thread, gliding hole through the near fragment
    PARTIAL = 1  # lag screw: partial thread that lies beyond the fracture
    POSITION = 2  # thread bites both fragments: their distance stays

    @property
    def word(self) -> Literal["lag", "position"]:
        """The technique as case files, axes tables and plans write it."""
        return "position" if self is Technique.POSITION else "lag"


@dataclass(frozen=True, slots=True)
class Settings:
    """Settings of a trajectory, in mm; every one may be set by a case's limits."""

    ring: int = 16  # lines round each axis
    tip_past: float = 2.0  # bicortical: the tip is to leave the far cortex by this much
    tip_least: float = 1.0  # bicortical: the least and the most that will do
    tip_most: float = 3.0
    tip_short: float = 2.0  # unicortical: the tip stops short of the far wall by this much
    tip_spare: float = 2.0  # unicortical, towards a joint: kept beyond the joint's clearance
    thread_clear: float = 2.0  # blind: the thread begins this far beyond the fracture
    thread_margin: float = 0.5  # a partial thread keeps this far beyond the fracture if it can
    turns_soft: float = 5.0  # blind: turns of thread wanted beyond the fracture
    cortex: float | None = None  # assumed wall where no canal is modelled
    inside: Inside = NOWHERE_TOLD  # what fills the bone inside an assumed wall
    field: BoneField | None = None  # what a CT says of the bone
    washer: bool = False  # put a washer under the head
    countersink_share: float = 0.5  # deepest countersink, as a share of the near cortex
