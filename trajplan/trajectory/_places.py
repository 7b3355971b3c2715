"""Where entries lie, told from what hands can find: ends, fracture, clock, landmarks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import distance_to_outline, outline
from trajplan.geometry import DIRECTIONS, OPPOSITE, anatomy_directions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.bone import ShaftAxis
    from trajplan.fracture import Zone

__all__ = ["Bearings", "Places", "bearings_of", "places_of"]

#: Cosine of the angle to the shaft within which a direction does not tell what side of it is
#: meant: 45 degrees.
ALONG = float(np.cos(np.radians(45.0)))
#: Sine of half an eighth of the round: less to a side is not worth a word.
EIGHTH = float(np.sin(np.radians(22.5)))
#: First halves of words for what lies between two sides.
STEMS = {"anterior": "antero", "posterior": "postero", "superior": "supero", "inferior": "infero"}


@dataclass(frozen=True, slots=True, eq=False)
class Bearings:
    """What places on a bone are told from."""

    shaft: ShaftAxis
    seen: Vec3  # (3,) unit, along the shaft to the end that the clock is seen from
    ends: tuple[str, str]  # name of that end, and of the other
    twelve: Vec3  # (3,) unit, across the shaft: twelve o'clock
    twelve_name: str  # what lies there
    anatomical: bool  # whether the frame names directions of the body
    sides: tuple[tuple[str, Vec3], ...]  # names and unit directions in which offsets are told
    tips: tuple[float, float]  # mm along `seen` from the shaft's point; NaN without a shaft
    zones: tuple[Zone, ...]
    landmarks: tuple[str, ...]
    points: Vec3s  # (k, 3) mm, of the landmarks

    @property
    def found(self) -> bool:
        """Whether the bone has a shaft to count along and round."""
        return self.shaft.found

    def facing(self, clock: float) -> str:
        """Side of the shaft that lies at a time of the clock, in words; empty: none is named.

        Parameters
        ----------
        clock : float, degrees
            Clockwise from twelve.

        Returns
        -------
        str
            Such as "anterolateral", for an eighth of the round.
        """
        if not self.anatomical:
            return ""
        turn = np.radians(clock)
        out = np.cos(turn) * self.twelve + np.sin(turn) * np.cross(self.twelve, self.seen)
        across = [
            (name, float(way @ out)) for name, way in self.sides if abs(way @ self.seen) < ALONG
        ]
        near = [name for name, share in across if share > EIGHTH]
        front = next((stem for name, stem in STEMS.items() if name in near), None)
        side = next((name for name in near if name in ("medial", "lateral")), None)
        if len(near) == 2 and front is not None and side is not None:
            return front + side
        return " and ".join(near)


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where n points lie; NaN where the bone has no shaft."""

    ends: Floats  # (n, 2) mm along the shaft from the end seen from, and from the other
    tips: Floats  # (n, 2) mm along the shaft from the fracture's tip nearer to either end; above 0
    # outside the fracture's stretch, below within
    clock: Floats  # (n,) degrees clockwise from twelve, 0 to 360
    fracture: Floats  # (n,) mm, straight to the fracture line
    landmarks: Floats  # (n, k) mm, straight to each landmark
    offsets: Floats  # (n, k, s) mm from each landmark along each of `Bearings.sides`
    apart: Floats  # (n, n) mm, straight between the points
    steps: Floats  # (n, n, s) mm to each point from each other along each of `Bearings.sides`


def bearings_of(
    shaft: ShaftAxis,
    zones: Sequence[Zone],
    *,
    frame: str = "",
    side: str | None = None,
    proximal: Vec3 | None = None,
    toward: Vec3 | None = None,
    landmarks: Sequence[tuple[str, Vec3]] = (),
) -> Bearings:
    """Settle what places on a bone are told from.

    Parameters
    ----------
    shaft : ShaftAxis
        The bone's axis.
    zones : sequence of Zone
        The fracture.
    frame : str
        Letters of the coordinate frame, such as ``"LPS"``; anything else names no direction.
    side : {"left", "right"}, optional
        Side of the body: then left and right are told as medial and lateral.
    proximal : (3,) float array, optional
        Unit, roughly towards the proximal end.
    toward : (3,) float array, optional
        Unit, from the bone towards the surgeon: twelve o'clock where the frame names none.
    landmarks : sequence of (str, (3,) float array)
        Names and places (mm).

    Returns
    -------
    Bearings

    Notes
    -----
    Twelve o'clock is anterior, or superior where the shaft runs more front to back than
    otherwise. Without letters it is the side that the surgeon stands on; without that, the
    axis of the file that lies most across the shaft. The clock is seen from the proximal end,
    where the case says which that is, else from the superior (or the first-named) end.
    """
    compass = anatomy_directions(frame)
    seen, ends = _ends(shaft.direction, compass, proximal)
    twelve, name = _twelve(seen, compass, toward)
    heights = np.full(2, np.nan)
    if shaft.found:
        line = np.concatenate([ring for zone in zones for ring in outline(zone)])
        along = (line - shaft.point) @ seen
        heights = np.array([along.max(), along.min()])
    return Bearings(
        shaft=shaft,
        seen=seen,
        ends=ends,
        twelve=twelve,
        twelve_name=name,
        anatomical=bool(compass),
        sides=_sides(compass, side, seen, proximal is not None, ends),
        tips=(float(heights[0]), float(heights[1])),
        zones=tuple(zones),
        landmarks=tuple(name for name, _ in landmarks),
        points=np.array([point for _, point in landmarks]).reshape(-1, 3),
    )


