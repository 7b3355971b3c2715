"""What a case may not ask for, each refusal with its key and a remedy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import SurfaceDistance, point_distance
from trajplan.checks import LIMIT_NOTES, Aim, Limits
from trajplan.errors import CaseError
from trajplan.outside import real_path
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from trajplan.bone import Bone, ShaftAxis, Surface
    from trajplan.checks import Obstacle
    from trajplan.files import Case
    from trajplan.fracture import Fracture

__all__ = [
    "aim_of",
    "check_cortex",
    "check_groups",
    "limits_of",
    "refuse_far",
    "refuse_sizes",
    "refuse_specks",
    "refuse_twice",
]

#: Thread diameters across a disc that some zone of a fracture must fill at the least
#: (assumption: a hole, and half a diameter of bone all round).
SPECK = 2.0
#: mm from the bone past which a joint surface, a structure or the point of a plane cannot be
#: meant (assumption: a joint lies on its bone; beyond 100 mm no guide or drill comes near).
FARTHEST = {"joint": 20.0, "avoid": 100.0, "plane": 20.0}
#: Share of the bone's least width that a joint surface measures across at the least, and of the
#: bone's length at the most (assumption: smaller or larger ones are in another unit, or are not
#: the joint; the bone may be no more than the end of one).
JOINT_SIZE = (0.1, 2.0)
#: mm that a structure measures at the least: the thinnest nerve that is looked for has as much
#: (assumption).
LEAST_SIZE = 1.0
#: Vertices of the bone that are tried first.
SOME = 2_000
#: Limits of which the first must not lie above the second, or their rule judges nonsense.
ORDERED = (
    ("turns_least", "turns_wanted"),
    ("thread_margin", "thread_clear"),
    ("tip_least", "tip_past"),
    ("tip_past", "tip_most"),
    ("tip_most", "tip_worst"),
    ("edge_least", "edge_wanted"),
    ("rim_least", "rim_contact"),
    ("entry_angle", "entry_angle_most"),
    ("exit_angle", "exit_angle_most"),
    ("plunge_least", "plunge"),
    ("placement_harm", "placement_harm_most"),
    ("along_length", "along_most"),
    ("bone_share", "bone_share_most"),
    ("overlap", "overlap_most"),
    ("fragment_gap", "fragment_gap_most"),
    ("fragment_step", "fragment_step_most"),
    ("fragment_turn", "fragment_turn_most"),
    ("plate_hole_least", "plate_hole_most"),
)
#: Limits whose rule means nothing at 0.
ABOVE_ZERO = ("friction", "guide_diameter", "guide_length")
#: Greatest limit of each unit that can be meant: past it the unit, or a digit, is wrong.
MOST_OF_UNIT = {
    "": 2.0,  # friction
    "degrees": 90.0,
    "share": 1.0,
    "mm": 50.0,
    "turns": 100.0,
    "thread diameters": 50.0,
    "shaft diameters": 50.0,
    "bone diameters": 50.0,
    "screws": 20.0,
    "N": 20_000.0,
}
#: The same of single limits.
MOST = {"one_approach": 180.0, "guide_length": 300.0}


def refuse_twice(case: Case, files: list[Path]) -> None:
    same = [real_path(file) for file in files]
    twice = next((file for i, file in enumerate(same) if file in same[:i]), None)
    if twice is not None:
        raise CaseError(
            f"the file {twice.name} is named twice",
            remedy="name each fragment once",
            file=case.file,
            where="bone.fragments",
        )


def limits_of(case: Case) -> Limits:
    limits = Limits(**case.limits)
    for name in case.limits:
        value, unit = getattr(limits, name), LIMIT_NOTES[name].unit
        bound = MOST.get(name, MOST_OF_UNIT[unit])
        positive = name in ABOVE_ZERO
        if value > bound or (positive and value == 0.0):
            raise CaseError(
                f"this limit is {value:g} {unit}".rstrip(),
                remedy=f"give a number {'above 0 and' if positive else 'from 0'} up to {bound:g}",
                file=case.file,
                where=f"limits.{name}",
            )
    for least, most in ORDERED:
        low, high = getattr(limits, least), getattr(limits, most)
        if low > high:
            raise CaseError(
                f"{least} is {low:g} and {most} is {high:g}",
                remedy=f"keep {least} at or below {most}",
                file=case.file,
                where=f"limits.{least}",
            )
    return limits


def check_cortex(case: Case, bone: Bone, shaft: ShaftAxis) -> None:
    """Refuse a wall so thick that no room is left between the two."""
    cortex = case.bone.cortex
    width = shaft.diameter if shaft.found else float((bone.audit.high - bone.audit.low).min())
    if cortex is not None and 2.0 * cortex >= width:
        raise CaseError(
            f"a cortex of {cortex:g} mm leaves nothing of a bone that is {width:.0f} mm wide",
            remedy="give the wall's thickness in mm",
            file=case.file,
            where="bone.cortex",
        )


def aim_of(case: Case, shaft: ShaftAxis) -> Aim:
    """What screws stand square to; off the fracture normal only where a shaft is known."""
    word = case.screws.aim
    if word != "to the fracture" and not shaft.found:
        raise CaseError(
            f'the bone has no shaft that a screw could be aimed "{word}" to',
            remedy='leave screws.aim at "to the fracture"',
            file=case.file,
            where="screws.aim",
        )
    held = case.screws.protection in ("plate", "buttress") or bool(case.plates)
    return Aim(word, shaft.direction if shaft.found else None, held)


def check_groups(case: Case, surface: Surface) -> None:
    """Refuse a group that the bone's file does not have, and list those that it has."""
    wanted = [("fracture.group", case.fracture.group)]
    wanted += [(f"joint {i}.group", joint.group) for i, joint in enumerate(case.joints, start=1)]
    for where, group in wanted:
        if group is not None and group not in surface.groups:
            there = ", ".join(surface.groups) or "none"
            raise CaseError(
                f'the bone mesh {surface.name} has no group "{group}"',
                remedy=f"name one of its groups ({there})",
                file=case.file,
                where=where,
            )


