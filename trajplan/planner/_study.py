"""A study: one setting of a case over a range, the screws of its plan looked at anew."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias, get_args

import numpy as np

from trajplan.checks import Verdict, worst
from trajplan.errors import CaseError
from trajplan.geometry import frames
from trajplan.implants import find_screw, nearest
from trajplan.mechanics import Friction, find_bone_class
from trajplan.planner._assess import assess, work_out
from trajplan.planner._outlook import Outlook
from trajplan.planner._plan import plan_case
from trajplan.planner._pressing import friction_range, press
from trajplan.planner._strength import screw_forces
from trajplan.trajectory import Axes, Basis

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.files import Case
    from trajplan.mechanics import BoneClass
    from trajplan.planner._plan import Plan
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["StudyRow", "StudySetting", "study", "study_values"]

StudySetting: TypeAlias = Literal["tilt", "friction", "bone", "kind", "cortex"]


@dataclass(frozen=True, slots=True)
class StudyRow:
    """What the screws give at one value of the setting; NaN is unknown."""

    value: float | str
    verdict: str  # of all rules
    fails: tuple[str, ...]  # rules that fail
    holding_low: float  # N, weakest screw
    holding: float
    holding_high: float
    force: float  # N, squeeze of all screws
    share: float  # of the fracture in contact
    peak: float  # MPa
    slip_low: float  # friction over shear; below 1 the fragments slide
    slip_high: float


#: Values that one range may hold: each is a plan worked out again.
MOST_STEPS = 1000


def _steps(count: int, word: str) -> int:
    if count > MOST_STEPS:
        raise CaseError(
            f'"{word}" asks for {count} values', remedy=f"ask for {MOST_STEPS} or fewer"
        )
    return max(count, 1)


def study_values(words: Sequence[str]) -> list[float | str]:
    """Read the values of a study from words.

    Parameters
    ----------
    words : sequence of str
        Numbers, names, or FIRST:LAST:STEPS for evenly spaced numbers.

    Returns
    -------
    list of float or str

    Raises
    ------
    CaseError
        If a range is none.
    """
    values: list[float | str] = []
    for word in words:
        first, colon, rest = word.partition(":")
        last, _, steps = rest.partition(":")
        try:
            if colon:
                count = _steps(int(steps), word)  # one step divides by zero below: no range
                low, high = float(first), float(last)
                values += [low + (high - low) * i / (count - 1) for i in range(count)]
            else:
                values.append(float(word))
        except (ValueError, ZeroDivisionError):
            if colon:
                raise CaseError(
                    f'"{word}" is no range', remedy="write FIRST:LAST:STEPS, such as 0:45:10"
                ) from None
            values.append(word)
    return values


def study(
    case: Case, what: str, values: Sequence[float | str], *, bone: object | None = None
) -> tuple[StudyRow, ...]:
    """Look at the screws of a plan at each value of a setting.

    Parameters
    ----------
    case : Case
        The case; it is planned once, and its screws are kept.
    what : {"tilt", "friction", "bone", "kind", "cortex"}
        The setting. ``tilt``: all screws turned about their crossings to stand so many
        degrees off the fracture normal, side by side. ``friction``: between the fragments.
        ``bone``: bone classes. ``kind``: kinds of screw along the same axes. ``cortex``:
        assumed wall, mm.
    values : sequence of float or str
        Values to look at.
    bone : trimesh.Trimesh, pyvista.PolyData, Surface or (vertices, faces), optional
        The bone in memory, as for `plan_case`.

    Returns
    -------
    tuple of StudyRow

    Raises
    ------
    CaseError
        If the setting or a value cannot be, changes nothing, or the case has no screw to look at.
    """
    if what not in get_args(StudySetting):
        raise CaseError(
            f'"{what}" is no setting that can be studied',
            remedy=nearest(what, get_args(StudySetting)),
            where="study",
        )
    plan = plan_case(case, bone=bone)
    if len(plan.assessment.screws) == 0:
        raise CaseError(
            "no screw could be placed, so there is nothing to study",
            remedy="plan the case first and mend what fails",
            file=case.file,
        )
    known = plan.assessment.screws.walls.basis
    shown = "walls are read in the CT" if (known == Basis.MEASURED).any() else "canal is modelled"
    if what == "cortex" and ((known == Basis.MODELLED) | (known == Basis.MEASURED)).all():
        raise CaseError(
            f"the bone's {shown}, so an assumed cortex changes nothing",
            remedy="study another setting, or a model of the outer surface alone",
            file=case.file,
            where="study.cortex",
        )
    return tuple(_row(plan, what, value) for value in values)


def _row(plan: Plan, what: str, value: float | str) -> StudyRow:
    setup, screws = plan.setup, plan.assessment.screws
    friction, bone = friction_range(setup.limits), setup.bone_class
    if what == "tilt":
        screws = _tilted(setup, screws, _number(what, value, least=0.0, most=80.0))
    elif what == "friction":
        exact = _number(what, value, least=0.01, most=2.0)
        friction = Friction(exact, exact, exact)
        setup = replace(setup, limits=replace(setup.limits, friction=exact, friction_most=exact))
    elif what == "bone":
        bone = find_bone_class(str(value))
    elif what == "kind":
        setup = setup.with_kinds([find_screw(setup.catalogue, str(value))])
        screws = _again(setup, screws, kind=0)
    else:
        cortex = _number(what, value, least=0.1, most=30.0)
        setup = replace(setup, settings=replace(setup.settings, cortex=cortex))
        screws = _again(setup, screws)
    return _look(setup, screws, plan.assessment.ids, value, friction, bone)


def _number(what: str, value: float | str, *, least: float, most: float) -> float:
    try:
        number = float(value)
    except ValueError:
        number = np.nan
    if not least <= number <= most:
        raise CaseError(
            f"{what} of {value} cannot be",
            remedy=f"give a number from {least:g} to {most:g}",
            where=f"study.{what}",
        )
    return number


def _again(setup: Setup, screws: Trajectories, kind: int | None = None) -> Trajectories:
    rows = screws.dims.kind if kind is None else np.full(len(screws), kind)
    return work_out(setup, screws.corridors.axes, rows, screws.crossing.zone)


def _tilted(setup: Setup, screws: Trajectories, angle: float) -> Trajectories:
    """The same crossings, every axis so far off its zone's normal, all to the same side."""
    crossing = screws.corridors.axes.at(screws.crossing.axis)
    normals = np.array([zone.plane.normal for zone in setup.around.zones])[screws.crossing.zone]
    facing = np.einsum("ij,ij->i", screws.corridors.axes.direction, normals)
    normals = normals * np.where(facing < 0.0, -1.0, 1.0)[:, None]
    sideways = frames(normals)[:, 0]
    lean = np.radians(angle)
    axes = Axes.along(crossing, np.cos(lean) * normals + np.sin(lean) * sideways)
    return work_out(setup, axes, screws.dims.kind, screws.crossing.zone)


def _look(
    setup: Setup,
    screws: Trajectories,
    ids: tuple[str, ...],
    value: float | str,
    friction: Friction,
    bone: BoneClass,
) -> StudyRow:
    field = setup.settings.field
    forces = screw_forces(screws, setup.around, bone, setup.tightening, field)
    found = press(screws, forces, setup.regions, friction)
    view = Outlook(forces, found, None, None, None)
    answer = assess(setup, screws, ids, pairs=True, view=view)
    every = [*answer.together, *(finding for part in answer.findings for finding in part)]
    return StudyRow(
        value=value,
        verdict=worst([finding.verdict for finding in every]).word,
        fails=tuple(dict.fromkeys(f.rule for f in every if f.verdict is Verdict.FAIL)),
        holding_low=float(np.min(forces.holding.low)),
        holding=float(np.min(forces.holding.estimate)),
        holding_high=float(np.min(forces.holding.high)),
        force=found.force,
        share=found.share,
        peak=found.peak,
        slip_low=found.reserve_low,
        slip_high=found.reserve_high,
    )
