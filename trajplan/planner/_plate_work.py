"""What a plate is to do for a fracture, proposed from the fracture itself, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import fracture_length, obliquity

if TYPE_CHECKING:
    from trajplan.planner._plate_wish import Work
    from trajplan.planner._setup import Setup

__all__ = ["Proposal", "propose_work"]


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a plate is to do, and why."""

    work: Work
    why: str  # one sentence
    proposed: bool  # by the program; else the case says so


def propose_work(setup: Setup, *, presses: bool = True) -> Proposal:
    """Propose what a plate is to do for the fracture of a case.

    Parameters
    ----------
    setup : Setup
        The case.
    presses : bool
        Whether eccentric screws move the plate, by a source.

    Returns
    -------
    Proposal

    Notes
    -----
    A split of a bone end is held up by a buttress; a transverse fracture of a shaft, and a short
    oblique one with a lag screw through the plate, is pressed by eccentric screws; a long or a
    wedged one by lag screws, which the plate protects (AO Foundation, online surgery reference,
    basic technique, compression plates, and tibial shaft, oblique and spiral).
    """
    zones, shaft = setup.around.zones, setup.shaft
    found = fracture_length(zones, shaft)
    place = setup.case.bone.place
    if place == "end" or (place is None and not shaft.away_from_ends(found.middle)):
        said = "as the case says" if place == "end" else "as its place near the end shows"
        return Proposal(
            "buttress", f"A bone end is broken, {said}: the plate holds the fragment up.", True
        )
    pairs = {zone.fragments for zone in zones}
    if len(pairs) > 1:
        return Proposal(
            "protect",
            f"{len(pairs)} fractures part several fragments: lag screws press them, and the plate "
            "takes the load off the lag screws.",
            True,
        )
    lean = max(obliquity(zone, shaft) for zone in zones)
    tail = "" if presses else " No source tells that this plate's holes press, so it only protects."
    if lean < setup.limits.transverse:
        why = (
            f"The fracture runs {lean:.0f} degrees off straight across: no lag screw presses it, "
            "and eccentric screws in the plate do."
        )
        return Proposal("compress" if presses else "protect", why + tail, True)
    if not found.ratio >= setup.limits.alone_length and len(zones) == 1:
        length = "" if np.isnan(found.ratio) else f", {found.ratio:.1f} bone diameters long"
        why = (
            f"The fracture is short and oblique{length}: eccentric screws press it along the bone, "
            "and a lag screw across it."
        )
        return Proposal("compress" if presses else "protect", why + tail, True)
    return Proposal(
        "protect",
        f"The fracture is {found.ratio:.1f} bone diameters long: lag screws press it, and the "
        "plate takes the load off the lag screws.",
        True,
    )
