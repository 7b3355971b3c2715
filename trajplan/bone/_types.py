"""What the bone floor speaks in: surfaces, audits, crossings and spans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import offsets_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Bools, Floats, Int8s, Ints, Vec3, Vec3s

__all__ = ["Audit", "Crossings", "LineSpans", "Shells", "Spans", "Surface"]


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Triangles as they were read, in mm; built by `trajplan.bone.surface`.

    Vertices that are equal to the last bit are one vertex; nothing else was merged,
    moved or dropped.
    """

    vertices: Vec3s  # (v, 3) mm
    faces: Ints  # (f, 3) rows of `vertices`
    groups: Mapping[str, Ints]  # name of an OBJ group or object -> its faces
    name: str  # file name, or a label for a mesh handed over in memory
    sha256: str  # of the file's bytes, or of the arrays handed over
    merged: int  # vertices of the file that were copies of another
    step: float = 0.0  # mm between neighbouring coordinates in the file; 0: double precision

    def triangles(self) -> Floats:
        """Corner points of every face.

        Returns
        -------
        (f, 3, 3) float array, mm
        """
        return self.vertices[self.faces]

    def used(self) -> Bools:
        """Whether a face has each vertex for a corner.

        Returns
        -------
        (v,) bool array
        """
        used = np.zeros(len(self.vertices), dtype=np.bool_)
        used[self.faces] = True
        return used


@dataclass(frozen=True, slots=True, eq=False)
class Shells:
    """Connected pieces of a surface, and how they nest.

    A shell of even nesting depth bounds bone from outside, one of odd depth bounds a
    hollow (the canal), whatever its normals say.
    """

    of_face: Ints  # (f,) shell of each face
    closed: Bools  # (s,) every edge is shared by two faces
    wound: Bools  # (s,) neighbouring faces agree on which side is out
    outward: Int8s  # (s,) +1 normals point out of the closed volume, -1 into it
    nesting: Ints  # (s,) number of closed shells around it
    body: Ints  # (s,) number, 0.., of the outermost shell that it belongs to
    volume: Floats  # (s,) mm³, absolute; of little meaning where not closed
    # (s,) lies on another shell all over: nested as that one is, and bounds nothing more
    copy: Bools | None = None
    poking: Bools | None = None  # (s,) a hollow that comes through the wall of the shell around it
    unsure: Bools | None = None  # (s,) a hollow or a body: holes leave open which

    def pokes(self) -> Bools:
        """Whether each shell is a hollow that comes through the wall around it.

        Returns
        -------
        (s,) bool array
            All False where none were looked for.
        """
        return self.closed & False if self.poking is None else self.poking

    def doubted(self) -> Bools:
        """Whether nobody can tell each shell to be a hollow or a body.

        Returns
        -------
        (s,) bool array
            All False where this was not looked at.
        """
        return self.closed & False if self.unsure is None else self.unsure

    def copies(self) -> Bools:
        """Whether each shell is a copy of another.

        Returns
        -------
        (s,) bool array
            All False where no copies were looked for.
        """
        return self.closed & False if self.copy is None else self.copy


@dataclass(frozen=True, slots=True, eq=False)
class Audit:
    """What is known of a mesh before it is trusted."""

    faces: int
    vertices: int
    merged: int
    step: float  # mm between neighbouring coordinates in the file; 0: double precision
    low: Vec3  # (3,) mm, least corner of the bounding box
    high: Vec3  # (3,) mm
    volume: float  # mm³ of bone, hollows taken off; NaN where a shell is open
    area: float  # mm²
    closed: bool  # every shell is, and encloses more than a flat sheet does
    open_edges: int  # edges with one face
    crowded_edges: int  # edges with three faces or more
    wound: bool
    inverted: int  # closed shells whose normals point inwards
    degenerate: int  # faces of no area
    duplicate: int  # faces with the same three corners as an earlier one
    bodies: int  # outermost shells
    hollows: int  # shells nested in another: marrow space
    canal: bool  # a hollow was found that is more than a pore
    cautions: tuple[str, ...]  # one sentence each; empty for a clean mesh


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Every crossing of ``m`` lines with a surface, ragged, sorted by depth in each row.

    The lines are endless: depth counts from the line's origin and may be negative.
    """

    offsets: Ints  # (m + 1,)
    depth: Floats  # (h,) mm along the line
    sign: Int8s  # (h,) -1 against the face normal (enters), +1 along it (leaves)
    face: Ints  # (h,) face that is crossed


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Stretches of ``m`` lines, ragged, sorted by start in each row; they may overlap.

    Where two bodies touch or overlap, each keeps its own span.
    """

    offsets: Ints  # (m + 1,)
    start: Floats  # (s,) mm along the line
    end: Floats  # (s,) mm along the line
    body: Ints  # (s,) body that the line is in
    known: Bools  # (s,) False where inside and outside could not be told apart
    start_face: Ints  # (s,) face crossed at the start
    end_face: Ints  # (s,) face crossed at the end

    def take(self, lines: Ints) -> Spans:
        """Spans of some of the lines, in the order asked for.

        Parameters
        ----------
        lines : (k,) int array
            Rows, 0 to m - 1; a row may come more than once.

        Returns
        -------
        Spans
            Of k lines.
        """
        counts = np.diff(self.offsets)[lines]
        offsets = offsets_of(counts)
        within = np.arange(offsets[-1]) - np.repeat(offsets[:-1], counts)
        index = np.repeat(self.offsets[lines], counts) + within
        return Spans(offsets, *(flat[index] for flat in self._flat()))

    def join(self, other: Spans) -> Spans:
        """Spans of these lines, and behind them those of others.

        Parameters
        ----------
        other : Spans
            Spans of k lines.

        Returns
        -------
        Spans
            Of m + k lines.
        """
        offsets = np.r_[self.offsets, other.offsets[1:] + self.offsets[-1]]
        both = zip(self._flat(), other._flat(), strict=True)
        return Spans(offsets, *(np.concatenate(pair) for pair in both))

    def _flat(self) -> tuple[Any, ...]:
        """Arrays with an item for each span, in the order of the fields."""
        return (self.start, self.end, self.body, self.known, self.start_face, self.end_face)


@dataclass(frozen=True, slots=True, eq=False)
class LineSpans:
    """Where ``m`` lines run in bone, and where they run inside its outer surface."""

    solid: Spans  # bone, hollows taken out
    outer: Spans  # inside the outer surface, hollows filled
    balanced: Bools  # (m,) entering and leaving crossings alternate in every shell
