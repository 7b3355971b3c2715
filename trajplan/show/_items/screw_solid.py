"""Closed solids of screws, washers and drill cylinders, for other programs to read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import as_directions, as_vector
from trajplan.show._items.profile import TIP_SHARE, head_profile, tip_depth
from trajplan.show._items.solids import onto_axis, ridge, turned

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Floats, Ints
    from trajplan.files import HoleRecord, ScrewRecord
    from trajplan.implants import Screw, Washer
    from trajplan.show._items.solids import Solid

__all__ = ["drill_solids", "screw_solid", "washer_solid"]

#: The foot of the thread's ridge lies this share of the core's radius inside the core, so that
#: the two solids overlap instead of touching.
FOOT = 0.8
#: Radians that the ridge is turned against the core, tried in turn: corners that nearly lie on
#: each other's edges would leave slivers in their union.
TWISTS = (0.03, 0.05, 0.07, 0.09, 0.11, 0.13, 0.15, 0.17)
#: mm; an edge no longer than this may fold in single precision, whose steps are 6e-5 mm a metre
#: from the origin.
SHORTEST = 1.2e-4
#: mm; what the union moves to lose its slivers: far below any tolerance of a screw, far above
#: the steps of single precision half a metre from the origin.
SLIVER = 1e-3


def screw_solid(record: ScrewRecord, screw: Screw) -> Any:  # noqa: ANN401 - trimesh has no types here
    """One closed solid of a screw with its thread, in the bone's own frame.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    screw : Screw
        Its kind.

    Returns
    -------
    trimesh.Trimesh or None
        Watertight; None where the axis misses the bone or no length was found.
    """
    tip, seat = tip_depth(record, screw), record.seat
    if record.entry is None or tip is None or seat is None:
        return None
    start, end = (record.thread.start, record.thread.end) if record.thread else (tip, tip)
    body = _placed(record, turned(_profile(screw, seat, start, tip)))
    if end <= start:
        return body
    core, crest = screw.core_diameter / 2.0, screw.thread_diameter / 2.0
    thread = _closed_ridge(ridge(start, end, FOOT * core, crest, screw.pitch))
    for twist in TWISTS:
        whole = _united(body, _placed(record, _twisted(thread, twist)))
        if whole.edges_unique_length.min() > SHORTEST:
            break
    return whole


def washer_solid(record: ScrewRecord, washer: Washer) -> Any:  # noqa: ANN401 - trimesh has no types here
    """One closed solid of a washer under its head.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    washer : Washer
        Its washer.

    Returns
    -------
    trimesh.Trimesh or None
        None where the head has no seat.
    """
    if record.entry is None or record.seat is None:
        return None
    low, high = record.seat, record.seat + washer.thickness
    inner, outer = washer.inner_diameter / 2.0, washer.outer_diameter / 2.0
    ring = [[low, inner], [low, outer], [high, outer], [high, inner], [low, inner]]
    return _placed(record, turned(np.array(ring)))


def drill_solids(record: ScrewRecord) -> Mapping[str, Any]:
    """Cylinders that the drills of a screw clear, each just as deep as planned.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.

    Returns
    -------
    mapping of str to trimesh.Trimesh
        Gliding hole, shank hole, thread hole: those that are drilled and whose drill is known.
    """
    named = {
        "gliding hole": record.gliding_hole,
        "shank hole": record.shank_hole,
        "thread hole": record.thread_hole,
    }
    return {
        name: _cylinder(record, hole)
        for name, hole in named.items()
        if hole is not None and record.entry is not None
    }


def _cylinder(record: ScrewRecord, hole: HoleRecord) -> Any:  # noqa: ANN401 - trimesh has no types here
    low, high, radius = hole.start, hole.end, hole.diameter / 2.0
    outline = np.array([[low, 0.0], [low, radius], [high, radius], [high, 0.0]])
    return _placed(record, turned(outline))


def _profile(screw: Screw, seat: float, start: float, tip: float) -> Floats:
    """Half outline of a screw without its thread, from the top of the head to the tip."""
    core = screw.core_diameter / 2.0
    smooth = (screw.shank_diameter or screw.core_diameter) / 2.0
    head = head_profile(screw, seat)
    neck = seat - screw.head_radius + np.sqrt(screw.head_radius**2 - smooth**2)
    taper = tip - core
    step = min(start, taper)
    shaft = [[neck, smooth], [step, smooth], [step, core]] if step > neck else [[neck, core]]
    tail = [[taper, core], [tip, TIP_SHARE * core], [tip, 0.0]]
    above = head[head[:, 0] < neck]
    return np.vstack([above, shaft, tail])


def _closed_ridge(solid: Solid) -> Solid:
    """Close a thread's ridge along its foot and at both ends."""
    vertices, faces = solid
    last = len(vertices) // 4  # four rows: foot, crest, crest, foot
    grid = np.arange(4 * last).reshape(4, last)
    a, b, c, d = grid[3, :-1], grid[3, 1:], grid[0, 1:], grid[0, :-1]
    foot = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    first, end = grid[:, 0], grid[:, -1]
    caps: Ints = np.array([
        [first[0], first[1], first[2]],
        [first[0], first[2], first[3]],
        [end[0], end[2], end[1]],
        [end[0], end[3], end[2]],
    ])  # fmt: skip
    return vertices, np.vstack([faces, foot, caps])


def _united(body: Any, thread: Any) -> Any:  # noqa: ANN401 - trimesh and manifold3d have no types here
    """Union of two closed solids, free of slivers that single precision would fold."""
    import trimesh
    from manifold3d import Manifold, Mesh64

    one, other = (
        Manifold(Mesh64(np.ascontiguousarray(part.vertices), part.faces.astype(np.uint64)))
        for part in (body, thread)
    )
    whole = (one + other).simplify(SLIVER).to_mesh64()
    return trimesh.Trimesh(whole.vert_properties[:, :3], whole.tri_verts, process=False)


def _twisted(solid: Solid, angle: float) -> Solid:
    vertices, faces = solid
    c, s = np.cos(angle), np.sin(angle)
    return vertices @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]), faces


def _placed(record: ScrewRecord, solid: Solid) -> Any:  # noqa: ANN401 - trimesh has no types here
    """Put a part on its axis, equal points made one, normals outwards."""
    import trimesh

    assert record.entry is not None
    entry, direction = as_vector(record.entry), as_directions(record.direction)[0]
    vertices, faces = onto_axis(solid, entry, direction)
    built = _merged(solid[0], vertices, faces)
    mesh = trimesh.Trimesh(*built, process=False)
    if mesh.volume < 0.0:
        mesh.invert()
    return mesh


def _merged(built: Floats, placed: Floats, faces: Ints) -> tuple[Floats, Ints]:
    """Make one of the points that were built on one spot, before rounding moves them apart."""
    _, first, index = np.unique(built.round(9), axis=0, return_index=True, return_inverse=True)
    merged = index.reshape(-1)[faces]
    kept = (merged != np.roll(merged, 1, axis=1)).all(axis=1)
    return placed[first], merged[kept]
