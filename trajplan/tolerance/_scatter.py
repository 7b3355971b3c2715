"""How hands err: entry, direction, and how far a drill plunges."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

import numpy as np

from trajplan.geometry import frames
from trajplan.trajectory import Axes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3s

__all__ = ["FREE_HAND", "WAYS", "Scatter", "Way", "WayWord", "joined", "scattered", "turned"]

WayWord: TypeAlias = Literal["free hand", "sleeve", "guide"]
FREE_HAND: WayWord = "free hand"


def deviation(within: float, share: float) -> float:
    """Standard deviation of an unbiased normal error from the share of tries within a bound.

    Parameters
    ----------
    within : float
        The bound, on either side.
    share : float
        Share of tries within it, above 0 and below 1.

    Returns
    -------
    float
        In the unit of the bound.
    """
    return within / NormalDist().inv_cdf((1.0 + share) / 2.0)


#: Mean length of an error that is normal about each of two axes, over its standard deviation
#: (Rayleigh's distribution).
MEAN_LENGTH = sqrt(pi / 2.0)
#: Slant at which a slanted entry was measured: the middle of 45 to 60 degrees off the normal.
SLANT = 52.5
#: Steepest slant that was drilled; past it nothing is known of a free hand.
STEEPEST = 60.0
#: Standard deviation of a plunge over its mean: 3.5 of 10.6, 4.2 of 13.0 and 5.0 of 17.2 mm
#: (Ding and Marmor 2019, J Orthop Trauma, doi 10.1097/BOT.0000000000001490, abstract).
PLUNGE_SPREAD = (3.5 / 10.6 + 4.2 / 13.0 + 5.0 / 17.2) / 3.0

_BRIOSCHI = "Brioschi et al. 2016, Vet Rec Open, doi 10.1136/vetreco-2016-000172"


class Way(NamedTuple):
    """A way of drilling, and its spread."""

    entry: float  # mm, along each of two directions across the axis
    direction: float  # degrees, about each of two axes, where the axis meets the bone squarely
    slant: float  # degrees more at a slant of `SLANT`
    how: str  # as a sentence says it
    source: str


_SQUARE, _SLANTED = deviation(4.0, 0.845), deviation(4.0, 0.20)
#: Error along and across the ridge of a jaw of implants drilled free hand where a plan on a CT
#: wanted them: mean and deviation of its size, 0.87 (0.75) and 0.70 (0.66) mm. Root mean square
#: of the two, 1.06 mm: a mean length of 1.3 mm, as that of navigated drilling.
_ENTRY = sqrt((0.87**2 + 0.75**2 + 0.70**2 + 0.66**2) / 2.0)
_FREE_ENTRY = (
    "Factors Influencing the Accuracy of Freehand Implant Placement, Dent J 2021; 9(5):54, "
    "abstract: 0.87 (0.75) and 0.70 (0.66) mm along and across the jaw, 52 patients; 1.3 mm on "
    "average of navigated drilling is no less (J Orthop Trauma 2005; 19:317, abstract)"
)
#: Ways of drilling, each more trouble than the one before.
WAYS: dict[WayWord, Way] = {
    "free hand": Way(
        _ENTRY,
        _SQUARE,
        _SLANTED - _SQUARE,
        "free hand",
        f"{_BRIOSCHI}, abstract: within 4 degrees in 84.5 % at a right angle, in about 20 % at 45 "
        f"to 60 degrees off the normal; entry: {_FREE_ENTRY}",
    ),
    "sleeve": Way(
        _ENTRY,
        2.75 / MEAN_LENGTH,
        0.0,
        "through a sleeve or an aiming arm",
        "Neal et al. 2023, Vet Surg, doi 10.1111/vsu.13952, abstract: 1.9 and 3.6 degrees on "
        "average with an aiming device; entry: no better than a free hand's (Kershaw et al. "
        "2025, doi 10.1055/a-2510-3720, abstract: a fitted guide places the entry better); "
        "that a sleeve does not skid on a slant: assumption",
    ),
    "guide": Way(
        0.66 / MEAN_LENGTH,
        2.72 / MEAN_LENGTH,
        0.0,
        "through a guide that fits the bone",
        "Accuracy assessment of pedicle and lateral mass screw insertion assisted by customized "
        "3D-printed drill guides: a human cadaver study, abstract: 0.66 mm and 2.72 degrees on "
        "average with the final design of the guide",
    ),
}


@dataclass(frozen=True, slots=True)
class Scatter:
    """Standard deviations of drilling, and the draws that are made.

    Notes
    -----
    A hand's direction is worse the more the axis slants to the bone, in the plane of the slant,
    where it was measured; across it nothing makes the drill skid. Two slants were measured;
    between them the spread is taken to grow with the square of the slant, the simplest law that
    leans neither way. The plunge of 5.1 mm is the mean of experienced hands with a sharp drill
    (Clement et al. 2012, J Orthop Trauma 26:482, doi 10.1097/BOT.0b013e3182336ec3, abstract).
    """

    entry: float = WAYS[FREE_HAND].entry  # mm, along each of two directions across the axis
    direction: float = WAYS[FREE_HAND].direction  # degrees, about each of two axes, on a square
    slant: float = WAYS[FREE_HAND].slant  # degrees more at a slant of `SLANT`
    plunge: float = 5.1  # mm, on average
    draws: int = 1000
    seed: int = 0

    def at(self, slant: Floats) -> Floats:
        """Standard deviation of the direction at a slant, in its plane.

        Parameters
        ----------
        slant : (n,) float array, degrees
            Between axis and normal of the near wall; NaN is taken for square.

        Returns
        -------
        (n,) float array, degrees
        """
        share = np.fmin(np.nan_to_num(slant, nan=0.0), STEEPEST) / SLANT
        spread: Floats = self.direction + self.slant * share**2
        return spread


class Tries(NamedTuple):
    """Axes as hands drill them, the tries of each planned axis together."""

    axes: Axes  # n * draws
    plunge: Floats  # (n * draws,) mm that the gliding drill goes on in the open
    beyond: Floats  # (n * draws,) mm that the drill goes on behind the far wall


def joined(parts: Sequence[Tries]) -> Tries:
    """Tries of several ways, one after the other.

    Parameters
    ----------
    parts : sequence of Tries
        At least one.

    Returns
    -------
    Tries
    """
    origin, direction = (
        np.concatenate([getattr(part.axes, name) for part in parts])
        for name in ("origin", "direction")
    )
    plunge, beyond = (np.concatenate(arrays) for arrays in list(zip(*parts, strict=True))[1:])
    return Tries(Axes(origin, direction), plunge, beyond)


def scattered(axes: Axes, slope: Floats, scatter: Scatter) -> Tries:
    """Draw axes as hands would drill them, round each planned axis.

    Parameters
    ----------
    axes : Axes
        ``n`` axes whose origin is the entry.
    slope : (n, 2) float array
        How the near wall falls away, as from `trajplan.trajectory.wall_slope`.
    scatter : Scatter
        Standard deviations, draws and seed. Errors of another size are the same draws, larger
        or smaller: what two ways of drilling come to is compared try by try.

    Returns
    -------
    Tries
    """
    n, draws = len(axes), scatter.draws
    rng = np.random.default_rng(scatter.seed)
    shift = scatter.entry * rng.normal(size=(n, draws, 2))
    turn = rng.normal(size=(n, draws, 2))
    steep = np.nan_to_num(np.hypot(slope[:, 0], slope[:, 1]), nan=0.0)
    down = np.where(steep[:, None] > 0.0, slope / np.where(steep > 0.0, steep, 1.0)[:, None], 0.0)
    more = scatter.at(np.degrees(np.arctan(steep))) - scatter.direction
    along = np.einsum("ndk,nk->nd", turn, more[:, None] * down)
    tilt = np.radians(scatter.direction * turn + along[:, :, None] * down[:, None])
    plunges = scatter.plunge * np.fmax(1.0 + PLUNGE_SPREAD * rng.normal(size=(2, n * draws)), 0.0)
    return Tries(turned(axes, shift, tilt), plunges[0], plunges[1])


def turned(axes: Axes, shift: Floats, tilt: Floats) -> Axes:
    """Shift and turn axes about their entries.

    Parameters
    ----------
    axes : Axes
        ``n`` axes whose origin is the entry.
    shift : (n, d, 2) float array, mm
        Shift across the axis.
    tilt : (n, d, 2) float array, radians
        Turn of the direction towards each of the same two directions; its length is the
        angle turned through.

    Returns
    -------
    Axes
        ``n * d`` axes. Their origin lies `STAND_BACK` before the shifted entry, so that the
        entry is found anew on the surface.
    """
    frame = frames(axes.direction)
    across = np.einsum("ndk,nkj->ndj", shift, frame[:, :2])
    angle = np.linalg.norm(tilt, axis=2)[..., None]
    towards = np.einsum("ndk,nkj->ndj", tilt, frame[:, :2]) / np.where(angle > 0.0, angle, 1.0)
    direction: Vec3s = np.cos(angle) * frame[:, None, 2] + np.sin(angle) * towards
    origin = axes.origin[:, None] + across - STAND_BACK * direction
    return Axes.along(origin.reshape(-1, 3), direction.reshape(-1, 3))


#: Distance before the planned entry from which a drill's way is followed: past the rise
#: of any wall that a drill can be set on, short of the next piece of bone.
STAND_BACK = 10.0
