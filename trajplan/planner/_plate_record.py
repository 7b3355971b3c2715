"""Turn the plates of a plan into their file records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.checks import plate_density, span_ratio
from trajplan.files import (
    BridgeRecord,
    PlateFitRecord,
    PlateForceRecord,
    PlateGapRecord,
    PlateHoleRecord,
    PlateOptionRecord,
    PlateRecord,
    PlateSizeRecord,
    PlateStepRecord,
    PlateTallyRecord,
    RangeRecord,
)
from trajplan.fracture import fracture_length
from trajplan.planner._assess import Assessment
from trajplan.planner._plate_findings import side_counts
from trajplan.planner._plate_forces import PER_NM2, straight_gap
from trajplan.planner._screw_record import finding_record, screw_record
from trajplan.planner._tightening import N_MM

if TYPE_CHECKING:
    from trajplan.files import ScrewRecord
    from trajplan.mechanics import Range, ShaftSection
    from trajplan.planner._plate_forces import PlateForces
    from trajplan.planner._plates import PlannedPlate
    from trajplan.planner._setup import Setup
    from trajplan.plate import Laid

__all__ = ["plate_record"]


def plate_record(plate: PlannedPlate, setup: Setup) -> PlateRecord:
    """Turn a plate of a plan into the record that a plan file holds.

    Parameters
    ----------
    plate : PlannedPlate
        The plate.
    setup : Setup
        The case.

    Returns
    -------
    PlateRecord
    """
    laid, found = plate.laid, fracture_length(setup.around.zones, setup.shaft)
    length = laid.plate.length(laid.holes)
    frames = laid.shape.frames[0]
    ratio = span_ratio(length, found.length) if found.length > 0.0 else float("nan")
    return PlateRecord(
        id=plate.id,
        kind=laid.plate.kind,
        holes=laid.holes,
        work=plate.work.work,
        proposed=plate.work.proposed,
        why=plate.work.why,
        size=PlateSizeRecord(
            length=length,
            width=laid.plate.width,
            thickness=laid.plate.thickness,
            back=laid.plate.back,
            form=laid.plate.hole.form,
            hole=laid.plate.hole.thread[-1],
            seat=laid.plate.hole.seat,
        ),
        line=tuple(map(tuple, laid.shape.points[0].tolist())),
        across=tuple(map(tuple, frames[:, 1].tolist())),
        out=tuple(map(tuple, frames[:, 2].tolist())),
        bends=_bends(laid),
        fit=_fit(laid),
        hole=tuple(_hole(plate, h) for h in range(laid.holes)),
        screws=_screws(plate, setup),
        lag=plate.lag,
        first_fragment=plate.first.name,
        first_why=plate.first.why if plate.work.work == "compress" else "",
        order=tuple(
            PlateStepRecord(
                says=step.says, holes=tuple(h + 1 for h in step.holes), screws=step.screws
            )
            for step in plate.steps
        ),
        shift=None if plate.travel is None else plate.travel.shift,
        **_forces(plate.forces),
        apex=plate.apex,
        stands_out=_stands_out(plate),
        span_ratio=ratio,
        density=plate_density(sum(name is not None for name in plate.ids), laid.holes),
        screws_each_side=side_counts(plate),
        score=plate.worth,
        options=tuple(
            PlateOptionRecord(
                kind=one.kind,
                holes=one.holes,
                work=one.work,
                side=tuple(one.side.tolist()),
                slide=one.slide,
                turn=one.turn,
                screws=one.screws,
                verdict="fail" if one.fails else "pass",
                why=one.why,
            )
            for one in plate.options
        ),
        tally=tuple(
            PlateTallyRecord(
                rule=one.rule, places=one.places, nearest_miss=one.nearest_miss, unit=one.unit
            )
            for one in plate.tally
        ),
        findings=tuple(finding_record(finding) for finding in plate.findings),
    )


def _forces(found: PlateForces | None) -> dict[str, Any]:
    """Forces, gaps and overbend, as fields of the record."""
    if found is None:
        return {}
    stiff, share = found.both
    bend, straight = found.overbend, straight_gap(found)
    known = bend is not None and np.isfinite(bend.stand_off.low[0])
    return {
        "gap_near": PlateGapRecord(before=found.gap[0], after=0.0 if known else None),
        "gap_far": PlateGapRecord(
            before=found.gap[1], straight=straight, after=0.0 if known else None
        ),
        "overbend": None if bend is None else range_record(bend.stand_off),
        "overbend_why": found.overbend_why,
        "forces": PlateForceRecord(
            tension=range_record(found.tension),
            squeeze=range_record(found.squeeze),
            holding=range_record(found.holding),
            friction=range_record(found.friction),
            buttress=range_record(found.buttress),
            spring=found.spring,
            stiffness_plate=found.section.stiffness / PER_NM2,
            stiffness_bone=np.nan if found.bone is None else _stiffness(found.bone) / PER_NM2,
            stiffness_both=stiff / PER_NM2,
            axial_share=share,
            strain=found.strain,
            yields_at=found.section.yield_moment / N_MM,
            why=found.why,
        ),
    }


def _stiffness(bone: ShaftSection) -> float:
    return bone.modulus * bone.second


def range_record(values: Range | None) -> RangeRecord | None:
    """A range of one subject as a record; null where none of it is known.

    Parameters
    ----------
    values : Range or None
        Of one subject.

    Returns
    -------
    RangeRecord or None
    """
    if values is None:
        return None
    low, estimate, high = (float(v[0]) for v in (values.low, values.estimate, values.high))
    if np.isnan([low, estimate, high]).all():
        return None
    return RangeRecord(low=low, estimate=estimate, high=high)


def _bends(laid: Laid) -> tuple[BridgeRecord, ...]:
    strain = laid.bend_strain()[0]
    return tuple(
        BridgeRecord(
            after=i + 1,
            length=float(laid.strip.bridge[i]),
            flatwise=float(laid.flatwise[0, i]),
            twist=float(laid.twist[0, i]),
            strain=float(strain[i]),
        )
        for i in range(len(laid.strip.bridge))
    )


def _fit(laid: Laid) -> PlateFitRecord:
    line, edge = laid.line_gap[0], laid.edge_gap[0]
    told = np.isfinite(line)
    return PlateFitRecord(
        mean=float(line[told].mean()) if told.any() else None,
        largest=float(line[told].max()) if told.any() else None,
        edge_largest=float(np.nanmax(edge)) if np.isfinite(edge).any() else None,
        share_1=float(laid.share_within(1.0)[0]),
        share_2=float(laid.share_within(2.0)[0]),
        beside=float(laid.beside[0]),
        depth=float(laid.depth[0]),
    )


def _hole(plate: PlannedPlate, h: int) -> PlateHoleRecord:
    laid, use = plate.laid, plate.uses[h]
    own = np.flatnonzero(plate.screws.hole == h)
    side = int(plate.side[h])
    return PlateHoleRecord(
        number=h + 1,
        centre=tuple(laid.centres[0, h].tolist()),
        axis=tuple(laid.into_bone[0, h].tolist()),
        use=use,
        screw=plate.ids[h],
        fragment=None if side == 0 else plate.names[0 if side < 0 else 1],
        gap=float(laid.hole_gap[0, h]),
        along=float(plate.along[h]),
        offset=float(plate.offset[h]),
        tilt_along=float(plate.screws.tilt_along[own[0]]) if len(own) else None,
        tilt_across=float(plate.screws.tilt_across[own[0]]) if len(own) else None,
        why=plate.empty_why[h],
    )


def _screws(plate: PlannedPlate, setup: Setup) -> tuple[ScrewRecord, ...]:
    """The plate's own screws: of what they do for a fracture nothing is told."""
    answer = Assessment(plate.own, plate.screws.screws, plate.screw_findings, ())
    gone = {"zone": None, "fracture_depth": None, "tilt": None, "technique": "position"}
    return tuple(
        screw_record(answer, i, setup, score=float("nan")).model_copy(update=gone)
        for i in range(len(plate.own))
    )


def _stands_out(plate: PlannedPlate) -> float:
    laid = plate.laid
    line = laid.line_gap[0]
    body = float(np.nanmax(line)) + laid.plate.thickness if np.isfinite(line).any() else np.nan
    heads = plate.screws.stands_out
    return float(np.fmax(body, np.fmax.reduce(heads, initial=np.nan)))
