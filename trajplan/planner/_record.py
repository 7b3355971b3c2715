"""Turn a plan into its file record."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import NO_CANAL
from trajplan.cautions import CAUTIONS
from trajplan.checks import LIMIT_NOTES, Limits
from trajplan.files import (
    AlternativeRecord,
    CaseRecord,
    CatalogueRecord,
    LimitRecord,
    MeshRecord,
    OptionRecord,
    PlanFile,
    ProgramRecord,
    TallyRecord,
)
from trajplan.mechanics import USEFUL_SHARE, hand_torque
from trajplan.planner._ct import ct_record
from trajplan.planner._fracture_record import fracture_record
from trajplan.planner._outlook_record import plan_outlook
from trajplan.planner._place_records import bearings_record, case_bearings, place_records
from trajplan.planner._plate_record import plate_record
from trajplan.planner._reduced import reduced_record
from trajplan.planner._rivals import scatter_of
from trajplan.planner._screw_record import finding_record, screw_record
from trajplan.planner._wire_record import wire_records
from trajplan.tolerance import WAYS
from trajplan.trajectory import Within

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.arrays import Vec3s
    from trajplan.implants import Screw
    from trajplan.planner._plan import Plan
    from trajplan.planner._setup import Setup
    from trajplan.volume import BoneField

__all__ = ["PLACES_UP_TO", "plan_record", "program_version"]

#: Screws whose entries are told from landmarks and from one another: a plan; more are a table.
PLACES_UP_TO = 24
#: Slant at which the assumptions tell the spread of a hand's direction.
ON_A_SLANT = 45.0


def plan_record(plan: Plan, *, created: datetime | None = None) -> PlanFile:
    """Turn a plan into the record that a plan file holds.

    Parameters
    ----------
    plan : Plan
        The plan.
    created : datetime, optional
        Time to write down; now by default.

    Returns
    -------
    PlanFile
    """
    setup, answer = plan.setup, plan.assessment
    now = datetime.now(UTC) if created is None else created
    view = plan_outlook(plan.outlook, setup) if plan.outlook is not None else {}
    bearings = case_bearings(setup)
    record = PlanFile(
        created=now.isoformat(timespec="seconds"),
        program=ProgramRecord(name="trajplan", version=program_version()),
        title=setup.case.title,
        frame=setup.case.frame,
        cautions=(*CAUTIONS, *_mesh_cautions(setup)),
        case=CaseRecord(name=setup.case.file.name, sha256=setup.case.sha256),
        meshes=tuple(
            MeshRecord(
                role=use.role,
                name=use.surface.name,
                sha256=use.surface.sha256,
                faces=len(use.surface.faces),
                cautions=use.cautions,
            )
            for use in setup.meshes
        ),
        catalogues=tuple(
            CatalogueRecord(name=file.name, sha256=file.sha256) for file in setup.catalogue.files
        ),
        reduction=reduced_record(setup.reduction),
        ct=ct_record(setup),
        fracture=fracture_record(setup),
        assumptions=_assumptions(setup),
        limits=_limits(setup.limits),
        screws=tuple(
            screw_record(
                answer,
                i,
                setup,
                score=float(plan.score[i]),
                view=plan.outlook,
                reason=plan.reasons[i] if plan.reasons else "",
            )
            for i in range(len(answer.ids))
        ),
        wires=wire_records(plan.wires, setup) if plan.wires is not None else (),
        bearings=bearings_record(bearings, setup),
        places=place_records(bearings, *_entries(plan)) if len(answer.ids) <= PLACES_UP_TO else (),
        plates=tuple(plate_record(plate, setup) for plate in plan.plates),
        findings=tuple(finding_record(finding) for finding in plan.findings),
        alternatives=tuple(
            AlternativeRecord(
                replaces=other.replaces,
                screw=screw_record(other.assessment, 0, setup, score=other.score),
            )
            for other in plan.alternatives
        ),
        tally=tuple(
            TallyRecord(
                rule=tally.rule,
                candidates=tally.turned_away,
                nearest_miss=tally.nearest_miss,
                unit=tally.unit,
            )
            for tally in plan.tally
            if tally.turned_away
        ),
        options=tuple(
            OptionRecord(
                count=option.count,
                kind=option.kind,
                holding=option.holding,
                squeeze=option.squeeze,
                share=option.share,
                slip_low=option.slip_low,
                unpressed=option.unpressed,
            )
            for option in plan.options
        ),
        verdict=plan.verdict.word,
    )
    return record.model_copy(update=view)


def _entries(plan: Plan) -> tuple[tuple[str, ...], Vec3s]:
    """Ids and entries of screws, wires and holes of plates; NaN where an axis misses the bone."""
    corridors = plan.assessment.screws.corridors
    entries = [np.where(corridors.hit[:, None], corridors.axes.origin, np.nan)]
    names = [*plan.assessment.ids]
    if plan.wires is not None:
        entries.append(plan.wires.paths.corridors.axes.origin)
        names += plan.wires.ids
    for plate in plan.plates:
        holes = [hole for hole in plate.held_by if plate.ids[hole] not in plate.lag]
        entries.append(plate.laid.centres[0, holes])
        names += [f"{plate.id} hole {hole + 1}" for hole in holes]
    return tuple(names), np.concatenate(entries)


def program_version() -> str:
    """Version of the installed program.

    Returns
    -------
    str
        "unknown" where the package runs without being installed.
    """
    try:
        return version("trajplan")
    except PackageNotFoundError:
        return "unknown"


def _mesh_cautions(setup: Setup) -> tuple[str, ...]:
    field = setup.settings.field
    measured = field is not None and field.walling is not None
    lines = [
        f"{'fragments' if use.role == 'fragment' else use.surface.name}: {text}"
        for use in setup.meshes
        for text in use.cautions
        if not (measured and text == NO_CANAL)
    ]
    seen = () if field is None else tuple(f"{field.source.name}: {said}" for said in field.cautions)
    return tuple(dict.fromkeys([*lines, *seen, *setup.fracture.cautions]))


def _assumptions(setup: Setup) -> tuple[str, ...]:
    """Everything that the numbers rest on and that nobody measured."""
    limits = setup.limits
    lines = [
        (
            f"Friction between the fragments is taken as {limits.friction:g} (the highest "
            f"plausible: {max(limits.friction, limits.friction_most):g}), so past a tilt of "
            f"{limits.slip_angle:.1f} degrees they may slide, and past "
            f"{limits.slide_angle:.1f} they do."
        )
    ]
    lines += _force_assumptions(setup)
    lines += _wall_assumptions(setup)
    lines += [line for screw in setup.kinds for line in _not_verified(screw)]
    return tuple(lines)


def _not_verified(screw: Screw) -> Iterator[str]:
    """How many of its dimensions nobody has held against the standard that they are said to be."""
    standings = [where.status for where in screw.sources.values()]
    count = standings.count("not verified against the standard")
    if count:
        yield (
            f"{count} of the {len(standings)} dimensions of {screw.kind} are not verified against "
            f"the standard: check them against the maker's data (`trajplan screws {screw.kind}` "
            "says which)."
        )


def _wall_assumptions(setup: Setup) -> list[str]:
    """What is taken for bone where the model has no canal."""
    field = setup.settings.field
    if field is not None:
        return _measured_assumptions(field)
    if setup.bone.audit.canal:
        return []
    cortex = setup.case.bone.cortex
    if cortex is None:
        return [
            (
                "The model has no canal and the case states no cortex: in a bone end all bone "
                "counts as cancellous, and whether a head sinks in stays unknown; elsewhere what a "
                "thread holds stays unknown too."
            )
        ]
    inside = setup.settings.inside
    filled = FILLED[inside.otherwise if inside.everywhere is None else inside.everywhere]
    ends = "in its flared ends cancellous bone, in its shaft marrow, between the two "
    what = f"{'' if inside.everywhere is not None else ends}{filled}"
    return [f"The model has no canal: a cortex of {cortex:g} mm is assumed, and inside it {what}."]


def _measured_assumptions(field: BoneField) -> list[str]:
    """What measured bone rests on."""
    if field.walling is None:
        walls = (
            f"No wall can be read in the CT {field.source.name}: where the mesh has no canal, and "
            "the case no cortex, what threads hold is density as the CT shows it, in which cortex "
            "reads too light, and whether a head sinks in stays unknown."
        )
        cortex = "Bone holds"
    else:
        plateau = field.walling.plateau
        walls = (
            f"Walls are read in the CT {field.source.name} along their normals: a plate as dense "
            f"as the thickest cortex there ({plateau.hu:.0f} HU), blurred by {plateau.fwhm:.2f} "
            "mm, is fitted to each."
        )
        dense = float(field.cortex().estimate)
        cortex = f"Cortex of {dense:.2f} g/cm³ (apparent) and softer bone hold"
    return [
        walls,
        (
            f"{field.calibration.words} {cortex} by the square of density (laws as for the bone "
            "classes; 25 % either way for what differs between bones of one density). HU differ "
            "from scanner to scanner, and clots, callus and contrast agent raise them."
        ),
    ]


#: What is taken to fill an assumed cortex.
FILLED = {
    Within.CANCELLOUS: "cancellous bone",
    Within.MARROW: "marrow",
    Within.UNTOLD: "one or the other (the low end of every force counts nothing there, the high "
    "end cancellous bone)",
}


def _force_assumptions(setup: Setup) -> list[str]:
    """What forces and chances rest on."""
    said, scatter = setup.case.placement, scatter_of(setup)
    steep = float(scatter.at(np.array([ON_A_SLANT]))[0])
    slanted = f", {steep:.0f} where the drill meets bone {ON_A_SLANT:g} degrees off its normal"
    slanted = slanted if scatter.slant else ""
    bone, friction = setup.bone_class, setup.tightening.friction
    return [
        (
            f'The bone is taken as "{bone.name}" ({bone.about.rstrip(".")}). '
            f"{_torque_words(setup)}, but to no more than thread, core and the bone under the head "
            "bear."
        ),
        (
            f"Forces in the screws, and torques that strip the thread or break the core, rest on a "
            f"friction of {friction.low:g} to {friction.high:g} between screw and bone; past "
            f"{100 * USEFUL_SHARE:.0f} % of what strips, tightening adds nothing."
        ),
        (
            f"Drilled {WAYS[said.way].how}, hands are taken to err by {scatter.entry:.1f} mm at "
            f"the entry and {scatter.direction:.1f} degrees in direction{slanted} (standard "
            f"deviations), and to plunge {scatter.plunge:g} mm on average once a wall is through "
            f"(sharp drill), with {said.draws} tries for each screw and seed {said.seed}. Holes "
            "are drilled by feel and lengths taken by the gauge, which is taken to read right."
        ),
    ]


def _torque_words(setup: Setup) -> str:
    """What the screws are tightened to."""
    torque = setup.tightening.torque
    if torque is not None:
        return f"Screws are tightened to {torque:g} N·m"
    each = ", ".join(
        f"{kind.kind} to {hand_torque(kind.core_diameter).estimate / N_MM:.2g} N·m"
        for kind in setup.kinds
    )
    return f"Screws are tightened to what hands use for their cores (Aziz et al. 2014): {each}"


#: N·mm in a newton metre.
N_MM = 1000.0


def _limits(limits: Limits) -> tuple[LimitRecord, ...]:
    defaults = {f.name: f.default for f in fields(Limits)}
    return tuple(
        LimitRecord(
            name=name,
            value=getattr(limits, name),
            default=float(np.asarray(defaults[name], dtype=np.float64)),
            unit=note.unit,
            source=note.source,
            changed=getattr(limits, name) != defaults[name],
        )
        for name, note in LIMIT_NOTES.items()
    )
