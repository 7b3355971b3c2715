"""Repair of a surface: only what was asked for, and every face that was touched is named."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._repair_steps import (
    Draft,
    drop_copies,
    drop_flat,
    drop_strays,
    fill_holes,
    merge_near,
    turn_faces,
)
from trajplan.bone._types import Surface
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["REPAIRS", "repair"]

_STEPS: dict[str, Callable[[Draft], str]] = {
    "merge": merge_near,
    "degenerate": drop_flat,
    "duplicate": drop_copies,
    "stray": drop_strays,
    "winding": turn_faces,
    "holes": fill_holes,
}
#: Names of the repairs, in the order in which they are done.
REPAIRS = tuple(_STEPS)


def repair(surface: Surface, steps: Sequence[str]) -> tuple[Surface, tuple[str, ...]]:
    """Repair a surface.

    Parameters
    ----------
    surface : Surface
        The surface; it is not changed itself.
    steps : sequence of str
        What is to be repaired, in any order; it is done in the order of this list.

        ``merge``
            Vertices within 0.001 mm of one another become one.
        ``degenerate``
            Faces of no area are dropped: those lower than 1e-6 mm.
        ``duplicate``
            Faces with the corners of an earlier one of the same piece are dropped, and
            pieces that lie on another one all over (within 0.05 mm).
        ``stray``
            Bodies with less than a thousandth of the area of the largest are dropped.
        ``winding``
            Faces are turned so that neighbours agree, and so that the normals of closed
            pieces point out of the bone.
        ``holes``
            Holes are filled: one of three sides with a triangle, any other with triangles
            round its middle.

    Returns
    -------
    surface : Surface
        Groups are carried over; faces that fill a hole belong to none.
    log : tuple of str
        One sentence for each step. Faces are numbered from 1, as they were handed in.

    Raises
    ------
    MeshError
        If a step is not known, or no face is left.
    """
    for step in steps:
        if step not in _STEPS:
            raise MeshError(
                f'no repair is named "{step}"',
                remedy=f"name some of {', '.join(REPAIRS)}",
                file=surface.name,
            )
    draft = Draft(
        vertices=surface.vertices,
        faces=surface.faces,
        number=np.arange(1, len(surface.faces) + 1),
        like=surface,
    )
    log = []
    for name in REPAIRS:
        if name in steps:
            log.append(f"Repair {name}: {_STEPS[name](draft)}.")
            if len(draft.faces) == 0:
                raise MeshError(
                    f'no face is left after the repair "{name}"',
                    remedy="export the mesh again, or leave that repair out",
                    file=surface.name,
                )
    return _finished(draft), tuple(log)


def _finished(draft: Draft) -> Surface:
    """Surface of a draft, the groups brought along."""
    like = draft.like
    row = np.full(len(like.faces) + 1, -1)
    row[draft.number] = np.arange(len(draft.faces))
    groups = {}
    for name, members in like.groups.items():
        now = row[members + 1]
        groups[name] = now[now >= 0]
    vertices, faces = draft.vertices, draft.faces
    freeze(vertices, faces, *groups.values())
    return Surface(
        vertices=vertices,
        faces=faces,
        groups=MappingProxyType(groups),
        name=like.name,
        sha256=like.sha256,
        merged=like.merged,
        step=like.step,
    )
