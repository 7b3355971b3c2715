"""Rules on plates: fit, bends, holes, screws on either side. Sources stand beside each limit."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.checks._limits import LIMIT_NOTES
from trajplan.checks._types import Finding, Verdict, grade
from trajplan.errors import CaseError
from trajplan.implants import nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Floats
    from trajplan.checks._limits import Limits

__all__ = [
    "BODY_CLEAR",
    "HANGS",
    "SCREWS_EACH_SIDE",
    "SideNote",
    "antiglide_hole",
    "eccentric_screws",
    "growth_plate_distance",
    "hole_cone",
    "hole_over_fracture",
    "off_its_line",
    "plate_bend",
    "plate_clear",
    "plate_cuts",
    "plate_density",
    "plate_fit",
    "plate_meets_screw",
    "plate_on_bone",
    "screws_each_side",
    "screws_wanted",
    "side_open",
    "span_ratio",
]

_AO = "AO Foundation, online surgery reference"
_WHEELESS = "Wheeless' Textbook of Orthopaedics"


class SideNote(NamedTuple):
    """Least screws on each side of the fracture, and where that stands."""

    screws: int
    source: str


#: Screws through both walls, on each side of the fracture.
SCREWS_EACH_SIDE: Mapping[str, SideNote] = {
    "femur shaft": SideNote(3, f"{_AO}, femoral shaft, 32-A3"),
    "humerus shaft": SideNote(3, f"{_AO}, humeral shaft, oblique (an earlier page: 4 holes)"),
    "tibia shaft": SideNote(3, f"{_AO}, tibial shaft, oblique"),
    "forearm": SideNote(3, "common practice: six cortices"),
    "fibula": SideNote(3, f"{_AO}, malleoli, protecting plate"),
    "metacarpal": SideNote(2, f"{_AO}, metacarpals, protecting plate"),
    "face": SideNote(2, f"{_AO}, zygoma"),
}
#: Per cent of the underside with no bone below.
HANGS = 25.0
#: mm between a plate and what stands out of the bone beside it.
BODY_CLEAR = 0.5
#: mm that a plate, bent to the bone, may lie off the place given for it.
OFF_LINE = 2.0
#: mm into bone: what periosteum and the rounding of a mesh give, and half as much again.
CUT_MOST = 0.3
_HEYWORTH = "Heyworth et al. 2013, J Bone Joint Surg Am 95:526 (abstract), children's distal femur"


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


def _one(
    rule: str, subject: str, measured: float, unit: str, source: str, words: Mapping[Verdict, str],
    **limits: float | None,
) -> Finding:  # fmt: skip
    verdicts, limit = grade(np.array([measured]), **limits)  # type: ignore[arg-type]
    verdict = Verdict(int(verdicts[0]))
    known, bound = np.isfinite(measured), float(limit[0])
    said = words[verdict].format(measured=f"{measured:.1f}", limit=f"{bound:g}")
    return Finding(
        rule=rule, subject=subject, verdict=verdict, measured=measured if known else None,
        limit=bound if np.isfinite(bound) else None, unit=unit, why=said, source=source,
    )  # fmt: skip


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
    return _one(
        "screws_each_side", subject, float(screws), "screws", source,
        {
            Verdict.PASS: f"{one}; at least {{limit}} are wanted.",
            Verdict.FAIL: f"{one}, and {{limit}} are the least: choose a longer plate or fill "
            "another hole.",
        },
        fail_below=float(least),
    )  # fmt: skip


def hole_over_fracture(subject: str, along: float, half: float, *, filled: bool) -> Finding:
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

    Returns
    -------
    Finding
    """
    return _one(
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


def hole_cone(subject: str, share: float) -> Finding:
    """Whether a screw lies within the cone of its hole.

    Parameters
    ----------
    subject : str
        The screw.
    share : float
        Its tilt as a share of what the hole allows; NaN is unknown.

    Returns
    -------
    Finding
    """
    return _one(
        "hole_cone", subject, share, "share", "the plate's row in the catalogue",
        {
            Verdict.PASS: "The screw lies within what its hole allows.",
            Verdict.UNKNOWN: "The screw tilts in its hole, and no source tells how far it may.",
            Verdict.FAIL: "The screw tilts {measured} times as far as its hole allows: put it "
            "beside the plate, or less square.",
        },
        fail_above=1.0,
    )  # fmt: skip


def plate_fit(subject: str, gap: Floats, limits: Limits) -> Finding:
    """Whether a plate without fixed angles lies on the bone where its screws pull.

    Parameters
    ----------
    subject : str
        The plate.
    gap : (n,) float array, mm
        At each screw; NaN: no bone below.
    limits : Limits
        ``plate_fit``, mm.

    Returns
    -------
    Finding
        On the greatest gap.
    """
    return _one(
        "plate_fit", subject, float(np.max(np.maximum(gap, 0.0), initial=0.0)), "mm",
        f"{_AO}, dog humerus: contoured exactly; the limit is an assumption",
        {
            Verdict.PASS: "At its screws the plate stands no more than {measured} mm off the bone.",
            Verdict.UNKNOWN: "At one of its screws the plate has no bone below it.",
            Verdict.CAUTION: "At one of its screws the plate stands {measured} mm off the bone, "
            "and tightening it pulls the bone there: bend the plate further, or leave the hole.",
        },
        caution_above=limits.plate_fit,
    )  # fmt: skip


def plate_bend(subject: str, flatwise: Floats, most: float | None, limits: Limits) -> Finding:
    """Whether a plate is bent more at one place than it bears.

    Parameters
    ----------
    subject : str
        The plate.
    flatwise : (b,) float array, degrees
        Of each bridge between holes.
    most : float or None, degrees
        What the plate's row allows; None: ``plate_bend``.
    limits : Limits
        ``plate_bend``, degrees.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_bend", subject, float(np.abs(flatwise).max(initial=0.0)), "degrees",
        f"{_WHEELESS}, reconstruction plates; for other plates an assumption",
        {
            Verdict.PASS: "No bend between two holes is greater than {measured} degrees.",
            Verdict.FAIL: "A bend of {measured} degrees between two holes is more than the plate "
            "bears, {limit}: choose another place or a softer plate.",
        },
        fail_above=limits.plate_bend if most is None else most,
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
    return _one(
        "antiglide_hole", subject, along, "mm", f"{_AO}, malleoli, antiglide plate",
        {
            Verdict.PASS: "The nearest hole lies {measured} mm from the fracture line.",
            Verdict.UNKNOWN: "How far the nearest hole lies from the fracture line cannot be told.",
            Verdict.CAUTION: "The nearest hole lies {measured} mm from the fracture line, "
            f"{limits.plate_hole_least:g} to {limits.plate_hole_most:g} are wanted: slide the "
            "plate along the shaft.",
        },
        caution_below=limits.plate_hole_least, caution_above=limits.plate_hole_most,
    )  # fmt: skip


def growth_plate_distance(subject: str, distance: float, limits: Limits) -> Finding:
    """Whether a plate ends far enough from a growth plate.

    Parameters
    ----------
    subject : str
        The plate.
    distance : float, mm
        From its end to the growth plate; NaN is unknown.
    limits : Limits
        ``growth_plate``, mm.

    Returns
    -------
    Finding
    """
    return _one(
        "growth_plate_distance", subject, distance, "mm",
        _HEYWORTH,
        {
            Verdict.PASS: "The plate ends {measured} mm from the growth plate.",
            Verdict.UNKNOWN: "How far the plate ends from the growth plate cannot be told.",
            Verdict.CAUTION: "The plate ends {measured} mm from the growth plate; up to {limit} mm "
            "the bone may grow crooked: choose a shorter plate, or take it out early.",
        },
        caution_below=limits.growth_plate,
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
    return _one(
        "eccentric_screws", subject, float(screws), "screws",
        f"{_WHEELESS}, theory of compression plates",
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


def plate_on_bone(subject: str, share: float) -> Finding:
    """Whether a plate lies on bone from end to end.

    Parameters
    ----------
    subject : str
        The plate.
    share : float
        Share of its underside with no bone below.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_on_bone", subject, 100.0 * share, "%", "common practice; the limit is an assumption",
        {
            Verdict.PASS: "Bone lies below the whole plate, but for {measured} % of it.",
            Verdict.FAIL: "Under {measured} % of the plate there is no bone ({limit} is the most): "
            "choose a shorter plate, or slide it.",
        },
        fail_above=HANGS,
    )  # fmt: skip


