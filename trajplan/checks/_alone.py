"""Whether lag screws will do without something that protects them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import LIMIT_SLACK, Finding, Verdict

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits

__all__ = ["end_alone", "pulled_apart", "screws_alone"]

#: Screws that must hold a fracture alone: the published minimum.
LEAST_COUNT = 2
#: What answers each weakness of a fixation by lag screws alone, or that nobody knows how strong
#: it is (common practice). A cast spares screws that hold by themselves; it does not hold a short
#: fracture, nor soft bone.
_ANSWERED = {
    "poor": ("plate", "buttress"),
    "short": ("plate", "buttress"),
    "few": ("plate", "buttress"),
    "large": ("plate", "buttress", "cast"),
    "pulled": ("tension band", "plate"),
    "untold": ("plate", "buttress"),
}
_DECIDE = "Decide on it, or name in screws.protection what protects the screws."
_SOURCE = (
    "AO Foundation, online surgery reference, metacarpal shaft, oblique, and malleoli, lag "
    "screw; Wheeless' Textbook of Orthopaedics, lag screw theory"
)


def end_alone(count: int, *, poor: bool = False, protection: str = "none") -> Finding:
    """Say whether lag screws may hold the fracture of a bone end, or of a short bone, alone.

    Parameters
    ----------
    count : int
        Lag screws in the plan that cross the fracture.
    poor : bool
        Whether the case takes the bone for poor.
    protection : str
        What protects the screws, as the case says: "none", "plate", "cast", "buttress" or
        "tension band".

    Returns
    -------
    Finding
        For the plan as a whole; measures the lag screws. Never a failure: what is added is
        the surgeon's choice, but a caution names the choice.

    References
    ----------
    .. [1] AO Foundation, online surgery reference, malleoli, lag screws: two or three alone
       where the fragment is large and the bone good; else a buttress plate is more secure.
    .. [2] J Orthop Surg Res 2023, doi 10.1186/s13018-023-03889-0, abstract: of vertical
       fractures of the medial ankle bone 10 of 61 fixed by screws alone came loose, of those
       with screws and a buttress plate one.
    """
    answers = (
        ("poor", poor, f"{_POOR}. At a bone end {_BUTTRESS}"),
        ("few", count < LEAST_COUNT, f"{_few(count)}: a second screw or a plate is the answer"),
    )
    fine = f"{count} lag screws hold a bone end that the case does not call poor"
    return _finding(float(count), float(LEAST_COUNT), "screws", answers, fine, protection)


_POOR = "The bone is poor, as the case says: lag screws alone cut out of soft bone"
_BUTTRESS = "a buttress plate is the usual answer"
_LOCKED = "a protecting plate with screws locked to it at fixed angles is the usual answer"


def _few(count: int) -> str:
    return "One lag screw holds it" if count == 1 else "No lag screw holds it"


def screws_alone(
    length: float,
    diameter: float,
    count: int,
    limits: Limits,
    *,
    poor: bool = False,
    protection: str = "none",
) -> Finding:
    """Say whether lag screws may hold the fracture of a shaft alone.

    Parameters
    ----------
    length : float, mm
        Length of the fracture along the shaft; NaN where nobody knows that it is one of a
        shaft.
    diameter : float, mm
        Diameter of the shaft at the fracture; NaN likewise.
    count : int
        Lag screws in the plan that cross the fracture.
    limits : Limits
        ``alone_length``, in bone diameters, and ``alone_diameter``, mm.
    poor : bool
        Whether the case takes the bone for poor.
    protection : str
        What protects the screws, as the case says; see `end_alone`.

    Returns
    -------
    Finding
        For the plan as a whole; measures the length in bone diameters. Never a failure:
        whether a plate is added is the surgeon's choice, but a caution says that it is
        usual. A long fracture of a large bone is cautioned too.

    References
    ----------
    .. [1] AO Foundation, online surgery reference, metacarpal shaft, oblique fracture: at
       least two screws and a fracture of twice the bone's diameter; else a plate.
    .. [2] Wheeless' Textbook of Orthopaedics, lag screw theory: two lag screws without a
       plate have failed in long bones.
    """
    ratio = float(length / diameter) if diameter > 0.0 else float("nan")
    told = bool(np.isfinite(ratio))
    long = f"The fracture is {ratio:.1f} bone diameters long"
    plate = "lag screws alone are not enough: a protecting plate is the usual answer"
    large = (
        f"{long}, but in a large long bone ({diameter:.0f} mm across) lag screws without a plate "
        "have failed: a protecting plate is usual all the same"
    )
    short = ratio < limits.alone_length - LIMIT_SLACK
    answers = (
        ("poor", poor and told, f"{_POOR}. In a shaft {_LOCKED}"),
        ("poor", poor, f"{_POOR}. At a bone end {_BUTTRESS}, in a shaft {_LOCKED}"),
        ("short", short, f"{long}, less than {limits.alone_length:.1f}: {plate}"),
        ("few", told and count < LEAST_COUNT, f"{long}, but {_few(count).lower()}: {plate}"),
        ("large", told and diameter >= limits.alone_diameter, large),
        ("untold", not told, _UNTOLD),
    )
    fine = f"{long}, with {count} lag screws: a fracture so long may be held by screws alone"
    return _finding(ratio, limits.alone_length, "bone diameters", answers, fine, protection)


def _finding(
    measured: float,
    limit: float,
    unit: str,
    answers: tuple[tuple[str, bool, str], ...],
    fine: str,
    protection: str,
) -> Finding:
    """The first weakness that nothing answers; else that something does, or that there is none."""
    weak = [(name, why) for name, found, why in answers if found]
    bare = [(name, why) for name, why in weak if protection not in _ANSWERED[name]]
    verdict, said = Verdict.PASS, f"{fine}."
    if bare:
        name, why = bare[0]
        verdict = Verdict.UNKNOWN if name == "untold" else Verdict.CAUTION
        said = why if name == "untold" else f"{why}. {_DECIDE}"
    elif weak:
        kind = "buttress plate" if protection == "buttress" else protection
        said = f"The screws are protected by a {kind}, as the case says."
    return Finding(
        rule="screws_alone",
        subject="plan",
        verdict=verdict,
        measured=measured if np.isfinite(measured) else None,
        limit=limit,
        unit=unit,
        why=said,
        source=_SOURCE,
    )


_UNTOLD = (
    "Whether lag screws alone will do cannot be told: there is no shaft to measure the fracture "
    'against, or it lies near an end of it. Say in bone.place whether it is a "shaft" or an "end".'
)


def pulled_apart(*, pulled: bool, protection: str = "none") -> Finding | None:
    """Caution lag screws alone where a tendon or ligament pulls the fragments apart.

    Parameters
    ----------
    pulled : bool
        Whether the case says so, as of a kneecap or the tip of an elbow broken across.
    protection : str
        What protects the screws, as the case says; see `end_alone`.

    Returns
    -------
    Finding or None
        For the plan as a whole; None where nothing pulls.

    References
    ----------
    .. [1] BMC Musculoskelet Disord 2018, doi 10.1186/s12891-018-2092-9, abstract: displaced
       transverse fractures of the kneecap are most often fixed by tension band wiring.
    .. [2] BMC Musculoskelet Disord 2020, doi 10.1186/s12891-020-03744-x, abstract: two parallel
       screws with a wire as a tension band; the gap opens less with the wire.
    """
    if not pulled:
        return None
    safe = protection in _ANSWERED["pulled"]
    why = (
        f"A pull takes the fragments apart, and a {protection} takes it up, as the case says."
        if safe
        else "A tendon or ligament pulls the fragments apart, as the case says: lag screws alone "
        "bend or give way under that pull. A tension band, which turns it into pressure, is the "
        f"usual answer. {_DECIDE}"
    )
    return Finding(
        rule="pulled_apart",
        subject="plan",
        verdict=Verdict.PASS if safe else Verdict.CAUTION,
        measured=None,
        limit=None,
        unit="",
        why=why,
        source="common practice; BMC Musculoskelet Disord 2018, doi 10.1186/s12891-018-2092-9, "
        "abstract (kneecap broken across)",
    )
