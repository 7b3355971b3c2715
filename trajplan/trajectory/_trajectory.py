"""From an axis and a screw to a trajectory: seat, length, holes, thread, purchase."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.arrays import taken
from trajplan.bone import covered, covered_unknown
from trajplan.trajectory._ahead import Joint, reach_ahead
from trajplan.trajectory._corridors import Corridors, cast, last_solid_start, wall_angle
from trajplan.trajectory._crossing import Crossing, at_the_entry, cross, zone_depth
from trajplan.trajectory._felt import felt_hole
from trajplan.trajectory._holes import Holes, entry_hole, glide_depth, holes, thread_hole
from trajplan.trajectory._inside import Within, within_ct
from trajplan.trajectory._lengths import blind_choice, partial_threads, through_length
from trajplan.trajectory._seat import Seats, in_plate, seat
from trajplan.trajectory._technique import Settings, Technique
from trajplan.trajectory._walls import Basis, Walls, canal_window, walls

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.fracture import Zone
    from trajplan.implants import Washer
    from trajplan.trajectory._axes import Axes
    from trajplan.trajectory._dimensions import Dimensions

__all__ = ["Made", "Trajectories", "plan_trajectories", "techniques"]

#: A wall thinner than this share of the head's diameter gives under it as soft bone does
#: (assumption: 2 mm under a head of 8 mm, 0.75 mm under one of 3 mm).
THIN_WALL = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What of ``n`` screws is settled already, and how far the drill of each plunges."""

    length: Floats  # (n,) mm, stocked; NaN: by the gauge, on the line that was drilled
    partial: Floats  # (n,) mm, length of a partial thread; NaN for full threads
    plunge: Floats  # (n,) mm, see `felt_hole`


@dataclass(frozen=True, slots=True, eq=False)
class Trajectories:
    """``n`` screws in a bone; depths in mm from the entry, NaN where an axis misses."""

    corridors: Corridors
    dims: Dimensions
    technique: Ints  # (n,) values of `Technique`
    bicortical: Bools  # (n,) meant to hold in both cortices
    crossing: Crossing
    walls: Walls
    under: Ints  # (n,) values of `Within`: what lies inside the cortex under the head
    inside: Ints  # (n,) the same where the thread bites beyond the fracture
    seats: Seats
    entry_angle: Floats  # (n,) degrees between axis and the normal of the near wall
    exit_angle: Floats  # (n,) degrees, far wall
    length: Floats  # (n,) mm, stocked
    tip: Floats  # (n,) depth of the tip
    gauge: Floats  # (n,) mm from the seat to the deepest exit of the hole that the gauge hooks in
    room: Floats  # (n,) depth that the tip of a unicortical screw may reach
    ahead: Floats  # (n,) the same of one that runs towards a joint; NaN: towards none
    thread_from: Floats  # (n,) depth at which the thread begins
    bite_from: Floats  # (n,) depth from which the thread can bite
    holes: Holes
    purchase: Floats  # (n,) mm of thread in bone beyond the fracture, mean of the ring
    doubtful: Floats  # (n,) mm of the same that lies in unknown intervals
    untold: Floats  # (n,) mm of thread inside an assumed cortex that may bite bone or marrow
    near_thread: Floats  # (n,) mm of thread that bites the near fragment, greatest of the ring
    washer_diameter: Floats  # (n,) mm, outer; NaN where no washer is used
    washer_hole: Floats  # (n,) mm, inner

    def __len__(self) -> int:
        return len(self.technique)

    def take(self, rows: Ints) -> Trajectories:
        """Some of the screws.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take, in any order.

        Returns
        -------
        Trajectories
        """
        return taken(self, rows)

    @property
    def washered(self) -> Bools:
        """Where a washer is used, (n,)."""
        return np.isfinite(self.washer_diameter)

    @property
    def turns(self) -> Floats:
        """Purchase in turns of the thread, (n,)."""
        return self.purchase / self.dims.pitch

    @property
    def proud(self) -> Floats:
        """How far the tip stands out past what the gauge reads, (n,) mm; negative: short of it."""
        return self.tip - self.seats.seat - self.gauge


def techniques(word: Literal["lag", "position"], dims: Dimensions) -> Ints:
    """Technique of each axis' screw from the word that a case uses.

    Parameters
    ----------
    word : {"lag", "position"}
        What the screw is to do.
    dims : Dimensions
        Screws; a lag screw with a partial thread needs no gliding hole.

    Returns
    -------
    (n,) int array, values of `Technique`
    """
    if word == "position":
        return np.full(len(dims.kind), int(Technique.POSITION))
    return np.where(dims.partial, int(Technique.PARTIAL), int(Technique.GLIDING))


