"""Gaps between bone and bone: marrow canal, or air that lies outside.

A canal is closed marrow: it runs along the shaft of a long bone and is walled in all round.
Any other opening that bone rings, such as the canal of the spine or the great opening of a
hip bone, lies outside, and a screw in it has left the bone.
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.geometry import ring_offsets

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._bone import Bone
    from trajplan.bone._cast import Caster

__all__ = ["Gap", "gaps", "walled_in", "walled_share"]

#: Lines through each place, both ways: 48 directions.
LINES = 24
#: Share of directions that must meet bone for a place to count as walled in. In the middle
#: of a canal cut off at both ends it is above 0.95, one radius from an open end 0.85; beside
#: a bone or in a shallow notch it stays below 0.7.
WALLED_SHARE = 0.75
#: The same for a blind hole in a bone without a shaft: a socket is shallower, the canal of a
#: bone end that was cut off is as deep as it is wide one radius from the cut, and more.
BLIND_SHARE = 0.85
#: Lines through a place in the plane across the shaft: one every 7.5 degrees.
ROUND_LINES = 24
#: Share of directions in that plane that must meet bone. A canal is walled in all round. A
#: notch, a joint space or a hole from side to side opens towards some of them.
ROUND_SHARE = 0.93
#: A canal reaches further along the shaft than across it, by this factor at the least; an old
#: screw hole, a cyst or a fossa does not (assumption).
LONGER = 1.5
#: From this factor on it is a canal: a hole drilled askew reaches 1 / sin(angle to the shaft)
#: times as far along as across: at 15 degrees 3.9, with what the axis of the shaft is off 4.5.
SURE = 5.0
#: A canal is walled in all round at each of these many widths further along, on one side at
#: the least; the canal of a spine opens to both sides between any two vertebrae.
FURTHER = np.array([0.5, 1.0, 1.5, 2.0])
#: Lines across at each of them: one every 22.5 degrees, which is narrower than what opens there.
FURTHER_LINES = 8
#: Cosine of the angle (45 degrees) up to which a way runs along the bone's longest direction.
SAME_WAY = 0.7
#: Cosine of the angle (120 degrees) from which two openings lie on opposite sides: what is
#: open on both is a passage.
OPPOSITE = -0.5


class Gap(IntEnum):
    """What lies between bone and bone."""

    AIR = 0  # outside
    CANAL = 1
    UNSURE = 2  # walled in, but nobody can tell that it is a canal


def walled_share(caster: Caster, points: Vec3s) -> Floats:
    """Share of all directions in which bone lies.

    Parameters
    ----------
    caster : Caster
        Engine over the bone's triangles.
    points : (n, 3) float array, mm
        Places outside bone.

    Returns
    -------
    (n,) float array
        0 far from bone in the open, 1 in a closed hollow; to about 1 / 48.
    """
    rays = np.broadcast_to(_all_round(), (len(points), LINES, 3))
    share: Floats = np.isfinite(_free(caster, points, rays)).mean(axis=(0, 2))
    return share


def walled_in(caster: Caster, points: Vec3s) -> Bools:
    """Whether bone lies in most directions.

    Parameters
    ----------
    caster : Caster
        Engine over the bone's triangles.
    points : (n, 3) float array, mm
        Places outside bone.

    Returns
    -------
    (n,) bool array
        In three quarters of all directions and more.
    """
    walled: Bools = walled_share(caster, points) >= WALLED_SHARE
    return walled


def _all_round() -> Vec3s:
    """Upper half of a spherical spiral with the golden angle; each line looks both ways."""
    step = np.arange(LINES)
    height = (step + 0.5) / LINES
    angle = step * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - height**2)
    return np.stack([flat * np.cos(angle), flat * np.sin(angle), height], axis=1)


def _free(caster: Caster, points: Vec3s, rays: Floats) -> Floats:
    """Free way from each point along each of its lines, forth and back, (2, n, lines) mm."""
    n, lines, _ = rays.shape
    hits = caster.crossings(np.repeat(points, lines, axis=0), rays.reshape(-1, 3))
    free = np.full((2, n * lines), np.inf)
    first, last = hits.offsets[:-1], hits.offsets[1:]  # depths are sorted in each row
    split = first + np.bincount(rows_of(hits.offsets), hits.depth < 0.0, n * lines).astype(np.int64)
    ahead, behind = split < last, split > first
    free[0, ahead] = hits.depth[split[ahead]]
    free[1, behind] = -hits.depth[split[behind] - 1]
    return free.reshape(2, n, lines)


def gaps(bone: Bone, points: Vec3s, *, slit: Bools) -> Ints:
    """Tell canal from air at places outside bone.

    Parameters
    ----------
    bone : Bone
        The bone, with its long axis.
    points : (n, 3) float array, mm
        Places outside bone.
    slit : (n,) bool array
        Where the slit of a fracture is known to open the canal: there the wall need not be
        whole across the shaft.

    Returns
    -------
    (n,) int array, values of `Gap`
        A place is in a canal where bone lies in most directions, and the bone has a shaft,
        along which the place runs on much further than across, walled in all round there and
        further along. Without a shaft what is open on both sides is a passage, and so air.
        The rest is not known, as in a hole drilled askew, or in a piece of bone too short to
        tell its shaft.
    """
    rays = _all_round()
    met = np.isfinite(_free(bone.caster, points, np.broadcast_to(rays, (len(points), LINES, 3))))
    found = np.full(len(points), int(Gap.AIR))
    ask = np.flatnonzero(met.mean(axis=(0, 2)) >= WALLED_SHARE)
    if len(ask) == 0:
        return found
    met, shaft = met[:, ask], bone.shaft
    if shaft is not None and shaft.found:
        way = np.broadcast_to(shaft.direction, (len(ask), 3))
        walled, longer, width = _along(bone.caster, points[ask], way)
        walled |= slit[ask]
        runs = longer >= LONGER
        sure = slit[ask] | (longer >= SURE)
        far = np.flatnonzero(sure & walled & ~slit[ask])
        sure[far] = _goes_on(bone.caster, points[ask][far], way[far], width[far])
        runs |= slit[ask]
    else:
        way = _open_way(met, rays)
        walled, longer, _ = _along(bone.caster, points[ask], way)
        runs = sure = np.zeros(len(ask), dtype=np.bool_)
    shallow = met.mean(axis=(0, 2)) < BLIND_SHARE
    air = shallow & ~runs
    open_ways = np.flatnonzero(~shallow & ~runs)
    air[open_ways] = _passage(~met[:, open_ways], rays)
    if shaft is not None and shaft.stout:  # a short piece of shaft, or a ring
        air &= ~((longer >= LONGER) & (np.abs(way @ shaft.direction) >= SAME_WAY))
    kept = np.where(sure, int(Gap.CANAL), np.where(air, int(Gap.AIR), int(Gap.UNSURE)))
    found[ask] = np.where(walled, kept, int(Gap.AIR))
    return found


def _open_way(met: Bools, rays: Vec3s) -> Vec3s:
    """Direction in which most of the open directions of each place point, (n, 3)."""
    spread = np.einsum("nk,ki,kj->nij", 1.0 - met.mean(axis=0), rays, rays)
    way: Vec3s = np.linalg.eigh(spread)[1][:, :, 2]
    return way


def _passage(is_open: Bools, rays: Vec3s) -> Bools:
    """Whether places, (2, n, lines), are open on opposite sides."""
    ways = np.concatenate([rays, -rays])
    seen = np.concatenate([is_open[0], is_open[1]], axis=1)
    across = (ways @ ways.T <= OPPOSITE).astype(np.float64)
    passage: Bools = ((seen @ across > 0.0) & seen).any(axis=1)
    return passage


def _along(caster: Caster, points: Vec3s, way: Vec3s) -> tuple[Bools, Floats, Floats]:
    """How places lie in their surroundings along a way through them.

    Whether they are walled in all round it, how many times further they reach along it than
    across, and how far across (mm).
    """
    across = ring_offsets(way, np.ones(len(points)), 2 * ROUND_LINES)[:, :ROUND_LINES]
    free = _free(caster, points, np.concatenate([across, way[:, None]], axis=1))
    walled = np.isfinite(free[:, :, :ROUND_LINES]).mean(axis=(0, 2)) >= ROUND_SHARE
    reach = free.sum(axis=0)
    width = np.median(reach[:, :ROUND_LINES], axis=1)
    with np.errstate(invalid="ignore"):  # open along and across: no canal
        longer = np.nan_to_num(reach[:, -1] / width, posinf=np.inf)
    return walled, longer, width


def _goes_on(caster: Caster, points: Vec3s, way: Vec3s, width: Floats) -> Bools:
    """Whether places are walled in all round further along a way too, on one side or both."""
    found = np.zeros(len(points), dtype=np.bool_)
    for side in (FURTHER, -FURTHER):
        ask = np.flatnonzero(~found)
        steps = side[:, None] * width[ask, None, None] * way[ask, None]
        ways = np.repeat(way[ask], len(side), axis=0)
        across = ring_offsets(ways, np.ones(len(ways)), 2 * FURTHER_LINES)[:, :FURTHER_LINES]
        free = _free(caster, (points[ask, None] + steps).reshape(-1, 3), across)
        walled = np.isfinite(free).mean(axis=(0, 2)) >= ROUND_SHARE
        found[ask] = walled.reshape(len(ask), len(side)).all(axis=1)
    return found
