"""Which zones of a fracture lie between the same two fragments, and which way they face."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.fracture import Zone

__all__ = ["zone_sides"]


def zone_sides(zones: Sequence[Zone]) -> tuple[Ints, Floats]:
    """Put the zones of a fracture together to surfaces that one fragment is pressed on.

    Parameters
    ----------
    zones : sequence of Zone
        ``z`` zones of a fracture.

    Returns
    -------
    surface : (z,) int array
        Number of the surface that each zone is part of: all zones between the same two
        fragments are one, and where the fragments are not known, all that share an edge.
    side : (z,) float array
        1 or -1; the normals of the zones' planes times it point to one side of their surface.

    Notes
    -----
    Two triangles at an edge face the same side if they run through it in opposite directions.
    So the side is carried from zone to zone across seams, however far the surface turns.
    Pieces of a surface that share no edge take the side that their triangles are wound to.
    """
    count = len(zones)
    agree, wound = _agreement(zones)
    first, second = np.nonzero(agree)
    same = agree[first, second] > 0.0
    # every zone twice, once for each side: zones that agree are tied on equal sides
    rows = np.concatenate([first, first + count])
    columns = np.concatenate(
        [np.where(same, second, second + count), np.where(same, second + count, second)]
    )
    cover = _pieces(rows, columns, 2 * count)
    side = np.where(cover[:count] <= cover[count:], 1.0, -1.0)
    piece = _pieces(first, second, count)
    turned = np.bincount(piece, wound * side, count) < 0.0
    pair = np.array([(-1, -1) if z.fragments is None else sorted(z.fragments) for z in zones])
    key = np.column_stack([pair, np.where(pair[:, 0] < 0, piece, -1)])
    surface = np.unique(key, axis=0, return_inverse=True)[1].reshape(-1)
    return _in_order(surface), np.where(turned[piece], -side, side)


def _agreement(zones: Sequence[Zone]) -> tuple[Floats, Floats]:
    """How far zones face alike across their seams, (z, z), and with their winding, (z,)."""
    count = len(zones)
    agree, wound = np.zeros((count, count)), np.zeros(count)
    rows = [i for i, zone in enumerate(zones) if zone.patch is not None]
    if len(rows) == 0 or count == 1:
        return agree, wound
    parts = [zone.patch.triangles() for zone in zones if zone.patch is not None]
    zone = np.repeat(rows, [len(part) for part in parts])
    triangles = np.concatenate(parts)
    planes = np.array([z.plane.normal for z in zones])[zone]
    a, b, c = triangles.transpose(1, 0, 2)
    area = 0.5 * np.einsum("ij,ij->i", np.cross(b - a, c - a), planes)
    np.add.at(wound, zone, area)
    one, other, opposite = _shared_edges(triangles)
    seam = zone[one] != zone[other]
    one, other, opposite = one[seam], other[seam], opposite[seam]
    alike = np.sign(area[one] * area[other]) * np.where(opposite, 1.0, -1.0)
    np.add.at(agree, (zone[one], zone[other]), alike)
    return agree + agree.T, wound


def _shared_edges(triangles: Floats) -> tuple[Ints, Ints, Ints]:
    """Pairs of triangles at an edge, and whether they run through it in opposite directions."""
    corner = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)[1].reshape(-1, 3)
    tail, head = corner.ravel(), np.roll(corner, -1, axis=1).ravel()
    key = np.minimum(tail, head) * (int(corner.max()) + 1) + np.maximum(tail, head)
    order = np.argsort(key, kind="stable")
    next_to = key[order][1:] == key[order][:-1]
    one, other = order[:-1][next_to], order[1:][next_to]
    return one // 3, other // 3, (tail < head)[one] != (tail < head)[other]


def _pieces(rows: Ints, columns: Ints, count: int) -> Ints:
    links = coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    label: Ints = connected_components(links, directed=False)[1].astype(np.int64)
    return label


def _in_order(surface: Ints) -> Ints:
    """Number surfaces in the order of their first zones."""
    _, first, label = np.unique(surface, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    numbered: Ints = rank[label.reshape(-1)]
    return numbered
