"""What a plate presses, carries and holds, as ranges; what cannot be told says why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import fracture_length, obliquity
from trajplan.mechanics import (
    METAL_FRICTION,
    Range,
    axial_squeeze,
    bonded,
    buttress_force,
    core_limit,
    overbend,
    plate_section,
    preload,
    shaft_section,
)
from trajplan.planner._pressing import friction_range
from trajplan.planner._strength import holding_in
from trajplan.planner._tightening import aimed_force

if TYPE_CHECKING:
    from trajplan.arrays import Ints
    from trajplan.mechanics import Overbend, PlateSection, ShaftSection
    from trajplan.planner._plates import PlannedPlate
    from trajplan.planner._setup import Setup

__all__ = ["PER_NM2", "PlateForces", "plate_forces", "straight_gap"]

#: MPa of cortex along the bone (Ugural and Fenster's method needs one; 17 GPa: handbooks, from
#: memory).
CORTEX = 17_000.0
#: N mm² in a N m².
PER_NM2 = 1e6


@dataclass(frozen=True, slots=True, eq=False)
class PlateForces:
    """Forces of one plate, N; NaN is unknown, and `why` says why."""

    tension: Range | None  # in one eccentric screw, (1,)
    squeeze: Range | None  # on the fracture, (1,)
    holding: Range | None  # of its weakest screw, (1,)
    friction: Range | None  # along the bone that its weaker side bears, (1,)
    buttress: Range | None  # that is needed against slip, (1,)
    spring: float  # N for each mm of a free end bent less than the bone
    spring_most: float  # N at which that end yields: more it never presses
    bears: Range | None  # at the fracture line, past the nearest screw of the shaft's side, (1,)
    section: PlateSection
    bone: ShaftSection | None
    gap: tuple[float, float]  # mm before, on its own side and on the other
    overbend: Overbend | None
    overbend_why: str
    strain: float  # of the plate's faces under the case's bending, the fracture open
    why: str

    @property
    def both(self) -> tuple[float, float]:
        """Stiffness of plate and bone as one, N mm², and the plate's share of an axial load."""
        if self.bone is None:
            return np.nan, np.nan
        one = bonded(self.section, self.bone)
        return one.stiffness, one.axial_share


def plate_forces(setup: Setup, plate: PlannedPlate) -> PlateForces:
    """Work out the forces of a plate.

    Parameters
    ----------
    setup : Setup
        The case.
    plate : PlannedPlate
        The plate.

    Returns
    -------
    PlateForces
    """
    section, bone = plate_section(plate.laid.plate), _bone_at(setup)
    held = holding_in(plate.screws.screws, setup.bone_class, setup.settings.field)
    tension = _tension(setup, plate, held)
    gaps = _gaps(setup)
    why: list[str] = []
    squeeze = bend = None
    said = ""
    if plate.travel is not None:
        squeeze = _squeeze(plate, tension, gaps[1], why)
        bend, said = _overbend(plate, section, bone, squeeze)
    need = _buttress(setup, plate, why) if plate.work.work == "buttress" else None
    if bone is None:
        why.append("Without a shaft and a known canal the bone's own stiffness cannot be told.")
    return PlateForces(
        tension=None if plate.travel is None else _row(tension, _eccentric(plate)),
        squeeze=squeeze,
        holding=_least(held),
        friction=_friction(plate, tension),
        buttress=need,
        spring=_spring(plate, section),
        spring_most=_hole_moment(plate, section) / _free_end(plate),
        bears=_bears(plate, section, held),
        section=section,
        bone=bone,
        gap=gaps,
        overbend=bend,
        overbend_why=said,
        strain=_strain(setup, section, why),
        why=" ".join(why),
    )


def _tension(setup: Setup, plate: PlannedPlate, hold: Range) -> Range:
    """Axial force of each of its screws: what hands make, as thread and core allow."""
    dims, tight = plate.screws.screws.dims, setup.tightening
    core = core_limit(dims.pitch, dims.thread, dims.core, tight.friction)
    aimed = aimed_force((dims.pitch, dims.thread, dims.core, dims.head, dims.thread), tight)
    return preload(hold, core, aimed)