def plan_trajectories(
    bone: Bone,
    axes: Axes,
    dims: Dimensions,
    zones: Sequence[Zone],
    *,
    zone: Ints | None,
    technique: Ints,
    bicortical: Bools,
    settings: Settings,
    washers: tuple[Washer | None, ...] = (),
    joints: Sequence[Joint] = (),
    made: Made | None = None,
    ball: Vec3s | None = None,
) -> Trajectories:
    """Work out ``n`` screws along ``n`` axes.

    Parameters
    ----------
    bone : Bone
        The bone.
    axes : Axes
        Axes from head to tip.
    dims : Dimensions
        The screw of each axis.
    zones : sequence of Zone
        Planar zones of the fracture.
    zone : (n,) int array or None
        Row of ``zones`` that each screw is to close. None: they close none, as the screws of a
        plate, and all the bone on their way counts as beyond the fracture.
    technique : (n,) int array
        Values of `Technique`.
    bicortical : (n,) bool array
        Whether the screw is to hold in the far cortex.
    settings : Settings
        Rays, margins and assumptions.
    washers : tuple of Washer or None, optional
        The washer of each kind in ``dims.kinds``, used where ``settings.washer`` is set.
    joints : sequence of Joint, optional
        Joint surfaces: a screw that runs towards one goes as near to it as it may.
    made : Made, optional
        What is settled already when hands put a planned screw in a little off its line, their
        gliding holes drilled by feel; by default all is chosen for the axis.
    ball : (n, 3) float array, mm, optional
        Middle of the head's sphere in the hole of a plate, where the head rests on no bone; NaN
        where it rests on bone.

    Returns
    -------
    Trajectories
    """
    axis_crossing = (
        None if zone is None else zone_depth(zones, zone, axes.origin, axes.direction)[0]
    )
    corridors = cast(
        bone, axes, dims.thread / 2.0, ring=settings.ring, crossing=axis_crossing, zones=zones
    )
    crossing = at_the_entry(corridors) if zone is None else cross(corridors, zones, zone)
    wall = walls(bone, corridors, settings.cortex, settings.field)
    under = _within(bone, wall, settings, corridors, np.zeros(len(axes)))
    entry_angle = wall_angle(corridors.line_entry[:, 1:], corridors.radius)
    exit_angle = wall_angle(corridors.line_exit[:, 1:], corridors.radius)
    washer = _washer_columns(dims, washers, use=settings.washer)
    seats = seat(
        bone,
        corridors,
        dims,
        hole=entry_hole(dims, technique),
        washer=washer,
        gives=_gives(wall, under, dims),
        deepest_countersink=settings.countersink_share * _near_cortex(wall, crossing),
    )
    if ball is not None:
        seats = in_plate(seats, corridors.axes, ball, dims.head_radius)
    room = _unicortical_room(corridors, wall, settings)
    hole_exit = corridors.exit_within(thread_hole(dims) / 2.0)
    through = through_length(dims, hole_exit - seats.seat, settings)
    ahead = np.full(len(axes), np.nan)
    if made:
        length, thread = np.where(np.isnan(made.length), through, made.length), made.partial
    else:
        blind = crossing.inside & ~bicortical
        ends = crossing.deep, corridors.exit
        ahead = reach_ahead(
            corridors.axes, blind, corridors.radius, *ends, joints, settings.tip_spare
        )
        reach = seats.seat + through - dims.above_seat - crossing.deep
        begin = np.where(technique == Technique.GLIDING, glide_depth(crossing.deep), crossing.deep)
        short, its_thread = blind_choice(dims, seats.seat, begin, room, ahead, settings)
        length = np.where(bicortical, through, short)
        thread = np.where(bicortical, partial_threads(dims, through, reach, settings), its_thread)
    tip = seats.seat + length - dims.above_seat
    thread_from = np.where(technique == Technique.PARTIAL, tip - thread, seats.seat)
    drilled = holes(corridors, dims, technique, crossing, wall, bicortical, tip, hole_exit)
    glides = technique == Technique.GLIDING
    before = _within(bone, wall, settings, corridors, crossing.axis / 2.0)
    marrow = _marrow(corridors, wall, before)
    if made:
        felt = felt_hole(corridors, crossing, marrow, made.plunge)
        drilled = replace(drilled, gliding_to=np.where(glides, felt, drilled.gliding_to))
    bite_from = np.where(glides, np.fmax(thread_from, drilled.gliding_to), thread_from)
    middle = (np.fmax(crossing.axis, bite_from) + np.fmin(corridors.exit, tip)) / 2.0
    inside = _within(bone, wall, settings, corridors, middle)
    purchase, doubtful, untold = _purchase(corridors, crossing, wall, inside, bite_from, tip)
    return Trajectories(
        corridors=corridors,
        dims=dims,
        technique=technique,
        bicortical=bicortical,
        crossing=crossing,
        walls=wall,
        under=under,
        inside=inside,
        seats=seats,
        entry_angle=entry_angle,
        exit_angle=exit_angle,
        length=length,
        tip=tip,
        gauge=hole_exit - seats.seat,
        room=room,
        ahead=ahead,
        thread_from=thread_from,
        bite_from=bite_from,
        holes=drilled,
        purchase=purchase,
        doubtful=doubtful,
        untold=untold,
        near_thread=_near_thread(corridors, crossing, marrow, bite_from, tip),
        washer_diameter=washer[1],
        washer_hole=washer[0],
    )


