"""Near and far cortex along an axis: of a modelled canal, of a CT, or assumed."""

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
    from trajplan.volume import BoneField

__all__ = ["Basis", "Walls", "canal_window", "walls"]

#: An axis nearly along the wall would make an assumed cortex endless: at 78 degrees off
#: the wall's normal its length is five times its thickness, and is held there.
LEAST_COSINE = 0.2
#: Degrees off the wall's normal past which a thickness read along the normal says little of that
#: along the axis (a choice).
STEEPEST = 60.0
#: mm; a canal narrower than this along the axis is rounding, not marrow.
TOUCH = 1e-6
#: mm along the shaft in which a canal begins or ends no sooner: axes within it share an answer.
HEIGHT_STEP = 1.0


BasisWord: TypeAlias = Literal["modelled", "assumed", "unknown", "measured"]
_WORDS: tuple[BasisWord, ...] = ("modelled", "assumed", "unknown", "measured")


class Basis(IntEnum):
    """What a cortex thickness rests on."""

    MODELLED = 0  # the mesh has a canal
    ASSUMED = 1  # the case states a thickness
    UNKNOWN = 2  # none of the others
    MEASURED = 3  # read from a CT

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
    near_spread: Floats  # (n,) mm by which a measured one may be thinner or thicker; else 0
    far_spread: Floats  # (n,) mm


def walls(
    bone: Bone, corridors: Corridors, cortex: float | None, field: BoneField | None = None
) -> Walls:
    """Thickness of the near and the far cortex along each axis.

    Parameters
    ----------
    bone : Bone
        The bone.
    corridors : Corridors
        ``n`` axes as cast.
    cortex : float or None, mm
        Assumed wall thickness along the wall's normal, for a bone without a canal.
    field : BoneField, optional
        What a CT says of the bone: it comes before what is assumed, and after a modelled canal.

    Returns
    -------
    Walls
        Where an axis crosses a canal, lengths of its first and its last solid span. Where it
        runs beside one, the pass is wall all the way. Where no canal is modelled, whatever the
        rest of the bone has, the thickness is assumed, or unknown.
    """
    start, _ = last_solid_start(corridors)
    modelled = corridors.canal | (bone.audit.canal & _crosses_hollow(corridors))
    beside = _beside_canal(bone, corridors, ~modelled)
    near, far = _first_end(corridors), corridors.exit - start[:, 0]
    if cortex is None:
        assumed_near = assumed_far = np.full(len(corridors.exit), np.nan)
        otherwise = Basis.UNKNOWN
    else:
        whole = np.full(len(corridors.exit), cortex)
        assumed_near = np.minimum(_along(whole, corridors.line_entry, corridors), corridors.exit)
        assumed_far = np.minimum(_along(whole, corridors.line_exit, corridors), corridors.exit)
        otherwise = Basis.ASSUMED
    known = modelled | beside
    basis = np.where(known, int(Basis.MODELLED), int(otherwise))
    solid = modelled & ~(near + far < corridors.exit - TOUCH)
    nothing = np.zeros(len(corridors.exit))
    found = Walls(
        basis=basis,
        solid=solid,
        near=np.where(known, near, assumed_near),
        far=np.where(known, far, assumed_far),
        near_spread=nothing,
        far_spread=nothing,
    )
    return found if field is None else _measured(found, corridors, field)


def _measured(found: Walls, corridors: Corridors, field: BoneField) -> Walls:
    """Walls with those that a CT shows, where no canal is modelled on an axis' way."""
    axes = corridors.axes
    places = axes.at(np.where(corridors.hit, 0.0, np.nan)), axes.at(corridors.exit)
    ends = corridors.line_entry, corridors.line_exit
    near, far = (field.wall(place) for place in places)
    angles = [wall_angle(lines[:, 1:], corridors.radius) for lines in ends]
    take = (found.basis != Basis.MODELLED) | found.solid
    for (thick, _), angle in zip((near, far), angles, strict=True):
        take &= np.isfinite(thick) & (angle <= STEEPEST)
    along = [
        [np.minimum(_along(part, lines, corridors), corridors.exit) for part in wall]
        for wall, lines in zip((near, far), ends, strict=True)
    ]
    return Walls(
        basis=np.where(take, int(Basis.MEASURED), found.basis),
        solid=found.solid & ~take,
        near=np.where(take, along[0][0], found.near),
        far=np.where(take, along[1][0], found.far),
        near_spread=np.where(take, along[0][1], 0.0),
        far_spread=np.where(take, along[1][1], 0.0),
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


def _along(cortex: Floats, line_ends: Floats, corridors: Corridors) -> Floats:
    """Length of a cortex along each axis, which meets the wall at a slant."""
    angle = wall_angle(line_ends[:, 1:], corridors.radius)
    cosine = np.fmax(np.cos(np.radians(angle)), LEAST_COSINE)
    return np.where(corridors.hit, cortex / cosine, np.nan)


def canal_window(corridors: Corridors, wall: Walls) -> tuple[Floats, Floats]:
    """Stretch of each line that lies inside an assumed or a measured cortex.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes with ``k`` ring lines.
    wall : Walls
        Their walls.

    Returns
    -------
    low, high : (n, k + 1) float arrays, mm
        Empty (``low >= high``) where the walls meet; NaN where neither is.
    """
    inside = (wall.basis == Basis.ASSUMED) | (wall.basis == Basis.MEASURED)
    assumed = np.where(inside, 0.0, np.nan)[:, None]
    return (
        corridors.line_entry + wall.near[:, None] + assumed,
        corridors.line_exit - wall.far[:, None] + assumed,
    )
