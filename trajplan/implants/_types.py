"""What the catalogue holds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.implants._plate import Plate

__all__ = ["Catalogue", "CatalogueFile", "Provenance", "Screw", "Status", "Washer", "Wire"]

Status: TypeAlias = Literal["published", "common practice", "not verified against the standard"]


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a value of the catalogue comes from."""

    status: Status
    source: str  # a citation, or "common practice"
    note: str = ""  # where sources differ: the other value and who gives it


@dataclass(frozen=True, slots=True)
class Screw:
    """One kind of bone screw; lengths in mm."""

    kind: str  # "HA4.5"
    thread: Literal["shallow", "deep"]
    bone: Literal["cortical", "cancellous"]
    thread_diameter: float
    core_diameter: float
    pitch: float
    head_diameter: float
    head_height: float
    head_radius: float  # of the spherical under-surface
    shank_diameter: float | None  # of the smooth part of a partial thread
    thread_lengths: tuple[float, ...]  # of partial threads on offer; empty: full thread only
    thread_share: float | None  # of its length, where a length comes with one thread only
    lengths: tuple[float, ...]  # stocked, ascending
    length_from: Literal["seat", "top"]  # point of the head that a length is counted from
    thread_hole: float | None  # drill; None: no source names one
    gliding_hole: float | None  # drill for a full thread used as a lag screw
    shank_hole: float | None  # drill for the shank in the near cortex
    tap: float | None
    countersink: float | None  # diameter
    washer: str | None  # id of the washer that fits
    sources: Mapping[str, Provenance]  # field -> where its value comes from

    @property
    def partial(self) -> bool:
        """Whether the screw comes with a partial thread."""
        return bool(self.thread_lengths)

    @property
    def tray(self) -> tuple[tuple[float, float], ...]:
        """Every length and thread that is stocked, in rising order; NaN is a full thread.

        Where a length comes with one thread only, it is the one nearest to `thread_share` of
        the length.
        """
        if not self.partial:
            return tuple((length, math.nan) for length in self.lengths)
        share = self.thread_share
        pairs = (
            product(self.lengths, self.thread_lengths)
            if share is None
            else (
                (length, min(self.thread_lengths, key=lambda thread: abs(thread - share * length)))
                for length in self.lengths
            )
        )
        return tuple((length, thread) for length, thread in pairs if thread < length)


@dataclass(frozen=True, slots=True)
class Washer:
    """A flat ring under the head; lengths in mm."""

    id: str
    outer_diameter: float
    inner_diameter: float
    thickness: float
    sources: Mapping[str, Provenance]


@dataclass(frozen=True, slots=True)
class Wire:
    """A smooth wire for provisional hold; lengths in mm."""

    kind: str  # "W1.6"
    diameter: float
    sources: Mapping[str, Provenance]


@dataclass(frozen=True, slots=True)
class CatalogueFile:
    """A catalogue file of the user's own."""

    name: str
    sha256: str  # of its bytes


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Screws, washers, wires and plates by name, in the order of the files they come from."""

    screws: Mapping[str, Screw]
    washers: Mapping[str, Washer]
    wires: Mapping[str, Wire]
    plates: Mapping[str, Plate]
    files: tuple[CatalogueFile, ...] = ()  # beside the package's own
