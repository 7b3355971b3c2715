"""What the reduction floor speaks in: fragments, movements, and how well two pieces fit.

Fragments are numbered from 0 in the order given. Lengths are mm, angles degrees. A number that
was not measured is NaN: it is not known, and nobody may take it for zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from trajplan.arrays import as_directions, as_points, as_vector, freeze
from trajplan.errors import PoseError, ShapeError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints, Vec3, Vec3s

__all__ = [
    "MOST_SHIFT",
    "MOST_TURN",
    "Fragment",
    "Hint",
    "Origin",
    "PairFit",
    "Pose",
    "Progress",
    "Reduction",
    "Rival",
    "Settings",
    "Slides",
    "Template",
]

#: How a pose came about: found by the program, moved by hand, or written down elsewhere.
Origin: TypeAlias = Literal["found", "hand", "given"]

#: Called with what is being done ("matching 1 and 2") and the share done, 0..1.
Progress: TypeAlias = Callable[[str, float], None]

#: Not measured.
NAN = math.nan

#: How far a matrix may be from a rigid movement: what a file with seven digits rounds away.
RIGID = 1e-6
#: degrees; how far a fragment may have turned from how it lies. Widest of the range that the
#: prototype was measured in (5 to 40 degrees), and a little more. A piece that seems turned
#: further is more likely a wrong answer (measured: a radius turned by 150 scored above the truth).
MOST_TURN = 45.0
#: mm; the same for how far it may have shifted (measured range: 5 to 40 mm).
MOST_SHIFT = 45.0


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """A rigid movement of a fragment, from as it lies to reduced.

    Parameters
    ----------
    matrix : array_like, (4, 4), mm
        Rows; the upper left 3 x 3 turns, the last column shifts.

    Raises
    ------
    ShapeError
        If it is no 4 x 4.
    PoseError
        If it mirrors, stretches or bends, or holds a number that is not finite.
    """

    matrix: Floats  # (4, 4) mm, read-only

    def __post_init__(self) -> None:
        """Copy, check, freeze."""
        matrix = np.array(self.matrix, dtype=np.float64)
        if matrix.shape != (4, 4):
            raise ShapeError("matrix", "(4, 4)", matrix.shape)
        _refuse_unless_rigid(matrix)
        freeze(matrix)
        object.__setattr__(self, "matrix", matrix)

    @classmethod
    def still(cls) -> Pose:
        """No movement at all."""
        return cls(np.eye(4))

    @property
    def rotation(self) -> Floats:
        """The turn, (3, 3)."""
        return self.matrix[:3, :3]

    @property
    def shift(self) -> Vec3:
        """The shift of the origin, (3,) mm."""
        return self.matrix[:3, 3]

    def points(self, points: ArrayLike) -> Vec3s:
        """Where points of the fragment come to lie, (n, 3) mm."""
        moved: Vec3s = as_points(points) @ self.rotation.T + self.shift
        return moved

    def directions(self, directions: ArrayLike) -> Vec3s:
        """Where directions point after the movement, (n, 3)."""
        turned: Vec3s = as_directions(directions) @ self.rotation.T
        return turned

    def after(self, first: Pose) -> Pose:
        """The movement that does `first` and then this one."""
        return Pose(self.matrix @ first.matrix)

    def back(self) -> Pose:
        """The movement that undoes this one."""
        matrix = np.eye(4)
        matrix[:3, :3] = self.rotation.T
        matrix[:3, 3] = -self.rotation.T @ self.shift
        return Pose(matrix)


def _refuse_unless_rigid(matrix: Floats) -> None:
    if not np.isfinite(matrix).all():
        raise PoseError("the matrix of a movement holds a number that is not finite")
    if np.abs(matrix[3] - (0.0, 0.0, 0.0, 1.0)).max() > RIGID:
        raise PoseError("the last row of the matrix of a movement is not 0 0 0 1")
    turn = matrix[:3, :3]
    stretch = float(np.abs(turn @ turn.T - np.eye(3)).max())
    if stretch > RIGID:
        raise PoseError(
            f"the matrix of a movement stretches or bends by {stretch:.2g}: bone moves as a whole"
        )
    if np.linalg.det(turn) < 0.0:
        raise PoseError("the matrix of a movement mirrors: no bone can be moved into its mirror")


@dataclass(frozen=True, slots=True, eq=False)
class Fragment:
    """A piece of bone as it lies.

    Raises
    ------
    ShapeError, DegenerateError
        If the arrays are no mesh, or hold a number that is not finite.
    """

    name: str
    vertices: Vec3s  # (v, 3) mm
    faces: Ints  # (f, 3) rows of `vertices`, normals outwards

    def __post_init__(self) -> None:
        """Copy, check, freeze."""
        faces = np.array(self.faces, dtype=np.int64)
        if faces.ndim != 2 or faces.shape[1] != 3:
            raise ShapeError("faces", "(f, 3)", faces.shape)
        object.__setattr__(self, "vertices", as_points(self.vertices, "vertices"))
        freeze(faces)
        object.__setattr__(self, "faces", faces)


@dataclass(frozen=True, slots=True, eq=False)
class Hint:
    """Two points that belong together, as the fragments lie; roughly is enough."""

    fragments: tuple[int, int]
    points: tuple[Vec3, Vec3]  # (3,) mm each, one on either fragment

    def __post_init__(self) -> None:
        """Copy, check, freeze."""
        first, second = (as_vector(point, "hint") for point in self.points)
        object.__setattr__(self, "points", (first, second))


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """A bone like the broken one before it broke: the other side, or an earlier image."""

    vertices: Vec3s  # (v, 3) mm
    faces: Ints  # (f, 3)
    mirror: bool = False  # the other side: it is mirrored before use


@dataclass(frozen=True, slots=True, eq=False)
class Settings:
    """What the user says of a reduction."""

    fixed: int | None = None  # fragment that stays; None: the one of the largest surface
    template: Template | None = None
    hints: tuple[Hint, ...] = ()
    order: tuple[int, ...] = ()  # fragments in the order to be put together; empty: found
    most_turn: float = MOST_TURN  # degrees, how far a fragment may have turned
    most_shift: float = MOST_SHIFT  # mm, how far it may have shifted


@dataclass(frozen=True, slots=True, eq=False)
class Slides:
    """How far a piece may still slide and the fit be hardly worse; NaN: not measured."""

    along: float = NAN  # mm, along the shaft
    across: tuple[float, float] = (NAN, NAN)  # mm, in the two directions square to it
    turn: float = NAN  # degrees, about the shaft
    tilt: tuple[float, float] = (NAN, NAN)  # degrees, about the two directions square to it


@dataclass(frozen=True, slots=True, eq=False)
class PairFit:
    """How well two fragments fit where they meet."""

    first: int
    second: int
    gap_mean: float  # mm, between the broken surfaces
    gap_90: float  # mm, nine tenths of them are closer
    gap_largest: float  # mm
    step_mean: float  # mm, between the outer walls along the fracture line
    step_largest: float  # mm
    overlap: float  # mm³, bone in bone
    contact: float  # 0..1, share of the smaller broken surface that has found its partner
    # 0..1, share of the first's surface round its break inside the second, and the other way
    inside: tuple[float, float] = (NAN, NAN)
    rival: float = NAN  # score of the best pose of another kind over that of the best
    steady_shift: float = NAN  # mm, spread when a sector is left out (jackknife)
    steady_turn: float = NAN  # degrees, the same
    agree_shift: float = NAN  # mm, fit of broken surfaces alone against outer wall alone
    agree_turn: float = NAN  # degrees, the same
    slides: Slides = Slides()
    turn_known: bool = False  # the turn about the shaft is settled
    length_known: bool = False  # only a template can tell: even loss of bone leaves no sign


@dataclass(frozen=True, slots=True, eq=False)
class Rival:
    """Another way to put all together, and how it differs from the best."""

    poses: tuple[Pose, ...]  # one a fragment; the fixed one is still
    score: float  # its score over that of the best, 0..1
    fragment: int  # the one that lies most differently
    shift: float  # mm, of the middle of that fragment's broken surface
    turn: float  # degrees, of that fragment


@dataclass(frozen=True, slots=True, eq=False)
class Reduction:
    """Fragments put together, and how sure that is."""

    names: tuple[str, ...]
    fixed: int
    poses: tuple[Pose, ...]  # one a fragment; that of the fixed one is `Pose.still()`
    pairs: tuple[PairFit, ...]  # only of fragments that meet
    origins: tuple[Origin, ...]  # one a fragment
    sure: bool  # every measure of certainty is within its limit, see `doubts`
    # one a fragment: share of its fracture line beyond which the outer wall goes on in another;
    # NaN for a piece without a shaft
    covered: tuple[float, ...] = ()
    doubts: tuple[str, ...] = ()  # one sentence each; empty where it is sure
    rivals: tuple[Rival, ...] = ()  # other ways to put all together, best first
    template_misfit: float = NAN  # mm, seven tenths of the outer wall lie nearer to the template
    template_short: float = NAN  # mm, above zero: shorter than the template
    template_turn: float = NAN  # degrees, turned about the shaft against the template