def _eccentric(plate: PlannedPlate) -> Ints:
    uses = np.array(plate.uses)[plate.screws.hole]
    return np.flatnonzero(uses == "eccentric")


def _row(values: Range, rows: Ints) -> Range:
    """The first of some rows, as a range of one."""
    return Range(*(v[rows[:1]] for v in (values.low, values.estimate, values.high)))


def _least(values: Range) -> Range | None:
    """The weakest, end by end; unknown where one is."""
    if not len(values.low):
        return None
    return Range(*(np.array([v.min()]) for v in (values.low, values.estimate, values.high)))


def _strain(setup: Setup, section: PlateSection, why: list[str]) -> float:
    """Strain of a plate that bears the case's bending alone; no load: unknown."""
    load = setup.case.mechanics.bending
    if load == 0.0:
        why.append("How far the plate strains cannot be told: the case names no bending "
                   "(mechanics.bending).")  # fmt: skip
        return np.nan
    return section.strain(load)


def _gaps(setup: Setup) -> tuple[float, float]:
    """Gap between the fragments before, nine tenths of it, near and far; a closed model has none.

    Where the bone is one mesh, it was planned on as reduced: the model shows no gap.
    """
    reports = setup.around.reports
    if setup.fracture.source != "between" or not reports:
        return 0.0, 0.0
    wide = max(max(report.gap.wide, 0.0) for report in reports)
    return wide, wide


def _squeeze(plate: PlannedPlate, tension: Range, far: float, why: list[str]) -> Range:
    hole, rows = plate.laid.plate.hole, _eccentric(plate)
    if hole.slope is None:
        why.append(
            f"What {plate.laid.plate.kind} presses with cannot be told: its row gives no slope of "
            "the hole's wall (plate.hole.slope)."
        )
    elif far > 0.0:
        why.append(
            f"The fragments stand {far:.1f} mm apart: eccentric screws close that first, and what "
            "is left to press cannot be told; a gap of 1 mm on the far side left little or "
            "nothing (Clin Biomech 2024, abstract)."
        )
    return axial_squeeze(
        _row(tension, rows), hole.slope, shift=hole.shift, screws=len(rows), far_gap=far
    )


def _overbend(
    plate: PlannedPlate, section: PlateSection, bone: ShaftSection | None, squeeze: Range
) -> tuple[Overbend | None, str]:
    """Overbend that closes both sides, and what is taught where it cannot be worked out."""
    taught = (
        "1 to 2 mm over the fracture are taught (AO Foundation, online surgery reference, basic "
        "technique, transverse)"
    )
    low = squeeze.low[0]
    if bone is None or not np.isfinite([low, squeeze.estimate[0], squeeze.high[0]]).all():
        return None, f"How far to bend it more than the bone cannot be worked out here; {taught}."
    inner = _inner(plate)
    length = plate.laid.plate.length(plate.laid.holes)
    bend = overbend(section, bone, squeeze, between=inner, length=length)
    if not np.isfinite(bend.stand_off.low[0]):
        return bend, (
            f"No one overbend closes both sides over the whole range of the force; {taught}."
        )
    return bend, (
        "Bent so, its middle stands off when it rests on its ends, all the bend being over the "
        f"fracture, between the two inner screws; {taught}."
    )


def _inner(plate: PlannedPlate) -> float:
    """Between the two inner screws, mm along the plate."""
    places = plate.laid.plate.places(plate.laid.holes)
    filled = np.array([name is not None for name in plate.ids])
    low, high = (places[filled & (plate.side == s)] for s in (-1, 1))
    return float(high.min() - low.max()) if len(low) and len(high) else np.nan


