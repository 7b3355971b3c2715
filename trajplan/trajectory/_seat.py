"""The seat: where the underside of the head comes to rest on the bone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import outer_spans, overlapping
from trajplan.trajectory._axes import bundle
from trajplan.trajectory._passes import passes

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.bone import Bone
    from trajplan.trajectory._axes import Axes
    from trajplan.trajectory._corridors import Corridors
    from trajplan.trajectory._dimensions import Dimensions

__all__ = ["CONTACT_GAP", "SOFT_GAP", "Seats", "in_plate", "seat", "surface_depth"]

#: Lines on each circle of the disc under a head.
DISC_LINES = 12
#: Circles of the disc, as shares of the way from the hole's rim to the head's edge. The
#: sphere is upright at its very edge, so the outermost circle stays a little inside.
DISC_SHARES = (0.0, 0.35, 0.7, 0.98)
#: Head and bone touch where they come nearer than this: the give of bone (assumption).
CONTACT_GAP = 0.2
#: The same in soft bone, on a thin wall and under washers: it gives until it bears (assumption).
SOFT_GAP = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Seats:
    """How the heads of ``n`` screws sit; depths from the entry."""

    gives: Bools  # (n,) soft bone or a thin wall under the head, or a washer: it beds in further
    seat: Floats  # (n,) mm, after countersinking; negative: the underside stands off
    rim_contact: Floats  # (n,) share 0..1 of the best-seated circle under the head that bears
    countersink: Floats  # (n,) mm, depth of the countersink; 0: none
    wanted: Floats  # (n,) mm, countersink that would bring the whole rim to bear
    known: Bools  # (n,) the surface under the head is not open
    plated: Bools  # (n,) the head rests in the hole of a plate, not on bone


def seat(
    bone: Bone,
    corridors: Corridors,
    dims: Dimensions,
    *,
    hole: Floats,
    washer: tuple[Floats, Floats, Floats],
    gives: Bools,
    deepest_countersink: Floats,
) -> Seats:
    """Lower each head, or washer, onto the bone.

    Parameters
    ----------
    bone : Bone
        The bone.
    corridors : Corridors
        ``n`` axes as cast.
    dims : Dimensions
        Their screws.
    hole : (n,) float array, mm
        Diameter of the hole at the entry; bone inside it is gone.
    washer : tuple of three (n,) float arrays, mm
        Inner and outer diameter and thickness; NaN where no washer is used.
    gives : (n,) bool array
        Whether the bone under the head gives by `SOFT_GAP`: soft bone, or a thin wall. There,
        and under a washer, nothing is countersunk (AO Foundation, online surgery reference,
        canine proximal femur, lag screw fixation).
    deepest_countersink : (n,) float array, mm
        Deepest countersink allowed.

    Returns
    -------
    Seats

    Notes
    -----
    The under-surface is a sphere, a washer a flat ring. Lines parallel to the axis measure
    how deep the bone's surface lies under each of their points; the head stops at the
    first one that it meets. A countersink lets the sphere sink until the rim bears all
    round, as far as is allowed (common practice).
    """
    inner, outer, thickness = washer
    washered = np.isfinite(outer)
    low = np.where(washered, inner, hole) / 2.0
    high = np.where(washered, outer, dims.head) / 2.0
    radii = low[:, None] + (high - low)[:, None] * np.array(DISC_SHARES)
    surface, known = _surface(bone, corridors, radii, DISC_LINES)  # (n, circles, lines)
    rise = np.where(washered[:, None], 0.0, _sphere_rise(radii, dims.head_radius))
    room = surface + rise[:, :, None]  # depth of the head's lowest point at contact
    first = np.fmin.reduce(room, axis=(1, 2), initial=np.nan)
    wanted = np.fmax.reduce(room[:, 0], axis=1) - first
    worth = ~washered & ~gives & (wanted > CONTACT_GAP)
    sunk = np.where(worth, np.minimum(wanted, deepest_countersink), 0.0)
    rests = first + sunk
    return Seats(
        seat=np.where(washered, rests - thickness, rests),
        gives=washered | gives,
        rim_contact=_contact(room, rests, np.where(washered | gives, SOFT_GAP, CONTACT_GAP)),
        countersink=sunk,
        wanted=np.where(washered, 0.0, wanted),
        known=known,
        plated=np.zeros(len(known), dtype=np.bool_),
    )


def in_plate(seats: Seats, axes: Axes, ball: Vec3s, radius: Floats) -> Seats:
    """Let heads rest in the holes of a plate.

    Parameters
    ----------
    seats : Seats
        Seats of ``n`` screws on bone.
    axes : Axes
        Their axes, the origin of each being its entry.
    ball : (n, 3) float array, mm
        Middle of each head's sphere in its hole; NaN: it rests on bone.
    radius : (n,) float array, mm
        Of the heads' under-surfaces.

    Returns
    -------
    Seats
        Nothing is countersunk under a plate, and no bone bears such a head.
    """
    plated: Bools = np.logical_and.reduce(np.isfinite(ball), axis=1)
    depth = np.einsum("ni,ni->n", ball - axes.origin, axes.direction) + radius
    return replace(
        seats,
        gives=seats.gives & ~plated,
        seat=np.where(plated, depth, seats.seat),
        rim_contact=np.where(plated, np.nan, seats.rim_contact),
        countersink=np.where(plated, 0.0, seats.countersink),
        wanted=np.where(plated, 0.0, seats.wanted),
        known=seats.known | plated,
        plated=plated,
    )


def surface_depth(bone: Bone, corridors: Corridors, radii: Floats, count: int) -> Floats:
    """Depth of the outer surface under the points of circles round each axis.

    Parameters
    ----------
    bone : Bone
        The bone.
    corridors : Corridors
        ``n`` axes as cast.
    radii : (n, c) float array, mm
        Radii of the circles.
    count : int
        Points on each.

    Returns
    -------
    (n, c, count) float array, mm from the entry
        NaN where no bone lies under the point.
    """
    return _surface(bone, corridors, radii, count)[0]


def _surface(bone: Bone, corridors: Corridors, radii: Floats, count: int) -> tuple[Floats, Bools]:
    """Depths as of `surface_depth`, and whether all of one axis are known, (n,)."""
    origin, direction = bundle(corridors.axes, radii, count, with_axis=False)
    found = outer_spans(bone, origin, direction)
    outer = passes(found)
    lines = radii.shape[1] * count
    low = np.repeat(np.where(corridors.hit, 0.0, np.nan), lines)
    start, _ = overlapping(outer, low, np.repeat(corridors.exit, lines))
    line = rows_of(found.offsets)
    open_ = np.flatnonzero(~found.known & (found.end >= start[line]) & (found.start <= start[line]))
    known = np.bincount(line[open_] // lines, minlength=len(radii)) == 0
    return start.reshape(len(radii), radii.shape[1], count), known


def _sphere_rise(radii: Floats, sphere: Floats) -> Floats:
    """How far a sphere's surface lies above its lowest point, off its axis."""
    inside = np.minimum(radii, sphere[:, None])
    rise: Floats = sphere[:, None] - np.sqrt(sphere[:, None] ** 2 - inside**2)
    return rise


def _contact(room: Floats, rests: Floats, give: Floats) -> Floats:
    """Greatest share of any circle of the disc that bears on bone."""
    touches = room <= (rests + give)[:, None, None]  # NaN: no bone there, no contact
    best = touches.mean(axis=2).max(axis=1, initial=0.0)
    return np.where(np.isfinite(rests), best, np.nan)
