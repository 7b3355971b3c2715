"""Bones that a worker keeps from one case to the next."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from typing import TYPE_CHECKING

from trajplan.bone import make_bone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.bone import Bone, Surface

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

    def make(self, parts: list[Surface], /, *, leave_out: Sequence[str]) -> Bone:
        """Make a bone, or give the one made before of equal surfaces.

        Parameters
        ----------
        parts : list of Surface
        leave_out : sequence of str
            See `trajplan.bone.make_bone`.

        Returns
        -------
        Bone
        """
        key = (*(_content(part) for part in parts), tuple(leave_out))
        if key not in self._bones:
            self._bones[key] = make_bone(parts, leave_out=leave_out)
        self._bones.move_to_end(key)
        while len(self._bones) > self._room:
            self._bones.popitem(last=False)
        return self._bones[key]

    def clear(self) -> None:
        """Keep nothing."""
        self._bones.clear()


def _content(part: Surface) -> tuple[object, ...]:
    """What a surface is now, not what its file is: a unit or a repair came in between."""
    digest = hashlib.sha256(part.vertices.tobytes())
    digest.update(part.faces.tobytes())
    for name, faces in part.groups.items():
        digest.update(f"\0{name}\0{len(faces)}\0".encode())
        digest.update(faces.tobytes())
    return part.name, part.sha256, part.merged, len(part.vertices), digest.hexdigest()
