"""Displaced fragments of a case, put together and judged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations, permutations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_points
from trajplan.bone import (
    SurfaceDistance,
    WindingTree,
    find_shells,
    group_surface,
    join_surfaces,
    keep_faces,
    point_distance,
    read_surface,
    surface_around,
)
from trajplan.checks import Verdict, reduction_findings, worst
from trajplan.errors import CaseError
from trajplan.planner._joints import fragment_surface, joint_faces
from trajplan.planner._refusals import limits_of
from trajplan.planner._setup import parts_of
from trajplan.reduction import (
    Fragment,
    Hint,
    Pose,
    Settings,
    Template,
    displacements,
    joint_fits,
    reduce_fragments,
)
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Ints, Vec3s
    from trajplan.bone import Surface
    from trajplan.checks import Finding
    from trajplan.files import Case
    from trajplan.reduction import Displacement, JointFit, Progress, Reduction

__all__ = ["Reduced", "displaced_fragments", "judged", "reduce_case", "template_of"]

#: Most fragments that are put together: more were never tried.
MOST_FRAGMENTS = 6
#: mm from its fragment past which the point of a hint, which may be rough, means no place on it.
HINT_OFF = 10.0
#: mm by which the ways between the points of two hints may differ on the two fragments.
HINTS_APART = 15.0
#: Longest extent of a fragment over that of another, past which their units must differ: a chip
#: of 2 mm beside a femur of 500 (assumption).
SAME_UNIT = 250.0
#: Winding number from which a point is inside, and share of a fragment's corners inside another
#: from which it lies there wholly: the rest is noise.
INSIDE, WHOLLY = 0.5, 0.95
#: Longest extent of a template over that of the longest fragment, at the least (assumption: left
#: and right differ by a few mm).
TEMPLATE_LEAST = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """Fragments of a case, put together."""

    case: Case
    surfaces: tuple[Surface, ...]  # as they lie
    fragments: tuple[Fragment, ...]
    reduction: Reduction
    lying: tuple[Displacement, ...]
    joints: tuple[Surface, ...]  # as they lie, one for each joint of the case
    joints_lying: tuple[JointFit, ...]
    joints_reduced: tuple[JointFit, ...]
    template: Surface | None
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """The verdict that weighs most."""
        return worst([finding.verdict for finding in self.findings])

    @property
    def poses(self) -> tuple[Pose, ...]:
        """The movement of each fragment."""
        return self.reduction.poses


def reduce_case(
    case: Case,
    *,
    progress: Progress | None = None,
    solve: Callable[..., Reduction] = reduce_fragments,
) -> Reduced:
    """Put the fragments of a case together.

    Parameters
    ----------
    case : Case
        With fragments in files of their own, or as bodies of one mesh, and
        ``fracture.between``.
    progress : callable, optional
        Called with what is being done and the share done, 0..1.
    solve : callable
        Puts fragments together, as `reduce_fragments` does.

    Returns
    -------
    Reduced

    Raises
    ------
    InputError
        If there are not two to six fragments, or a hint, the template or the order is wrong.
    """
    surfaces, fragments = displaced_fragments(case)
    template = template_of(case, surfaces)
    settings = _settings(case, fragments, template)
    return judged(case, surfaces, fragments, solve(fragments, settings, progress), template)


def judged(
    case: Case,
    surfaces: Sequence[Surface],
    fragments: Sequence[Fragment],
    reduction: Reduction,
    template: Surface | None,
) -> Reduced:
    """Measure and judge fragments that were put together, by the program or by hand.

    Parameters
    ----------
    case : Case
        The case.
    surfaces : sequence of Surface
        Fragments as they lie.
    fragments : sequence of Fragment
        The same.
    reduction : Reduction
        Their movements.
    template : Surface or None
        The template of the case.

    Returns
    -------
    Reduced
    """
    lying = displacements(fragments, reduction.poses, reduction.fixed, case.frame)
    still = [Pose.still()] * len(fragments)
    joints = tuple(_joint_surface(case, number, surfaces) for number in range(len(case.joints)))
    before: list[JointFit] = []
    after: list[JointFit] = []
    for joint, patch in zip(case.joints, joints, strict=True):
        masks = joint_faces(patch, fragments)
        before += joint_fits(joint.name, fragments, reduction.poses, masks, still)
        after += joint_fits(joint.name, fragments, reduction.poses, masks)
    return Reduced(
        case=case,
        surfaces=tuple(surfaces),
        fragments=tuple(fragments),
        reduction=reduction,
        lying=lying,
        joints=joints,
        joints_lying=tuple(before),
        joints_reduced=tuple(after),
        template=template,
        findings=reduction_findings(
            reduction,
            lying,
            limits_of(case),
            around=[avoid.name for avoid in case.avoids],
        ),
    )


def displaced_fragments(case: Case) -> tuple[tuple[Surface, ...], tuple[Fragment, ...]]:
    """Read the fragments of a case as they lie.

    Parameters
    ----------
    case : Case
        The case.

    Returns
    -------
    surfaces : tuple of Surface
        Files of their own, or the bodies of one mesh.
    fragments : tuple of Fragment
        The same, without vertices that no face uses.

    Raises
    ------
    CaseError
        If there are not two to six, or they cannot be pieces of one bone.
    """
    if case.bone.reduction is not None:
        raise _wrong(
            case, "bone.reduction", "these fragments were reduced already",
            "reduce the case that they were written from, or move them by hand in the window",
        )  # fmt: skip
    if case.fracture.between is None:
        raise _wrong(
            case, "fracture", "a fracture that is given in space stays where it is as fragments "
            "move", "let it be found between the fragments: fracture.between = true",
        )  # fmt: skip
    for key, given in (("bone.inside", case.bone.inside), ("bone.body", case.bone.body)):
        if given:
            raise _wrong(
                case, key, "what is no bone cannot be moved along with a fragment",
                "give each fragment as a file of its own, without metal, cement and other bones",
            )  # fmt: skip
    parts = parts_of(case)
    surfaces = tuple(parts if case.bone.mesh is None else _bodies(parts[0]))
    if not 2 <= len(surfaces) <= MOST_FRAGMENTS:
        count = "one fragment" if len(surfaces) == 1 else f"{len(surfaces)} fragments"
        raise _wrong(
            case, "bone", f"there is {count}" if len(surfaces) == 1 else f"there are {count}",
            f"give two to {MOST_FRAGMENTS}, each as a file of bone.fragments",
        )  # fmt: skip
    _refuse_strangers(case, surfaces)
    return surfaces, tuple(Fragment(s.name, *_compact(s)) for s in surfaces)


def _bodies(surface: Surface) -> list[Surface]:
    """Bodies of one mesh that are large enough for a fragment, named by their numbers."""
    shells = find_shells(surface)
    of_face = shells.body[shells.of_face]
    kept = [keep_faces(surface, of_face == body) for body in np.unique(of_face)]
    return [_named(part, f"body {number}") for number, part in enumerate(kept, start=1)]


def _named(surface: Surface, name: str) -> Surface:
    return replace(surface, name=name)


def _refuse_strangers(case: Case, surfaces: Sequence[Surface]) -> None:
    """Refuse fragments that cannot be pieces of one bone."""
    for a, b in combinations(surfaces, 2):
        same = len(a.faces) == len(b.faces) and np.array_equal(a.triangles(), b.triangles())
        if same:
            raise _wrong(
                case, "bone.fragments", f"{a.name} and {b.name} are the same mesh",
                "name each fragment once",
            )  # fmt: skip
    _refuse_one_in_another(case, surfaces)
    lengths = [_extent(surface) for surface in surfaces]
    short, long = int(np.argmin(lengths)), int(np.argmax(lengths))
    if lengths[long] > SAME_UNIT * lengths[short]:
        raise _wrong(
            case, "bone.fragments",
            f"{surfaces[short].name} is {lengths[short]:.3g} mm long and {surfaces[long].name} "
            f"{lengths[long]:.3g} mm: they must be in different units",
            f"export all fragments in {case.unit}",
        )  # fmt: skip


def _refuse_one_in_another(case: Case, surfaces: Sequence[Surface]) -> None:
    """Refuse a fragment that lies in the bone of another: one place holds one bone."""
    points = [surface.vertices[surface.used()] for surface in surfaces]
    boxes = [(own.min(axis=0), own.max(axis=0)) for own in points]
    for inner, outer in permutations(range(len(surfaces)), 2):
        (low, high), (least, most) = boxes[inner], boxes[outer]
        if (low < least).any() or (high > most).any():
            continue
        around = WindingTree(surfaces[outer].vertices, surfaces[outer].faces)
        if (around.number(points[inner]) > INSIDE).mean() > WHOLLY:
            raise _wrong(
                case, "bone.fragments",
                f"{surfaces[inner].name} lies wholly inside the bone of {surfaces[outer].name}",
                f"leave it out if it is a canal or a copy; if it lies in the canal of "
                f"{surfaces[outer].name}, give that one with its canal",
            )  # fmt: skip


def template_of(case: Case, surfaces: Sequence[Surface]) -> Surface | None:
    """Read the template of a case; None where it names none, refused where it is too short."""
    said = case.reduction
    if said.template is None:
        return None
    template = read_surface(case.resolve(said.template), case.unit)
    longest = max(map(_extent, surfaces))
    if _extent(template) < TEMPLATE_LEAST * longest:
        raise _wrong(
            case, "reduction.template",
            f"{template.name} is {_extent(template):.0f} mm long, less than a fragment of "
            f"{longest:.0f} mm",
            "name the whole bone of the other side, or of the same side before it broke, in the "
            "unit of the case",
        )  # fmt: skip
    return template


def _settings(case: Case, fragments: Sequence[Fragment], template: Surface | None) -> Settings:
    said, count = case.reduction, len(fragments)
    for key, numbers in (
        ("fixed", () if said.fixed is None else (said.fixed,)),
        ("order", said.order),
        ("hints", tuple(n for hint in said.hints for n in hint.fragments)),
    ):
        wrong = next((number for number in numbers if number > count), None)
        if wrong is not None:
            raise _wrong(
                case, f"reduction.{key}", f"there is no fragment {wrong}",
                f"give numbers from 1 to {count}, in the order of bone.fragments",
            )  # fmt: skip
    if said.order and len(said.order) != count:
        raise _wrong(
            case, "reduction.order", f"{len(said.order)} of {count} fragments are named",
            "name all of them, or none",
        )  # fmt: skip
    return Settings(
        fixed=None if said.fixed is None else said.fixed - 1,
        template=None
        if template is None
        else Template(template.vertices, template.faces, mirror=said.mirror),
        hints=_hints(case, fragments),
        order=tuple(number - 1 for number in said.order),
    )


def _hints(case: Case, fragments: Sequence[Fragment]) -> tuple[Hint, ...]:
    """Hints in mm; refused where a point lies on no fragment, or two say different things."""
    scale, hints = MM_PER_UNIT[case.unit], []
    surfaces = [SurfaceDistance.of(fragment_surface(part)) for part in fragments]
    for number, said in enumerate(case.reduction.hints, start=1):
        pair = (said.fragments[0] - 1, said.fragments[1] - 1)
        points = as_points(scale * np.array(said.points))
        for row, point in zip(pair, points, strict=True):
            off = float(point_distance(surfaces[row], point[None])[0])
            if off > HINT_OFF:
                raise _wrong(
                    case, f"reduction.hints {number}",
                    f"a point lies {off:.0f} mm off {fragments[row].name}",
                    "pick it on that fragment as it lies, and keep the order of fragments",
                )  # fmt: skip
        hints.append(Hint(pair, (points[0], points[1])))
    for (i, one), (j, other) in combinations(enumerate(hints, start=1), 2):
        if one.fragments == other.fragments:
            ways = [np.linalg.norm(other.points[k] - one.points[k]) for k in (0, 1)]
            if abs(ways[0] - ways[1]) > HINTS_APART:
                raise _wrong(
                    case, "reduction.hints",
                    f"hints {i} and {j} contradict each other: their points are {ways[0]:.0f} mm "
                    f"apart on one fragment and {ways[1]:.0f} mm on the other",
                    "take one out",
                )  # fmt: skip
    return tuple(hints)


def _joint_surface(case: Case, number: int, surfaces: Sequence[Surface]) -> Surface:
    """A joint surface as it lies."""
    joint = case.joints[number]
    if joint.mesh is not None:
        return read_surface(case.resolve(joint.mesh), case.unit)
    if joint.group is not None:
        return group_surface(surfaces[0], joint.group)
    points = MM_PER_UNIT[case.unit] * np.array(joint.points)
    return surface_around(join_surfaces(surfaces), points, joint.radius or 0.0)


def _compact(surface: Surface) -> tuple[Vec3s, Ints]:
    """Vertices that faces use, and the faces."""
    used, faces = np.unique(surface.faces, return_inverse=True)
    return surface.vertices[used], faces.reshape(surface.faces.shape)


def _extent(surface: Surface) -> float:
    return float(np.ptp(surface.vertices[surface.used()], axis=0).max())


def _wrong(case: Case, where: str, found: str, remedy: str) -> CaseError:
    return CaseError(found, remedy=remedy, file=case.file if case.sha256 else None, where=where)
