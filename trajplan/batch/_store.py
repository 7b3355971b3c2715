"""Bones that a worker keeps from one case to the next."""

from __future__ import annotations

from collections import OrderedDict
from functools import partial
from typing import TYPE_CHECKING

from trajplan.bone import make_bone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.bone import Bone, Surface
    from trajplan.planner import BoneMaker
    from trajplan.units import Unit

__all__ = ["BoneStore"]

#: Bones that are kept. Jobs are dealt out bone by bone, so one would do; the second serves
#: the passage from one bone to the next. More would only cost memory.
ROOM = 2


class BoneStore:
    """The bones last used, each with its ray structure; built once, shared by its cases.

    Parameters
    ----------
    room : int
        Bones that are kept.
    """

    def __init__(self, room: int = ROOM) -> None:
        self._room = room
        self._bones: OrderedDict[tuple[object, ...], Bone] = OrderedDict()

    def maker(self, unit: Unit) -> BoneMaker:
        """A maker of bones that gives what it made before of the same files.

        Parameters
        ----------
        unit : {"mm", "cm", "m", "inch"}
            Unit that the surfaces are read in: the same file in another is another bone.

        Returns
        -------
        callable
            See `trajplan.planner.set_up`.
        """
        return partial(self._bone, unit)

    def _bone(self, unit: Unit, parts: list[Surface], /, *, leave_out: Sequence[str]) -> Bone:
        files = tuple((part.name, part.sha256) for part in parts)
        key = (unit, files, tuple(leave_out))
        if key not in self._bones:
            self._bones[key] = make_bone(parts, leave_out=leave_out)
        self._bones.move_to_end(key)
        while len(self._bones) > self._room:
            self._bones.popitem(last=False)
        return self._bones[key]
