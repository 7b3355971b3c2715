"""Rules on plates: fit, bends, holes, screws on either side. Sources stand beside each limit."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.checks._types import Finding, Verdict, grade
from trajplan.errors import CaseError
from trajplan.implants import nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Floats

__all__ = [
    "SCREWS_EACH_SIDE",
    "SideNote",
    "antiglide_hole",
    "eccentric_screws",
    "growth_plate_distance",
    "hole_cone",
    "hole_over_fracture",
    "plate_bend",
    "plate_density",
    "plate_fit",
    "screws_each_side",
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
#: mm between a plate without fixed angles and bone at a screw: tightening it pulls the bone to
#: the plate. "Must be anatomically contoured" (AO, dog humerus); how much is an assumption.
FIT_MOST = 1.0
#: Degrees in one bridge (Wheeless, reconstruction plates); for other plates an assumption.
BEND_MOST = 15.0
#: mm from the fracture line of the hole nearest to it, of an antiglide plate (AO, malleoli).
ANTIGLIDE = (3.0, 5.0)
#: mm from a plate's end to the growth plate of the distal femur in children; at 20 and less it
#: goes with a bone that grows crooked (Heyworth et al. 2013, J Bone Joint Surg Am, abstract).
GROWTH = 20.0
#: Eccentric screws past which more are rarely of use (Wheeless, theory of compression plates).
ECCENTRIC_MOST = 2


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


def screws_each_side(subject: str, region: str, screws: int) -> Finding:
    """Whether a side of the fracture holds enough screws.

    Parameters
    ----------
    subject : str
        The plate and the side.
    region : str
        A key of `SCREWS_EACH_SIDE`.
    screws : int
        Screws through both walls on that side.

    Returns
    -------
    Finding

    Raises
    ------
    CaseError
        If the region is not known.
    """
    if region not in SCREWS_EACH_SIDE:
        raise CaseError(
            f'no number of screws is known for "{region}"',
            remedy=nearest(region, SCREWS_EACH_SIDE),
            where="plate, region",
        )
    least, source = SCREWS_EACH_SIDE[region]
    return _one(
        "screws_each_side", subject, float(screws), "screws", source,
        {
            Verdict.PASS: f"{screws} screws hold this side; at least {{limit}} are wanted.",
            Verdict.FAIL: f"{screws} screws hold this side, and {{limit}} are the least: choose a "
            "longer plate or fill another hole.",
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


def plate_fit(subject: str, gap: Floats) -> Finding:
    """Whether a plate without fixed angles lies on the bone where its screws pull.

    Parameters
    ----------
    subject : str
        The plate.
    gap : (n,) float array, mm
        At each screw; NaN: no bone below.

    Returns
    -------
    Finding
        On the greatest gap.
    """
    return _one(
        "plate_fit", subject, float(np.max(np.maximum(gap, 0.0))), "mm",
        f"{_AO}, dog humerus: contoured exactly; the limit is an assumption",
        {
            Verdict.PASS: "At its screws the plate stands no more than {measured} mm off the bone.",
            Verdict.UNKNOWN: "At one of its screws the plate has no bone below it.",
            Verdict.CAUTION: "At one of its screws the plate stands {measured} mm off the bone, "
            "and tightening it pulls the bone there: bend the plate further, or leave the hole.",
        },
        caution_above=FIT_MOST,
    )  # fmt: skip


def plate_bend(subject: str, flatwise: Floats, most: float | None) -> Finding:
    """Whether a plate is bent more at one place than it bears.

    Parameters
    ----------
    subject : str
        The plate.
    flatwise : (b,) float array, degrees
        Of each bridge between holes.
    most : float or None, degrees
        What the plate's row allows; None: `BEND_MOST`.

    Returns
    -------
    Finding
    """
    return _one(
        "plate_bend", subject, float(np.abs(flatwise).max()), "degrees",
        f"{_WHEELESS}, reconstruction plates; for other plates an assumption",
        {
            Verdict.PASS: "No bend between two holes is greater than {measured} degrees.",
            Verdict.FAIL: "A bend of {measured} degrees between two holes is more than the plate "
            "bears, {limit}: choose another place or a softer plate.",
        },
        fail_above=BEND_MOST if most is None else most,
    )  # fmt: skip


def antiglide_hole(subject: str, along: float) -> Finding:
    """Whether the hole nearest the fracture of an antiglide plate lies where it should.

    Parameters
    ----------
    subject : str
        The hole.
    along : float, mm
        From the hole's rim to the fracture line, on the shaft's side; NaN is unknown.

    Returns
    -------
    Finding
    """
    return _one(
        "antiglide_hole", subject, along, "mm", f"{_AO}, malleoli, antiglide plate",
        {
            Verdict.PASS: "The nearest hole lies {measured} mm from the fracture line.",
            Verdict.UNKNOWN: "How far the nearest hole lies from the fracture line cannot be told.",
            Verdict.CAUTION: "The nearest hole lies {measured} mm from the fracture line, 3 to 5 "
            "are taught: slide the plate along the shaft.",
        },
        caution_below=ANTIGLIDE[0], caution_above=ANTIGLIDE[1],
    )  # fmt: skip


def growth_plate_distance(subject: str, distance: float) -> Finding:
    """Whether a plate ends far enough from a growth plate.

    Parameters
    ----------
    subject : str
        The plate.
    distance : float, mm
        From its end to the growth plate; NaN is unknown.

    Returns
    -------
    Finding
    """
    return _one(
        "growth_plate_distance", subject, distance, "mm",
        "Heyworth et al. 2013, J Bone Joint Surg Am 95:526 (abstract), children's distal femur",
        {
            Verdict.PASS: "The plate ends {measured} mm from the growth plate.",
            Verdict.UNKNOWN: "How far the plate ends from the growth plate cannot be told.",
            Verdict.CAUTION: "The plate ends {measured} mm from the growth plate; up to {limit} mm "
            "the bone may grow crooked: choose a shorter plate, or take it out early.",
        },
        caution_below=GROWTH,
    )  # fmt: skip


def eccentric_screws(subject: str, screws: int, left: float) -> Finding:
    """Whether as many eccentric screws can do their work.

    Parameters
    ----------
    subject : str
        The plate.
    screws : int
        In one fragment.
    left : float, mm
        Travel left to the first, as from `trajplan.plate.plate_travel`; NaN is unknown.

    Returns
    -------
    Finding
    """
    stuck = left < 0.0
    return _one(
        "eccentric_screws", subject, float(screws), "screws",
        f"{_WHEELESS}, theory of compression plates",
        {
            Verdict.PASS: f"{screws} eccentric screws press the fracture.",
            Verdict.CAUTION: f"{screws} eccentric screws in one fragment"
            + (", and the first meets the end of its hole" if stuck else "")
            + ": more than two rarely press more, so reduce the fracture closer instead.",
        },
        caution_above=float(screws - 1 if stuck else ECCENTRIC_MOST),
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
