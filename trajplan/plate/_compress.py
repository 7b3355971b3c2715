"""Axial compression by a plate: which fragment first, and how far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions
from trajplan.errors import CaseError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.implants import Plate

__all__ = ["FirstFragment", "Travel", "first_fragment", "plate_travel"]

#: Degrees that the fracture must lean for one fragment to come first (assumption: what a
#: fracture's normal is known to).
LEAN = 5.0


@dataclass(frozen=True, slots=True)
class FirstFragment:
    """The fragment that the plate is fixed to first."""

    name: str | None  # None: either will do
    other: str | None
    lean: float  # degrees that the first fragment's fracture surface leans towards the plate
    why: str  # one sentence


@dataclass(frozen=True, slots=True)
class Travel:
    """How far eccentric screws move a plate along the bone."""

    shift: float  # mm, in all; NaN: no source names that of one screw
    loosen: tuple[int, ...]  # screws, from 1, that are loosened before the next is tightened
    left: float  # mm that the first screw's head can still travel at the end; NaN: not known


def first_fragment(normal: ArrayLike, out: ArrayLike, names: tuple[str, str]) -> FirstFragment:
    """Which fragment is fixed to the plate first, by a neutral screw.

    Parameters
    ----------
    normal : (3,) array_like
        Of the fracture, pointing out of the first of the two fragments named.
    out : (3,) array_like
        From the bone to the plate, over the fracture.
    names : tuple of two str
        The fragments.

    Returns
    -------
    FirstFragment

    Notes
    -----
    "Inserted on the side of the plate where the fracture forms an obtuse angle with the
    plate" (AO Foundation, online surgery reference, tibial shaft, oblique); "the first screw
    is inserted in the fragment whose spike is farthest from the plate" (Wheeless' Textbook of
    Orthopaedics, theory of compression plates). Both say that the fracture's normal out of
    that fragment points towards the plate: pushed home, the other fragment is then pressed
    against the plate and cannot slide off.
    """
    lean = float(np.degrees(np.arcsin(np.clip(
        as_directions(normal)[0] @ as_directions(out)[0], -1.0, 1.0
    ))))  # fmt: skip
    if abs(lean) <= LEAN:
        return FirstFragment(
            None, None, abs(lean),
            "Either fragment may come first: under the plate the fracture runs straight across.",
        )  # fmt: skip
    first, other = names if lean > 0.0 else names[::-1]
    return FirstFragment(
        first, other, abs(lean),
        f"Fix {first} first: its fracture makes an obtuse angle with the plate, and {other}, "
        "pushed home, is caught between the plate and the fracture.",
    )  # fmt: skip


def plate_travel(plate: Plate, screws: int) -> Travel:
    """How far eccentric screws, one after the other in one fragment, move a plate.

    Parameters
    ----------
    plate : Plate
        With sloped holes.
    screws : int
        Eccentric screws, at least one.

    Returns
    -------
    Travel
        `left` below 0: the first screw's head meets its hole's end before the last has done
        its work.

    Raises
    ------
    CaseError
        If the plate's holes do not slope, or there is no screw.

    Notes
    -----
    The first screw is loosened by one or two turns, the next tightened, the first tightened
    again (Wheeless' Textbook of Orthopaedics, theory of compression plates).
    """
    if plate.hole.form != "sloped" or screws < 1:
        raise CaseError(
            f"{screws} eccentric screws in {plate.hole.form} holes move no plate",
            remedy="name a plate with sloped holes, and one eccentric screw or two",
            where="plate, work",
        )
    shift, travel = (np.nan if v is None else v for v in (plate.hole.shift, plate.hole.travel))
    return Travel(screws * shift, tuple(range(1, screws)), travel - (screws - 1) * shift)
