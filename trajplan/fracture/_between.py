"""A fracture from the fragments themselves: the surface midway between them."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import SurfaceDistance, point_distance
from trajplan.errors import CaseError, DegenerateError
from trajplan.fracture._cautions import count_of
from trajplan.fracture._differ import fragments_of, must_differ
from trajplan.fracture._facing import find_facing
from trajplan.fracture._midsurface import mid_surface
from trajplan.fracture._pair_report import pair_cautions, pair_name, pair_report
from trajplan.fracture._stepoff import measure_rim
from trajplan.fracture._types import Fracture
from trajplan.fracture._zones import zones_from_patch

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Ints
    from trajplan.bone import Bone, Surface
    from trajplan.fracture._facing import Facing
    from trajplan.fracture._midsurface import MidSurface
    from trajplan.fracture._types import PairReport, Zone

__all__ = ["fracture_between", "reports_of_fragments"]

#: mm and degrees: how far and how squarely surfaces may face each other (assumption: a gap
#: that a screw could still close, with room to spare; half a right angle).
REACH, FACING = 5.0, 45.0


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
    fragments = fragments_of(bone)
    if len(fragments) == 1:
        raise _case_error(
            "the bone is one piece, so nothing lies between its fragments",
            remedy="give each fragment as a mesh of its own, or name the fracture by a plane, "
            "points, a mesh or a group",
        )
    must_differ(bone, fragments, "fracture.between")
    looks, found = _middles(bone, reach, facing)
    if not found:
        raise _apart(fragments, reach, facing)
    return _fracture(bone, looks, fragments, found, thread)


def reports_of_fragments(bone: Bone, zones: Sequence[Zone]) -> tuple[PairReport, ...]:
    """Tell how the fragments fit where the fracture was given by other means.

    Parameters
    ----------
    bone : Bone
        The bone; in one piece it has nothing to tell.
    zones : sequence of Zone
        The fracture.

    Returns
    -------
    tuple of PairReport
        One for each pair of fragments that face each other.

    Raises
    ------
    CaseError
        If two fragments are the same, or one lies inside another.
    """
    fragments = fragments_of(bone)
    if len(fragments) == 1:
        return ()
    must_differ(bone, fragments, "bone")
    looks, found = _middles(bone, REACH, FACING)
    own = tuple(zones)
    return tuple(pair_report(middle, measure_rim(bone, looks, middle), own) for middle in found)


def _middles(bone: Bone, reach: float, facing: float) -> tuple[Facing, list[MidSurface]]:
    """What looks at what, and the surface midway between each two that face each other."""
    looks = find_facing(bone, reach, facing)
    pairs = combinations(range(int(bone.shells.body.max()) + 1), 2)
    found = [mid_surface(bone, looks, first, second, reach) for first, second in pairs]
    return looks, [middle for middle in found if middle is not None]


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


def _apart(fragments: list[Surface], reach: float, facing: float) -> CaseError:
    away = min(_distance(a, b) for a, b in combinations(fragments, 2))
    if away > reach:
        return _case_error(
            f"the nearest fragments are {away:.1f} mm apart, more than the {reach:.1f} mm "
            "within which surfaces are taken to face each other",
            remedy="put them together with `trajplan reduce CASE --out DIR`, take the right ones "
            "with bone.body where one is another bone, or check that unit and frame of the meshes "
            "are the same",
        )
    return _case_error(
        f"the fragments come within {away:.1f} mm of each other, but no surfaces of theirs face "
        f"each other within {reach:.1f} mm and {facing:.0f} degrees",
        remedy="put them together with `trajplan reduce CASE --out DIR`, or give the fracture as "
        "a mesh, a plane or points",
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