def _within(
    bone: Bone, wall: Walls, settings: Settings, corridors: Corridors, depth: Floats
) -> Ints:
    """What lies inside the cortex at a depth of each axis; a modelled canal shows the marrow."""
    axes = corridors.axes
    told = settings.inside.at(axes.at(depth))
    if settings.field is not None:
        told = within_ct(settings.field, corridors, wall, depth, told)
    filled = bone.audit.canal & (wall.basis != Basis.MODELLED)
    return np.where(filled & (told == Within.UNTOLD), int(Within.CANCELLOUS), told)


def _gives(wall: Walls, under: Ints, dims: Dimensions) -> Bools:
    """Whether the bone under each head gives: a thin wall, or soft bone without a known one."""
    soft = (wall.basis == Basis.UNKNOWN) & (under == Within.CANCELLOUS)
    thin: Bools = soft | (wall.near < THIN_WALL * dims.head)
    return thin


def _near_cortex(wall: Walls, crossing: Crossing) -> Floats:
    """Near cortex that a countersink is measured against; 0 where none is told apart.

    Where bone fills the pass of a bone with a canal, nobody knows how much of it is cortex. Past
    the fracture it is the far fragment's.
    """
    near = np.where(crossing.shallow < wall.near, crossing.shallow, wall.near)
    return np.where(wall.solid, 0.0, np.nan_to_num(near, nan=0.0))


def _washer_columns(
    dims: Dimensions, washers: tuple[Washer | None, ...], *, use: bool
) -> tuple[Floats, Floats, Floats]:
    """Inner and outer diameter and thickness of each axis' washer, NaN where none."""
    nothing = (np.nan, np.nan, np.nan)
    table = [
        nothing if w is None or not use else (w.inner_diameter, w.outer_diameter, w.thickness)
        for w in (washers or (None,) * len(dims.kinds))
    ]
    columns = np.array(table, dtype=np.float64).reshape(-1, 3)[dims.kind]
    return columns[:, 0], columns[:, 1], columns[:, 2]


def _unicortical_room(corridors: Corridors, wall: Walls, settings: Settings) -> Floats:
    """Depth that the tip may reach without touching the far wall, on the whole ring."""
    start, count = last_solid_start(corridors)
    bare = np.full(len(wall.far), settings.cortex is None) & (wall.basis != Basis.MEASURED)
    cortex = np.where(bare, 0.0, wall.far)
    through = corridors.line_exit - np.nan_to_num(cortex, nan=0.0)[:, None]
    far_wall = np.where(count > 1, start, through)
    room: Floats = np.fmin.reduce(far_wall, axis=1) - settings.tip_short
    return room


def _purchase(
    corridors: Corridors,
    crossing: Crossing,
    wall: Walls,
    inside: Ints,
    bite_from: Floats,
    tip: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Thread in bone beyond the fracture, mean of the ring: known, in doubt, perhaps in marrow."""
    shape = corridors.line_entry.shape
    low = np.fmax(crossing.lines, bite_from[:, None])
    high = np.fmin(corridors.line_exit, tip[:, None])
    marrow_low, marrow_high = canal_window(corridors, wall)
    hollow_low = np.maximum(low, marrow_low).ravel()  # NaN, that is nothing, where none is assumed
    hollow_high = np.minimum(high, marrow_high).ravel()
    whole, inner, doubt, inner_doubt = (
        length(corridors.solid, *stretch).reshape(shape)[:, 1:].mean(axis=1)
        for length in (covered, covered_unknown)
        for stretch in ((low.ravel(), high.ravel()), (hollow_low, hollow_high))
    )
    soft = inside == Within.CANCELLOUS
    usable = np.where(corridors.hit & crossing.inside & np.isfinite(tip), 1.0, np.nan)
    return (
        usable * (whole - np.where(soft, 0.0, inner)),
        usable * (doubt - np.where(soft, 0.0, inner_doubt)),
        usable * np.where(inside == Within.UNTOLD, inner, 0.0),
    )


def _marrow(corridors: Corridors, wall: Walls, within: Ints) -> tuple[Floats, Floats]:
    """Stretch of each line that is taken to be marrow, (n, k + 1); NaN where none is."""
    low, high = canal_window(corridors, wall)
    only = np.where(within == Within.MARROW, 0.0, np.nan)[:, None]
    return low + only, high + only


def _near_thread(
    corridors: Corridors,
    crossing: Crossing,
    marrow: tuple[Floats, Floats],
    bite_from: Floats,
    tip: Floats,
) -> Floats:
    """Thread that bites bone of the near fragment, on the worst line of the ring."""
    low = np.broadcast_to(bite_from[:, None], crossing.lines.shape)
    high = np.fmin(crossing.lines, tip[:, None])
    whole, hollow = (
        covered(corridors.solid, *stretch) + covered_unknown(corridors.solid, *stretch)
        for stretch in (
            (low.ravel(), high.ravel()),
            # NaN, that is nothing, where no marrow is assumed
            (np.maximum(low, marrow[0]).ravel(), np.minimum(high, marrow[1]).ravel()),
        )
    )
    worst: Floats = np.max((whole - hollow).reshape(low.shape), axis=1, initial=0.0)
    return np.where(corridors.hit & crossing.inside & np.isfinite(tip), worst, np.nan)
