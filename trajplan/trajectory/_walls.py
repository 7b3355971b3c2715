"""Near and far cortex along an axis: measured where a canal is modelled, else assumed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import canal_at, first_after
from trajplan.trajectory._corridors import Corridors, last_solid_start, wall_angle
from trajplan.trajectory._passes import passes

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone import Bone

__all__ = ["Basis", "Walls", "canal_window", "walls"]

#: An axis nearly along the wall would make an assumed cortex endless: at 78 degrees off
#: the wall's normal its length is five times its thickness, and is held there.
LEAST_COSINE = 0.2
#: mm; a canal narrower than this along the axis is rounding, not marrow.
TOUCH = 1e-6
#: mm along the shaft in which a canal begins or ends no sooner: axes within it share an answer.
HEIGHT_STEP = 1.0


BasisWord: TypeAlias = Literal["modelled", "assumed", "unknown"]
_WORDS: tuple[BasisWord, ...] = ("modelled", "assumed", "unknown")


class Basis(IntEnum):
    """What a cortex thickness rests on."""

    MODELLED = 0  # the mesh has a canal
    ASSUMED = 1  # the case states a thickness
    UNKNOWN = 2  # neither

    @property
    def word(self) -> BasisWord:
        """The basis as plans write it."""
        return _WORDS[self.value]


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """Cortex along ``n`` axes."""

    basis: Ints  # (n,) values of `Basis`
    solid: Bools  # (n,) bone fills the pass of a bone whose canal is modelled: no cortex is told
    near: Floats  # (n,) mm along the axis; NaN where unknown
    far: Floats  # (n,) mm along the axis


def walls(bone: Bone, corridors: Corridors, cortex: float | None) -> Walls:
    """Thickness of the near and the far cortex along each axis.

    Parameters
    ----------
    bone : Bone
        The bone.
    corridors : Corridors
        ``n`` axes as cast.
    cortex : float or None, mm
        Assumed wall thickness along the wall's normal, for a bone without a canal.

    Returns
    -------
    Walls
        Where an axis crosses a canal, lengths of its first and its last solid span. Where it
        runs beside one, the pass is wall all the way. Where no canal is modelled, whatever the
        rest of the bone has, the thickness is assumed, or unknown.
    """
    start, _ = last_solid_start(corridors)
    measured = corridors.canal | (bone.audit.canal & _crosses_hollow(corridors))
    beside = _beside_canal(bone, corridors, ~measured)
    near, far = _first_end(corridors), corridors.exit - start[:, 0]
    if cortex is None:
        assumed_near = assumed_far = np.full(len(corridors.exit), np.nan)
        otherwise = Basis.UNKNOWN
    else:
        assumed_near = np.minimum(_along(cortex, corridors.line_entry, corridors), corridors.exit)
        assumed_far = np.minimum(_along(cortex, corridors.line_exit, corridors), corridors.exit)
        otherwise = Basis.ASSUMED
    known = measured | beside
    return Walls(
        basis=np.where(known, int(Basis.MODELLED), int(otherwise)),
        solid=measured & ~(near + far < corridors.exit - TOUCH),
        near=np.where(known, near, assumed_near),
        far=np.where(known, far, assumed_far),
    )


def _crosses_hollow(corridors: Corridors) -> Bools:
    """Whether each axis leaves bone between entry and exit by more than a fracture's gap."""
    hollow = np.zeros(len(corridors.exit), dtype=np.bool_)
    lines = corridors.ring + 1
    solid = passes(corridors.solid)
    rows = rows_of(solid.offsets)
    after = np.flatnonzero((rows[1:] == rows[:-1]) & (rows[:-1] % lines == 0))
    axis = rows[after] // lines
    within = (solid.end[after] > 0.0) & (solid.start[after + 1] < corridors.exit[axis])
    hollow[axis[within]] = True
    return hollow


def _beside_canal(bone: Bone, corridors: Corridors, rows: Bools) -> Bools:
    """Whether each of some axes runs beside a canal that is modelled from its entry to its exit.

    What is modelled there as bone is wall: a canal that has been left out cannot hide in it.
    """
    beside: Bools = rows & corridors.hit & bone.audit.canal
    asked = np.flatnonzero(beside)
    if bone.shaft is None or len(asked) == 0:
        return beside & False
    axes = corridors.axes
    ends = (axes.at(np.zeros(len(beside)))[asked], axes.at(corridors.exit)[asked])
    heights = np.concatenate([(end - bone.shaft.point) @ bone.shaft.direction for end in ends])
    steps, of = np.unique(np.round(heights / HEIGHT_STEP), return_inverse=True)
    beside[asked] = canal_at(bone, steps * HEIGHT_STEP)[of].reshape(2, -1).all(axis=0)
    return beside


def _first_end(corridors: Corridors) -> Floats:
    """End of the first solid span of each axis that ends beyond the entry."""
    lines = len(corridors.solid.offsets) - 1
    solid = passes(corridors.solid)  # two fragments that meet at the fracture are one wall
    at = first_after(solid, np.zeros(lines))[:: corridors.ring + 1]
    end = np.full(len(at), np.nan)
    end[at >= 0] = solid.end[at[at >= 0]]
    return np.where(corridors.hit, np.fmin(end, corridors.exit), np.nan)


def _along(cortex: float, line_ends: Floats, corridors: Corridors) -> Floats:
    """Length of an assumed cortex along each axis, which meets the wall at a slant."""
    angle = wall_angle(line_ends[:, 1:], corridors.radius)
    cosine = np.fmax(np.cos(np.radians(angle)), LEAST_COSINE)
    return np.where(corridors.hit, cortex / cosine, np.nan)


def canal_window(corridors: Corridors, wall: Walls) -> tuple[Floats, Floats]:
    """Stretch of each line that lies inside an assumed cortex.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes with ``k`` ring lines.
    wall : Walls
        Their walls.

    Returns
    -------
    low, high : (n, k + 1) float arrays, mm
        Empty (``low >= high``) where the walls meet; NaN where nothing is assumed.
    """
    assumed = np.where(wall.basis == Basis.ASSUMED, 0.0, np.nan)[:, None]
    return (
        corridors.line_entry + wall.near[:, None] + assumed,
        corridors.line_exit - wall.far[:, None] + assumed,
    )
