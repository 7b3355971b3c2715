"""A fracture from the fragments themselves: the surface midway between them."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone import Surface, SurfaceDistance, point_distance
from trajplan.errors import CaseError, DegenerateError
from trajplan.fracture._cautions import count_of
from trajplan.fracture._facing import find_facing
from trajplan.fracture._midsurface import mid_surface
from trajplan.fracture._pair_report import pair_cautions, pair_name, pair_report
from trajplan.fracture._stepoff import measure_rim
from trajplan.fracture._types import Fracture
from trajplan.fracture._zones import zones_from_patch

if TYPE_CHECKING:
    from trajplan.arrays import Ints
    from trajplan.bone import Bone
    from trajplan.fracture._facing import Facing
    from trajplan.fracture._midsurface import MidSurface
    from trajplan.fracture._types import PairReport, Zone

__all__ = ["fracture_between"]

#: mm and degrees: how far and how squarely surfaces may face each other (assumption: a gap
#: that a screw could still close, with room to spare; half a right angle).
REACH, FACING = 5.0, 45.0
#: mm; fragments that differ by less everywhere are one and the same.
SAME = 1e-3
#: Points of a fragment that are tried to tell whether it lies inside another.
SAMPLES = 256


def fracture_between(
    bone: Bone, *, reach: float = REACH, facing: float = FACING, thread: float | None = None
) -> Fracture:
    """Find the fracture between fragments from the fragments themselves.

    Parameters
    ----------
    bone : Bone
        Two bodies or more, reduced or with a small gap.
    reach : float, mm
        Greatest gap or overlap, above zero.
    facing : float, degrees
        Greatest angle between a normal and the reverse of the one that it faces, between
        0 and 90.
    thread : float, mm, optional
        Thread diameter of the smallest screw, against which zones are held.

    Returns
    -------
    Fracture
        Each pair of fragments that face each other is a fracture of its own: zones "Z1",
        "Z2" and so on, in the order of the pairs, each with its `fragments`; one report a
        pair, see Notes.

    Raises
    ------
    CaseError
        If there is one fragment only, two are the same or one lies inside another, or
        none face each other (with the distance between the nearest).
    ValueError
        If `reach` or `facing` is out of its range.

    Notes
    -----
    *Gap*: from every vertex of the fragment with the finer facing surface, along the mean
    of the two facing normals, to the facing surface of the other; negative where they
    overlap. The mean counts each vertex by a third of the area of its faces. The mid-surface
    lies half-way. *Overlap*: depth is the greatest negative gap, volume the negative gaps
    times the area round each vertex. *Step*: at the rim, the height of one fragment's outer
    surface over the other's, across the surface, each drawn on to the rim as a line
    (`measure_rim`); the mean is that of the absolute steps, by length of rim. A gap across
    a fracture that meets the outer surface obliquely is a step too. *Rim found*: share, by
    length, of the outer border of the mid-surface within 2 mm, half the gap added, of the
    outer surface of both.
    """
    if not (reach > 0.0 and 0.0 < facing < 90.0):
        raise ValueError(f"reach must be above 0 and facing in 0..90, got {reach} and {facing}")
    fragments = [_part(bone, number) for number in range(int(bone.shells.body.max()) + 1)]
    if len(fragments) == 1:
        raise _case_error(
            "the bone is one piece, so nothing lies between its fragments",
            remedy="give each fragment as a mesh of its own, or name the fracture by a plane, "
            "points, a mesh or a group",
        )
    _must_differ(bone, fragments)
    looks = find_facing(bone, reach, facing)
    found = []
    for first, second in combinations(range(len(fragments)), 2):
        middle = mid_surface(bone, looks, first, second, reach)
        if middle is not None:
            found.append(middle)
    if not found:
        raise _apart(fragments, reach, facing)
    return _fracture(bone, looks, fragments, found, thread)


def _fracture(
    bone: Bone,
    looks: Facing,
    fragments: list[Surface],
    found: list[MidSurface],
    thread: float | None,
) -> Fracture:
    zones: list[Zone] = []
    reports: list[PairReport] = []
    cautions: list[str] = []
    for middle in found:
        own, said = _zones(bone, middle, len(zones) + 1, thread)
        report = pair_report(middle, measure_rim(bone, looks, middle), own)
        zones += own
        reports.append(report)
        who = pair_name(report.fragments)
        cautions += [line if len(found) == 1 else f"{who}: {line}" for line in said]
        cautions += pair_cautions(report)
    cautions += _lonely(fragments, reports)
    return Fracture("between", tuple(zones), tuple(cautions), tuple(reports))


def _case_error(found: str, remedy: str) -> CaseError:
    return CaseError(found, remedy=remedy, where="fracture.between")


def _part(bone: Bone, number: int) -> Surface:
    """Surface of one fragment, unused vertices dropped."""
    own = bone.shells.body[bone.shells.of_face] == number
    used, faces = np.unique(bone.surface.faces[own], return_inverse=True)
    vertices, faces = bone.surface.vertices[used], faces.reshape(-1, 3)
    freeze(vertices, faces)
    return Surface(vertices, faces, {}, f"fragment {number + 1}", bone.surface.sha256, 0)


def _must_differ(bone: Bone, fragments: list[Surface]) -> None:
    """Refuse a fragment that is another one, or lies within another one."""
    low = np.array([part.vertices.min(axis=0) for part in fragments])
    high = np.array([part.vertices.max(axis=0) for part in fragments])
    for a, b in combinations(range(len(fragments)), 2):
        if np.abs(np.concatenate([low[a] - low[b], high[a] - high[b]])).max() < SAME and _same(
            fragments[a], fragments[b]
        ):
            raise _case_error(
                f"fragments {a + 1} and {b + 1} are the same surface",
                remedy="name each fragment's mesh once",
            )
        for inner, outer in ((a, b), (b, a)):
            held = (low[inner] >= low[outer]).all() and (high[inner] <= high[outer]).all()
            if held and _inside(bone, fragments[inner], outer):
                raise _case_error(
                    f"fragment {inner + 1} lies inside fragment {outer + 1}",
                    remedy="check that unit and frame of the meshes are the same",
                )


def _same(a: Surface, b: Surface) -> bool:
    one = point_distance(SurfaceDistance.of(a), b.vertices).max()
    other = point_distance(SurfaceDistance.of(b), a.vertices).max()
    return bool(max(one, other) < SAME)


def _inside(bone: Bone, part: Surface, outer: int) -> bool:
    """Whether all of a fragment lies within the outermost shell of another."""
    points = part.vertices[:: max(1, len(part.vertices) // SAMPLES)]
    shells = np.flatnonzero((bone.shells.body == outer) & (bone.shells.nesting == 0))
    return any((bone.winding.number(int(shell), points) > 0.5).all() for shell in shells)


def _apart(fragments: list[Surface], reach: float, facing: float) -> CaseError:
    away = min(_distance(a, b) for a, b in combinations(fragments, 2))
    if away > reach:
        return _case_error(
            f"the nearest fragments are {away:.1f} mm apart, more than the {reach:.1f} mm "
            "within which surfaces are taken to face each other",
            remedy="reduce them, or check that unit and frame of the meshes are the same",
        )
    return _case_error(
        f"the fragments come within {away:.1f} mm of each other, but no surfaces of theirs face "
        f"each other within {reach:.1f} mm and {facing:.0f} degrees",
        remedy="reduce them, or give the fracture as a mesh, a plane or points",
    )


def _distance(a: Surface, b: Surface) -> float:
    """Least distance from the vertices of either to the other surface."""
    one = point_distance(SurfaceDistance.of(a), b.vertices).min()
    return float(min(one, point_distance(SurfaceDistance.of(b), a.vertices).min()))


def _zones(
    bone: Bone, middle: MidSurface, first: int, thread: float | None
) -> tuple[tuple[Zone, ...], tuple[str, ...]]:
    try:
        zones, cautions = zones_from_patch(bone, middle.surface, first, thread=thread)
    except DegenerateError as error:
        raise _case_error(
            f"the {middle.surface.name} defines no plane: {error}",
            remedy="give the fracture as a mesh, a plane or points",
        ) from error
    return tuple(replace(zone, fragments=middle.fragments) for zone in zones), cautions


def _lonely(fragments: list[Surface], reports: list[PairReport]) -> list[str]:
    """Say which fragments face no other, and how far off the nearest is."""
    touching = {number for report in reports for number in report.fragments}
    alone: Ints = np.setdiff1d(np.arange(len(fragments)), list(touching))
    if len(alone) == 0:
        return []
    away = min(
        _distance(fragments[number], fragments[other]) for number in alone for other in touching
    )
    first = f"Fragment {alone[0] + 1}"
    who = first if len(alone) == 1 else f"{first} and {count_of(len(alone) - 1, 'other')}"
    return [
        f"{who}: no surface faces another fragment, the nearest of which is {away:.1f} mm away."
    ]
