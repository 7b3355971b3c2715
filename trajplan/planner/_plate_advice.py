"""The plate that would answer what lag screws alone cannot do: a table to paste into the case."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Finding, Verdict
from trajplan.errors import CaseError
from trajplan.fracture import fracture_length
from trajplan.planner._needs import needs
from trajplan.planner._plate_work import propose_work
from trajplan.plate import check_screw

if TYPE_CHECKING:
    from trajplan.implants import Plate, Screw
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["plate_advice"]

#: Rules whose caution a plate answers.
ANSWERED = ("screws_alone", "transverse")
#: Widest plate as a share of the shaft's diameter (assumption; 12 mm on 25 mm, 10 on 14 are usual).
WIDEST = 0.75


def plate_advice(setup: Setup, screws: Trajectories) -> tuple[Finding, ...]:
    """Offer a plate where lag screws alone will not do and the case asks for none.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        The screws of the plan.

    Returns
    -------
    tuple of Finding
        A note that holds the table to paste; none where nothing is amiss, or no plate fits.
    """
    if setup.case.plates:
        return ()
    said = [f for f in needs(setup, screws) if f.rule in ANSWERED and f.verdict >= Verdict.CAUTION]
    if not said:
        return ()
    work = propose_work(setup)
    plate = _plate(setup, press=work.work == "compress")
    if plate is None or not setup.shaft.found:
        return ()
    keys = f'kind = "{plate.kind}" and work = "{work.work}"'
    return (
        Finding(
            rule="plate_offered",
            subject="plan",
            verdict=Verdict.NOTE,
            measured=None,
            limit=None,
            unit="",
            why=f"A plate would answer. {work.why} To have it tried, end the case with a line "
            f"[[plate]], and below it, each on a line of its own, {keys}.",
            source="AO Foundation, online surgery reference, basic technique, compression plates",
        ),
    )


def _plate(setup: Setup, *, press: bool) -> Plate | None:
    """A plate of the catalogue for the bone: one for the case's screws, the widest that fits it."""
    diameter = fracture_length(setup.around.zones, setup.shaft).diameter
    if not np.isfinite(diameter):
        return None
    fitting = [
        plate
        for plate in setup.catalogue.plates.values()
        if plate.width <= WIDEST * diameter
        and (plate.hole.shift is not None or not press)
        and plate.hole.tilt_along is not None
        and any(_fits(plate, screw) for screw in setup.kinds)
    ]
    return max(fitting, key=lambda plate: (plate.hole.shift is not None, plate.width), default=None)


def _fits(plate: Plate, screw: Screw) -> bool:
    try:
        check_screw(plate, screw)
    except CaseError:
        return False
    return True
