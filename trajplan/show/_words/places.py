"""Where an entry lies, in words that hands can follow."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.files import BearingsRecord, DistanceRecord, PlaceRecord, PlanFile

__all__ = ["clock_text", "place_parts", "place_text", "side_text"]

#: Offsets from a landmark that are told, the greatest first.
OFFSETS = 2
#: Minutes that a time of the clock is rounded to: 15 degrees, 3 mm round a bone of 24 mm.
STEP = 30


def side_text(plan: PlanFile) -> str:
    """Say which side and frame a plan is for.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        "Side not stated" where the case does not say.
    """
    side = plan.bearings.side
    said = "Side not stated" if side is None else f"{side.capitalize()} side"
    return f"{said}, frame {plan.frame}" if plan.frame else f"{said}, frame not stated"


def clock_text(degrees: float) -> str:
    """Write a direction round the shaft as a time.

    Parameters
    ----------
    degrees : float
        Clockwise from twelve.

    Returns
    -------
    str
        Such as "1:30", to the nearest half hour.
    """
    minutes = round(degrees * 2.0 / STEP) * STEP % 720  # 2 minutes a degree
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"


def place_text(place: PlaceRecord, bearings: BearingsRecord) -> str:
    """Say where an entry lies.

    Parameters
    ----------
    place : PlaceRecord
        The entry.
    bearings : BearingsRecord
        What it is told from.

    Returns
    -------
    str
        One sentence.
    """
    return "; ".join(place_parts(place, bearings)) + "."


def place_parts(place: PlaceRecord, bearings: BearingsRecord) -> list[str]:
    """Say where an entry lies, a part of the sentence for each thing that it is told from.

    Parameters
    ----------
    place : PlaceRecord
        The entry.
    bearings : BearingsRecord
        What it is told from.

    Returns
    -------
    list of str
    """
    parts = []
    if place.ends is not None and place.tips is not None and bearings.ends is not None:
        first, second = bearings.ends
        parts.append(
            f"{place.ends[0]:.0f} mm along the bone from the model's {first} end, "
            f"{place.ends[1]:.0f} from the {second}"
        )
        parts.append(_past_the_tip(place.tips, bearings.ends))
        if place.clock is not None:
            facing = f" ({place.facing})" if place.facing else ""
            parts.append(
                f"at {clock_text(place.clock)}{facing}, seen from the {first} end with 12 "
                f"{'towards ' if bearings.twelve[:1] in '+t' else ''}{bearings.twelve}"
            )
    if place.fracture is not None:
        parts.append(f"{place.fracture:.0f} mm from the nearest point of the fracture line")
    parts += [_away(mark, f'"{mark.name}"') for mark in place.landmarks]
    parts += [_away(other, entry_of(other.name)) for other in place.entries]
    if place.ends is None and not place.landmarks:
        parts.append("the case names no landmark to find it from")
    return parts


def entry_of(name: str) -> str:
    """Say which place an id means.

    Parameters
    ----------
    name : str
        Id of a screw or a wire, or of a hole of a plate.

    Returns
    -------
    str
        Such as "the entry of screw 1"; of a plate the hole itself is meant, filled or not.
    """
    return name if " hole " in name else f"the entry of {name}"


def _past_the_tip(tips: tuple[float, float], ends: tuple[str, str]) -> str:
    """How far from the nearer tip of the fracture, and which way."""
    k = int(abs(tips[1]) < abs(tips[0]))
    if round(abs(tips[k])) == 0:
        return f"level with the fracture's {ends[k]} tip"
    way = ends[k] if tips[k] >= 0.0 else ends[1 - k]
    return f"{abs(tips[k]):.0f} mm {_ward(way)} of the fracture's {ends[k]} tip"


def _ward(end: str) -> str:
    return end if end[:1].isalpha() else f"towards {end}"


def _away(mark: DistanceRecord, what: str) -> str:
    most = sorted(mark.offsets, key=lambda one: -one[1])[:OFFSETS]
    told = " and ".join(f"{value:.0f} {_ward(name)}" for name, value in most)
    return f"{mark.distance:.0f} mm from {what}" + (f" ({told})" if told else "")
