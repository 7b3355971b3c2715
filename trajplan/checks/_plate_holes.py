"""Rules on the holes of a plate and the screws in them, on either side of the fracture."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.checks._limits import LIMIT_NOTES
from trajplan.checks._plate_told import AO, WHEELESS, one_number
from trajplan.checks._types import Verdict
from trajplan.errors import CaseError
from trajplan.implants import nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.checks._limits import Limits
    from trajplan.checks._types import Finding

__all__ = [
    "END_REACH",
    "SCREWS_EACH_SIDE",
    "SideNote",
    "antiglide_hole",
    "buttress_push",
    "buttress_reach",
    "eccentric_screws",
    "hole_cone",
    "hole_over_fracture",
    "plate_density",
    "screws_each_side",
    "screws_wanted",
    "span_ratio",
]


#: mm that a buttress plate reaches over the fragment at the least: the length of a plate past its
#: last hole (assumption).
END_REACH = 5.0


class SideNote(NamedTuple):
    """Least screws on each side of the fracture, and where that stands."""

    screws: int
    source: str


#: Screws through both walls, on each side of the fracture.
SCREWS_EACH_SIDE: Mapping[str, SideNote] = {
    "femur shaft": SideNote(3, f"{AO}, femoral shaft, 32-A3"),
    "humerus shaft": SideNote(3, f"{AO}, humeral shaft, oblique (an earlier page: 4 holes)"),
    "tibia shaft": SideNote(3, f"{AO}, tibial shaft, oblique"),
    "forearm": SideNote(3, "common practice: six cortices"),
    "fibula": SideNote(3, f"{AO}, malleoli, protecting plate"),
    "metacarpal": SideNote(2, f"{AO}, metacarpals, protecting plate"),
    "face": SideNote(2, f"{AO}, zygoma"),
}


def screws_wanted(region: str | None, limits: Limits) -> SideNote:
    """Least screws on each side of the fracture.

    Parameters
    ----------
    region : str or None
        A key of `SCREWS_EACH_SIDE`; None: not said.
    limits : Limits
        ``plate_screws``, where the region is not said.

    Returns
    -------
    SideNote

    Raises
    ------
    CaseError
        If the region is not known.
    """
    if region is None:
        return SideNote(round(limits.plate_screws), LIMIT_NOTES["plate_screws"].source)
    if region not in SCREWS_EACH_SIDE:
        raise CaseError(
            f'no number of screws is known for "{region}"',
            remedy=nearest(region, SCREWS_EACH_SIDE),
            where="plate, region",
        )
    return SCREWS_EACH_SIDE[region]


def screws_each_side(subject: str, screws: int, wanted: SideNote, where: str = "") -> Finding:
    """Whether a side of the fracture holds enough screws.

    Parameters
    ----------
    subject : str
        The plate.
    screws : int
        Screws through both walls on that side.
    wanted : SideNote
        As from `screws_wanted`.
    where : str
        The side, for the sentence; empty where nothing tells it.

    Returns
    -------
    Finding
    """
    least, source = wanted
    side = where or "this side"
    one = f"{screws} screw{'s' * (screws != 1)} through both walls hold{'s' * (screws == 1)} {side}"
    return one_number(
        "screws_each_side", subject, float(screws), "screws", source,
        {
            Verdict.PASS: f"{one}; at least {{limit}} are wanted.",
            Verdict.FAIL: f"{one}, and {{limit}} are the least: choose a longer plate or fill "
            "another hole.",
        },
        fail_below=float(least),
    )  # fmt: skip


def hole_over_fracture(
    subject: str, along: float, half: float, *, filled: bool, pressed: bool = False
) -> Finding:
    """Whether a hole lies over the fracture.

    Parameters
    ----------
    subject : str
        The plate and the hole.
    along : float, mm
        From the hole's middle to the fracture, along the plate; NaN is unknown.
    half : float, mm
        Half of the hole's length.
    filled : bool
        Whether a screw is in it.
    pressed : bool
        Whether lag screws close the fracture beside the plate: a long one runs under several
        holes wherever the plate lies, and bone that is pressed shares the load (what was
        measured had a gap); then it is a note.

    Returns
    -------
    Finding
    """
    found = one_number(
        "hole_over_fracture", subject, abs(along), "mm",
        "Front Vet Sci 2018 5:89 (abstract): 54,700 cycles with an empty hole over the gap, "
        "116,800 without",
        {
            Verdict.PASS: "The fracture runs {measured} mm from the middle of this hole.",
            Verdict.UNKNOWN: "How far this hole lies from the fracture cannot be told.",
            Verdict.CAUTION: "This empty hole lies over the fracture, where the plate is weakest: "
            "slide the plate, or put a lag screw through it.",
        },
        caution_below=None if filled else half,
    )  # fmt: skip
    if not pressed or found.verdict is not Verdict.CAUTION:
        return found
    return replace(
        found,
        verdict=Verdict.NOTE,
        why="This empty hole lies over the fracture, where the plate is weakest: it counts on the "
        "lag screws, which keep the fracture closed under it.",
    )


def hole_cone(subject: str, share: float, least: float = np.inf) -> Finding:
    """Whether a screw lies within the cone of its hole.

    Parameters
    ----------
    subject : str
        The screw.
    share : float
        Its tilt as a share of what the hole allows; NaN is unknown.
    least : float
        The least that it could be, where only the line of the plate is known, and not how the
        plate is rolled about it; by default the share itself.

    Returns
    -------
    Finding
    """
    if share > 1.0 >= least:
        return replace(
            hole_cone(subject, np.nan),
            why=f"The screw lies at the rim of what its hole allows ({least:.2f} to {share:.2f} "
            "times): the line of the plate does not tell to a few degrees how it is rolled on "
            "the bone.",
        )
    return one_number(
        "hole_cone", subject, share, "share", "the plate's row in the catalogue",
        {
            Verdict.PASS: "The screw lies within what its hole allows.",
            Verdict.UNKNOWN: "The screw tilts in its hole, and no source tells how far it may.",
            Verdict.FAIL: "The screw tilts {measured} times as far as its hole allows: put it "
            "beside the plate, or less square.",
        },
        fail_above=1.0,
    )  # fmt: skip


def antiglide_hole(subject: str, along: float, limits: Limits) -> Finding:
    """Whether the hole nearest the fracture of an antiglide plate lies where it should.

    Parameters
    ----------
    subject : str
        The hole.
    along : float, mm
        From the hole's rim to the fracture line, on the shaft's side; NaN is unknown.
    limits : Limits
        ``plate_hole_least`` and ``plate_hole_most``, mm.

    Returns
    -------
    Finding
    """
    return one_number(
        "antiglide_hole", subject, along, "mm", f"{AO}, malleoli, antiglide plate",
        {
            Verdict.PASS: "The nearest hole lies {measured} mm from the fracture line.",
            Verdict.UNKNOWN: "How far the nearest hole lies from the fracture line cannot be told.",
            Verdict.CAUTION: "The nearest hole lies {measured} mm from the fracture line, "
            f"{limits.plate_hole_least:g} to {limits.plate_hole_most:g} are wanted: slide the "
            "plate along the shaft.",
        },
        caution_below=limits.plate_hole_least, caution_above=limits.plate_hole_most,
    )  # fmt: skip


def buttress_push(subject: str, bears: float, need: float, spring: float) -> Finding:
    """Whether a plate bears the push of the fragment that it holds up.

    Parameters
    ----------
    subject : str
        The plate.
    bears : float, N
        What it bears at the fracture line, past its nearest screw; NaN is unknown.
    need : float, N
        Push that keeps the fragment from slipping; NaN: the case names no load.
    spring : float, N
        That its free end, bent less than the bone, presses with before it yields; NaN is unknown.

    Returns
    -------
    Finding
        A note where no load is named: what the plate bears can be said nevertheless.
    """
    only = "" if np.isnan(spring) else (
        f" The spring of its free end, bent less than the bone, presses with {spring:.0f} N at "
        "the most, where it yields: it holds the fragment only until the screws are in."
    )  # fmt: skip
    found = one_number(
        "buttress_push", subject, bears, "N",
        "statics of a lever over the nearest screw, net section at its hole; an estimate",
        {
            Verdict.PASS: f"The plate bears {bears:.0f} N next to the fracture, and the fragment "
            f"pushes with {need:.0f} N.{only}",
            Verdict.UNKNOWN: "What push the plate bears next to the fracture cannot be told: its "
            "strength is not known, or the shaft's side holds fewer than two screws.",
            Verdict.CAUTION: f"The fragment pushes with {need:.0f} N, and next to the fracture the "
            f"plate bears only {bears:.0f} N before it yields or its nearest screw pulls out: "
            "choose a stiffer plate or a screw nearer to the fracture, or let no such load on the "
            f"bone until it has healed.{only}",
        },
        caution_below=None if np.isnan(need) else need,
    )  # fmt: skip
    if found.verdict is not Verdict.PASS or not np.isnan(need):
        return found
    return replace(
        found,
        verdict=Verdict.NOTE,
        why=f"The plate bears {bears:.0f} N next to the fracture; whether that is enough cannot be "
        f"told, because the case names no load (mechanics.axial).{only}",
    )


def buttress_reach(subject: str, past: float, spacing: float) -> Finding:
    """Whether a plate that is to hold a fragment up reaches it.

    Parameters
    ----------
    subject : str
        The plate.
    past : float, mm
        From the fracture line to its end on the fragment, as from `trajplan.plate.reach_past`;
        NaN is unknown.
    spacing : float, mm
        Of its holes: less than one of them on the fragment holds it at its very edge.

    Returns
    -------
    Finding
    """
    return one_number(
        "buttress_reach", subject, max(past, 0.0) if np.isfinite(past) else np.nan, "mm",
        "common practice; the limits are assumptions",
        {
            Verdict.PASS: "The plate reaches {measured} mm past the fracture line, over the "
            "fragment that it holds up.",
            Verdict.UNKNOWN: "How far the plate reaches over the fragment cannot be told.",
            Verdict.CAUTION: "The plate reaches only {measured} mm past the fracture line, less "
            "than from hole to hole, {limit} mm: slide it over the fragment, or choose a longer "
            "one.",
            Verdict.FAIL: "The plate reaches {measured} mm past the fracture line, {limit} mm are "
            "the least: it does not hold the fragment up. Slide it over the fragment, or choose a "
            "longer one.",
        },
        fail_below=END_REACH, caution_below=spacing,
    )  # fmt: skip


def eccentric_screws(subject: str, screws: int, left: float, limits: Limits) -> Finding:
    """Whether as many eccentric screws can do their work.

    Parameters
    ----------
    subject : str
        The plate.
    screws : int
        In one fragment.
    left : float, mm
        Travel left to the first, as from `trajplan.plate.plate_travel`; NaN is unknown.
    limits : Limits
        ``plate_eccentric``, screws.

    Returns
    -------
    Finding
    """
    stuck = left < 0.0
    return one_number(
        "eccentric_screws", subject, float(screws), "screws",
        f"{WHEELESS}, theory of compression plates",
        {
            Verdict.PASS: "One eccentric screw presses the fracture."
            if screws == 1
            else f"{screws} eccentric screws press the fracture.",
            Verdict.CAUTION: f"{screws} eccentric screws in one fragment"
            + (", and the first meets the end of its hole" if stuck else "")
            + ": more than two rarely press more, so reduce the fracture closer instead.",
        },
        caution_above=screws - 1.0 if stuck else limits.plate_eccentric,
    )  # fmt: skip


def span_ratio(length: float, fracture: float) -> float:
    """Length of a plate over that of the fracture; told, not judged, because sources differ.

    Parameters
    ----------
    length, fracture : float, mm
        Of the plate, and of the fracture along the shaft.

    Returns
    -------
    float
        Infinite for a fracture of no length. Güven et al. 2013, Strateg Trauma Limb Reconstr
        8:103 (abstract): 4 on average in 20 tibias, all healed.
    """
    return length / fracture if fracture > 0.0 else np.inf


def plate_density(screws: int, holes: int) -> float:
    """Share of a plate's holes that hold a screw; told, not judged.

    Parameters
    ----------
    screws, holes : int
        In the plate.

    Returns
    -------
    float
        0.68 on average in the same 20 tibias.
    """
    return screws / holes