def refuse_specks(case: Case, fracture: Fracture, thread: float) -> None:
    """Refuse a fracture none of whose zones has room for a single screw."""
    zones = fracture.zones
    least = np.pi / 4.0 * (SPECK * thread) ** 2
    if max(zone.area for zone in zones) >= least:
        return
    if len(zones) == 1:
        found = f"the fracture has only {zones[0].area:.0f} mm²"
    else:
        sizes = ", ".join(f"{zone.id} {zone.area:.0f} mm²" for zone in zones)
        found = f"each of the {len(zones)} zones of the fracture is too small ({sizes})"
    raise CaseError(
        f"{found}: a screw of {thread:g} mm thread needs {least:.0f} mm²",
        remedy="check the fracture's unit and place, or choose a thinner screw",
        file=case.file,
        where="fracture",
    )


def refuse_far(case: Case, bone: Bone, obstacles: Sequence[Obstacle]) -> None:
    """Refuse what the case names and does not lie near the bone: its frame or unit is another.

    Parameters
    ----------
    case : Case
        The case.
    bone : Bone
        The bone.
    obstacles : sequence of Obstacle
        Joints and structures that the case names.

    Raises
    ------
    CaseError
        With the name and the distance.
    """
    for it in obstacles:
        most = FARTHEST[it.role]
        away = _away(bone, it)
        if away > most:
            what = "joint" if it.role == "joint" else "structure"
            raise CaseError(
                f'the {what} "{it.name}" lies {away:.0f} mm away from the bone, and more than '
                f"{most:.0f} mm is too far for it to be meant",
                remedy="check that its frame and unit are those of the bone, or leave it out",
                file=case.file,
                where=it.role,
            )
    if case.fracture.plane is not None:
        at = MM_PER_UNIT[case.unit] * np.array(case.fracture.plane.point)
        box = np.maximum(np.maximum(bone.audit.low - at, at - bone.audit.high), 0.0)
        away = float(np.linalg.norm(box))
        if away > FARTHEST["plane"]:
            raise CaseError(
                f"this point lies {away:.0f} mm away from the bone",
                remedy="give a point of the fracture itself, in the frame and unit of the bone",
                file=case.file,
                where="fracture.plane.point",
            )


def refuse_sizes(case: Case, bone: Bone, obstacles: Sequence[Obstacle]) -> None:
    """Refuse a joint or structure of a size that does not go with the bone: its unit is another.

    Parameters
    ----------
    case : Case
        The case.
    bone : Bone
        The bone.
    obstacles : sequence of Obstacle
        Joints and structures that the case names.

    Raises
    ------
    CaseError
        With the name and the size.
    """
    sides = bone.audit.high - bone.audit.low
    for it in obstacles:
        size = float(np.ptp(it.surface.vertices[it.surface.used()], axis=0).max())
        joint = it.role == "joint"
        least = JOINT_SIZE[0] * float(sides.min()) if joint else LEAST_SIZE
        most = JOINT_SIZE[1] * float(sides.max()) if joint else np.inf
        if not least <= size <= most:
            what = "joint" if joint else "structure"
            raise CaseError(
                f'the {what} "{it.name}" is {_size(size)} mm large, and the bone '
                f"{sides.min():.0f} to {sides.max():.0f} mm",
                remedy="check its unit, and that it is all of the surface",
                file=case.file,
                where=it.role,
            )


def _size(size: float) -> str:
    return f"{size:.0f}" if size >= 10.0 else f"{size:.2g}"


def _away(bone: Bone, it: Obstacle) -> float:
    """Distance of a structure from the bone, by their vertices: some, all, then the other way."""
    points = bone.surface.vertices[bone.surface.used()]
    away = np.inf
    for some in (points[:: max(1, len(points) // SOME)], points):
        away = float(point_distance(it.distance, some).min())
        if away <= FARTHEST[it.role]:
            return away
    # a small surface on a large face of the bone lies far from all of its vertices
    own = it.surface.vertices[it.surface.used()]
    return min(away, float(point_distance(SurfaceDistance.of(bone.surface), own).min()))
