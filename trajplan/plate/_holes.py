"""How a screw may lie in a hole of a plate: its tilt, the hole's cone, and the fracture below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.fracture import Zone
    from trajplan.implants import PlateHole
    from trajplan.plate._lay import Laid

__all__ = ["Lag", "cone_share", "fracture_under", "lag_through", "tilted", "tilts"]


@dataclass(frozen=True, slots=True, eq=False)
class Lag:
    """Lag screws through ``n`` holes, as square to the fracture as their cones allow."""

    direction: Vec3s  # (n, 3) unit, into the bone
    wanted: Floats  # (n,) degrees of tilt in the hole that would make it square
    off: Floats  # (n,) degrees by which it is not square; NaN: the cone is not known


def tilts(laid: Laid, row: int | Ints, hole: Ints, direction: ArrayLike) -> tuple[Floats, Floats]:
    """Tilt of screws in their holes.

    Parameters
    ----------
    laid : Laid
        Plates.
    row : int or (n,) int array
        The plate of each screw.
    hole : (n,) int array
        Hole of each screw, from 0.
    direction : (n, 3) array_like
        From head to tip.

    Returns
    -------
    along, across : (n,) float arrays, degrees
        Off the hole's axis, along the plate and across it, with a sign.
    """
    frame = laid.shape.frames[row, laid.strip.hole[hole]]
    local = np.einsum("nij,nj->ni", frame, as_directions(direction))
    return (
        np.degrees(np.arctan2(local[:, 0], -local[:, 2])),
        np.degrees(np.arctan2(local[:, 1], -local[:, 2])),
    )


def tilted(laid: Laid, row: int | Ints, hole: Ints, along: ArrayLike, across: ArrayLike) -> Vec3s:
    """Directions of screws that tilt in their holes, the reverse of `tilts`.

    Parameters
    ----------
    laid, row, hole
        As for `tilts`.
    along, across : (n,) array_like, degrees
        Below 90.

    Returns
    -------
    (n, 3) float array
    """
    slopes = (np.tan(np.radians(np.asarray(a, dtype=np.float64))) for a in (along, across))
    first, second = (np.broadcast_to(s, len(hole)) for s in slopes)
    frame = laid.shape.frames[row, laid.strip.hole[hole]]
    local = np.stack([first, second, -np.ones(len(hole))], axis=1)
    return as_directions(np.einsum("nij,ni->nj", frame, local))


def cone_share(hole: PlateHole, along: Floats, across: Floats) -> Floats:
    """Tilt of screws as a share of what their holes allow.

    Parameters
    ----------
    hole : PlateHole
        A hole of the plate.
    along, across : (n,) float arrays, degrees
        As from `tilts`.

    Returns
    -------
    (n,) float array
        Up to 1 it is allowed: the cone is taken for an ellipse (assumption). NaN where the
        screw tilts and no source names the limit.
    """
    share = np.zeros(np.shape(along))
    for tilt, limit in ((along, hole.tilt_along), (across, hole.tilt_across)):
        square = np.abs(tilt) < SQUARE
        most = np.nan if limit is None else limit
        share = share + np.where(square, 0.0, tilt / most) ** 2
    root: Floats = np.sqrt(share)
    return root


#: Degrees below which a screw stands square in its hole: rounding.
SQUARE = 1e-6


def lag_through(laid: Laid, row: int | Ints, hole: Ints, normal: ArrayLike) -> Lag:
    """Lag screws through holes, each as near to the fracture's normal as its cone allows.

    Parameters
    ----------
    laid, row, hole
        As for `tilts`.
    normal : (3,) or (n, 3) array_like
        Of the fracture; either sense.

    Returns
    -------
    Lag

    Notes
    -----
    Where the plate lies in the fracture's plane of dip, a screw square to a fracture of
    obliquity ``o`` (0: transverse) tilts by ``90 - o``: a hole of 25 degrees serves fractures
    of 65 degrees and more.
    """
    out = laid.shape.frames[row, laid.strip.hole[hole], 2]
    square = np.broadcast_to(as_directions(normal), out.shape)
    inwards = np.where(np.einsum("ni,ni->n", square, out) > 0.0, -1.0, 1.0)[:, None] * square
    along, across = tilts(laid, row, hole, inwards)
    share = cone_share(laid.plate.hole, along, across)
    back = np.where(share > 1.0, 1.0 / np.maximum(share, 1.0), 1.0)  # NaN: left as it is
    direction = tilted(laid, row, hole, back * along, back * across)
    off = np.degrees(np.arccos(np.clip(np.einsum("ni,ni->n", direction, inwards), -1.0, 1.0)))
    wanted = np.degrees(np.arccos(np.clip(-np.einsum("ni,ni->n", inwards, out), -1.0, 1.0)))
    return Lag(direction, wanted, np.where(np.isnan(share), np.nan, off))


def fracture_under(laid: Laid, row: int, zones: Sequence[Zone]) -> Floats:
    """Distance along a plate from each of its holes to the fracture, where it runs beneath.

    Parameters
    ----------
    laid : Laid
        Plates.
    row : int
        The plate.
    zones : sequence of Zone
        Zones of the fracture, one or more.

    Returns
    -------
    (h, z) float array, mm
        From the hole's middle to the zone's plane, on along the plate: of one sign for the
        holes on one side of it. Infinite where the plate runs along the plane.
    """
    nodes = laid.strip.hole
    middle = len(laid.strip.across) // 2
    gap = np.nan_to_num(laid.gap[row, nodes, middle], nan=0.0)
    frame = laid.shape.frames[row, nodes]
    points = laid.shape.points[row, nodes] - gap[:, None] * frame[:, 2]
    out = np.empty((len(nodes), len(zones)))
    for number, zone in enumerate(zones):
        normal = np.asarray(zone.plane.normal)
        height = (np.asarray(zone.plane.point) - points) @ normal
        run = frame[:, 0] @ normal
        flat = np.abs(run) < FLAT
        out[:, number] = np.where(flat, np.inf, height / np.where(flat, 1.0, run))
    return out


#: Sine of the angle between plate and fracture plane below which they never meet.
FLAT = 1e-3