def _bone_at(setup: Setup) -> ShaftSection | None:
    """The bone at the fracture as a tube: its diameter, and its wall by the fracture's area."""
    zones, shaft = setup.around.zones, setup.shaft
    outer = fracture_length(zones, shaft).diameter
    if not np.isfinite(outer):
        return None
    cortex = setup.case.bone.cortex
    if setup.bone.audit.canal:
        across = [z.area * np.cos(np.radians(obliquity(z, shaft))) for z in zones]
        hollow = outer**2 - 4.0 * float(np.sum(across)) / np.pi
        inner = float(np.sqrt(max(hollow, 0.0)))
    elif cortex is not None:
        inner = max(outer - 2.0 * cortex, 0.0)
    else:
        return None
    return shaft_section(outer, min(inner, 0.95 * outer), CORTEX)


def _friction(plate: PlannedPlate, tension: Range) -> Range | None:
    """Load along the bone that friction under the plate bears, on the side with less."""
    side = plate.side[plate.screws.hole]
    mu = METAL_FRICTION
    ends = ((tension.low, mu.low), (tension.estimate, mu.estimate), (tension.high, mu.high))
    sums = [[float(np.sum(t[side == s]) * m) for s in (-1, 1)] for t, m in ends]
    if plate.work.work == "buttress":
        return None
    return Range(*(np.array([min(one)]) for one in sums))


def _buttress(setup: Setup, plate: PlannedPlate, why: list[str]) -> Range | None:
    """Push that keeps the fragment up under the case's load along the plate."""
    load = abs(setup.case.mechanics.axial)
    if load == 0.0:
        why.append("How hard the plate must push cannot be told: the case names no load "
                   "(mechanics.axial).")  # fmt: skip
        return None
    zone = max(setup.around.zones, key=lambda z: z.area)
    run = abs(float(np.asarray(zone.plane.normal) @ plate.wish.along))
    angle = float(np.degrees(np.arcsin(min(run, 1.0))))
    if not 0.0 < angle < 90.0:
        return None
    mu = friction_range(setup.limits)
    return Range(*(
        np.array([buttress_force(load, angle, m)]) for m in (mu.high, mu.estimate, mu.low)
    ))  # fmt: skip


def _spring(plate: PlannedPlate, section: PlateSection) -> float:
    """N for each mm by which the free end is bent less: a cantilever from the last screw on."""
    return 3.0 * section.stiffness / _free_end(plate) ** 3


def _hole_moment(plate: PlannedPlate, section: PlateSection) -> float:
    """Moment at which the plate yields at a hole, N mm: the net section beside it (handbooks)."""
    size = plate.laid.plate
    return section.yield_moment * (1.0 - size.hole.thread[-1] / size.width)


def _bears(plate: PlannedPlate, section: PlateSection, held: Range) -> Range | None:
    """Push at the fracture line that the plate bears past the nearest screw of the shaft's side.

    A lever over that screw, held down by the next one: the plate yields at the screw, or the
    screw is pulled out (statics; derived).
    """
    mine = np.flatnonzero(plate.side[plate.screws.hole] == plate.shaft)
    if plate.work.work != "buttress" or len(mine) < 2:
        return None
    away = np.abs(plate.along[plate.screws.hole[mine]])
    order = np.argsort(away, kind="stable")
    near, arm = mine[order[0]], away[order[1]] - away[order[0]]
    lever = float(away[order[0]])
    bends = _hole_moment(plate, section) / lever
    pulls = ((v[[near]] * arm / (arm + lever)) for v in (held.low, held.estimate, held.high))
    return Range(*(np.minimum(bends, pull) for pull in pulls))


def _free_end(plate: PlannedPlate) -> float:
    """Mm from the last screw of the shaft's side to the end over the fragment; NaN: none.

    NaN too for a plate that holds no fragment up.
    """
    laid = plate.laid
    places, length = laid.plate.places(laid.holes), laid.plate.length(laid.holes)
    shaft = plate.shaft
    held = places[plate.screws.hole[plate.side[plate.screws.hole] == shaft]]
    if plate.work.work != "buttress" or not len(held):
        return np.nan
    return length - float(held.max()) if shaft < 0 else float(held.min())


def straight_gap(forces: PlateForces) -> float:
    """Gap on the far side under a plate without overbend, mm; NaN unknown."""
    return np.nan if forces.overbend is None else float(forces.overbend.straight_gap[0])