def plate_meets_screw(subject: str, gap: float) -> Finding:
    """Whether a plate lies on the head, or on the tip, of a screw beside it.

    Parameters
    ----------
    subject : str
        The plate and the screw.
    gap : float, mm
        Between the two; NaN is unknown.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_meets_screw", subject, gap, "mm", "geometry; the least gap is an assumption",
        {
            Verdict.PASS: "The plate keeps {measured} mm from head and tip of the screw beside it.",
            Verdict.UNKNOWN: "Whether the plate meets the screw cannot be told.",
            Verdict.FAIL: "The plate meets the head or the tip of the screw beside it: slide the "
            "plate, or move the screw.",
        },
        fail_below=BODY_CLEAR,
    )  # fmt: skip


def side_open(subject: str) -> Finding:
    """Say that nobody told from which side the bone can be reached.

    Parameters
    ----------
    subject : str
        The plate.

    Returns
    -------
    Finding
        Always unknown.
    """
    return Finding(
        rule="plate_side", subject=subject, verdict=Verdict.UNKNOWN, measured=None, limit=None,
        unit="", source="the case",
        why="Whether the bone can be reached where the plate lies cannot be told: name its side in "
        "plate.side, or the open side in screws.approach.",
    )  # fmt: skip


def plate_clear(subject: str, joint: str, distance: float, clearance: float) -> Finding:
    """Whether a plate keeps away from a joint surface.

    Parameters
    ----------
    subject : str
        The plate.
    joint : str
        Name of the joint.
    distance : float, mm
        From its underside to the joint; NaN is unknown.
    clearance : float, mm
        That the joint asks for.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_clear", subject, distance, "mm", "the case",
        {
            Verdict.PASS: f"The plate keeps {{measured}} mm from {joint}.",
            Verdict.UNKNOWN: f"How far the plate lies from {joint} cannot be told.",
            Verdict.CAUTION: f"The plate comes within {{measured}} mm of {joint}, and {{limit}} "
            "are asked for: slide it, or decide that it may lie so near.",
        },
        caution_below=clearance,
    )  # fmt: skip


def off_its_line(subject: str, distance: float) -> Finding:
    """Whether a plate that is bent to the bone lies where the case puts it.

    Parameters
    ----------
    subject : str
        The plate.
    distance : float, mm
        Farthest of the points given from it.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_place", subject, distance, "mm", "the case; the limit is an assumption",
        {
            Verdict.PASS: "The plate lies within {measured} mm of the place that was given.",
            Verdict.CAUTION: "Bent to the bone the plate lies up to {measured} mm off the place "
            "that was given, more than {limit}: it cannot lie there, so look at where it does.",
        },
        caution_above=OFF_LINE,
    )  # fmt: skip


def plate_cuts(subject: str, depth: float) -> Finding:
    """Whether a plate, as it is bent, would have to cut into bone.

    Parameters
    ----------
    subject : str
        The plate.
    depth : float, mm
        Deepest place.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_cuts", subject, depth, "mm", "geometry; the limit is an assumption",
        {
            Verdict.PASS: "The plate lies on the bone, no deeper than {measured} mm into it.",
            Verdict.FAIL: "The plate would cut {measured} mm into bone as it is bent ({limit} is "
            "the most): choose another place.",
        },
        fail_above=CUT_MOST,
    )  # fmt: skip