def _ends(
    axis: Vec3, compass: dict[str, Vec3], proximal: Vec3 | None
) -> tuple[Vec3, tuple[str, str]]:
    """End of the shaft that the clock is seen from, and the names of both."""
    if proximal is not None:
        return np.copysign(1.0, axis @ proximal) * axis, ("proximal", "distal")
    if compass:
        letter = max("SAL", key=lambda one: abs(float(axis @ compass[one])))
        seen = np.copysign(1.0, axis @ compass[letter]) * axis
        return seen, (DIRECTIONS[letter], DIRECTIONS[OPPOSITE[letter]])
    k = int(np.abs(axis).argmax())
    return np.copysign(1.0, axis[k]) * axis, (f"+{'xyz'[k]}", f"\N{MINUS SIGN}{'xyz'[k]}")


def _twelve(seen: Vec3, compass: dict[str, Vec3], toward: Vec3 | None) -> tuple[Vec3, str]:
    offered = [(compass[one], DIRECTIONS[one]) for one in "AS" if compass]
    if toward is not None:
        offered.append((toward, "the surgeon's side"))
    across = sorted(range(3), key=lambda k: abs(float(seen[k])))
    offered += [(np.eye(3)[k], f"+{'xyz'[k]} of the file") for k in across]
    way, name = next(one for one in offered if abs(float(one[0] @ seen)) <= ALONG)
    flat = way - (way @ seen) * seen
    return flat / np.linalg.norm(flat), name


def _sides(
    compass: dict[str, Vec3],
    side: str | None,
    seen: Vec3,
    proximal: bool,
    ends: tuple[str, str],
) -> tuple[tuple[str, Vec3], ...]:
    """Six directions by name; along the shaft it is proximal and distal, where those are known."""
    if not compass:
        return tuple(
            (f"{sign}{'xyz'[k]}", value * np.eye(3)[k])
            for k in range(3)
            for sign, value in (("+", 1.0), ("\N{MINUS SIGN}", -1.0))
        )
    names = dict(DIRECTIONS)
    if side is not None:
        outer = "L" if side == "left" else "R"
        names |= {outer: "lateral", OPPOSITE[outer]: "medial"}
    if proximal:
        letter = max("LRAPSI", key=lambda one: float(seen @ compass[one]))
        names |= {letter: ends[0], OPPOSITE[letter]: ends[1]}
    return tuple((names[letter], compass[letter]) for letter in "LRAPSI")


def places_of(bearings: Bearings, points: Vec3s) -> Places:
    """Tell where points lie.

    Parameters
    ----------
    bearings : Bearings
        What they are told from.
    points : (n, 3) float array, mm
        Such as entries; a row of NaN gives NaN.

    Returns
    -------
    Places
    """
    shaft, seen = bearings.shaft, bearings.seen
    offset = points - shaft.point
    height = offset @ seen if shaft.found else np.full(len(points), np.nan)
    same = float(seen @ shaft.direction) > 0.0
    top, bottom = (shaft.high, shaft.low) if same else (-shaft.low, -shaft.high)
    right = np.cross(bearings.twelve, seen)  # to the right of who looks along -seen, twelve up
    clock = np.degrees(np.arctan2(offset @ right, offset @ bearings.twelve)) % 360.0
    away = points[:, None, :] - bearings.points[None, :, :]
    between = points[:, None, :] - points[None, :, :]
    directions = np.array([way for _, way in bearings.sides])
    return Places(
        ends=np.stack([top - height, height - bottom], axis=1),
        tips=np.stack([height - bearings.tips[0], bearings.tips[1] - height], axis=1),
        clock=np.where(np.isnan(height), np.nan, clock),
        fracture=np.min([distance_to_outline(zone, points) for zone in bearings.zones], axis=0),
        landmarks=np.linalg.norm(away, axis=2),
        offsets=away @ directions.T,
        apart=np.linalg.norm(between, axis=2),
        steps=between @ directions.T,
    )
