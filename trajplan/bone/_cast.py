"""Choice of the engine that finds where lines cross triangles."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Literal, Protocol, TypeAlias

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone._types import Crossings

__all__ = ["Caster", "Engine", "make_caster"]

Engine: TypeAlias = Literal["auto", "compiled", "plain"]


class Caster(Protocol):
    """Finds every crossing of endless lines with a set of triangles."""

    def crossings(self, origin: Vec3s, direction: Vec3s) -> Crossings:
        """Every crossing of every line, sorted by depth in each row.

        Parameters
        ----------
        origin, direction : (m, 3) float array
            Endless lines; depth counts in lengths of `direction`.

        Returns
        -------
        Crossings
        """
        ...  # the body of a protocol

    def beside(self, start: Vec3s, end: Vec3s, reach: Floats) -> tuple[Ints, Ints]:
        """Pairs of a segment and a triangle that may come within a reach of each other.

        Parameters
        ----------
        start, end : (m, 3) float array, mm
            Ends of the segments.
        reach : (m,) float array, mm
            Reach of each.

        Returns
        -------
        segment, face : (k,) int arrays
            All pairs that do, and some whose boxes alone come near.
        """
        ...  # the body of a protocol


def make_caster(triangles: Floats, engine: Engine = "auto") -> Caster:
    """Build the engine for a set of triangles.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners; a corner shared by two triangles must be equal to the last bit.
    engine : {"auto", "compiled", "plain"}
        ``compiled`` needs numba and is the one to use; ``plain`` needs trimesh and rtree and
        is slower by a factor of a thousand; ``auto`` is the first that is installed. Both
        give the same crossings.

    Returns
    -------
    Caster
    """
    if engine == "compiled" or (engine == "auto" and find_spec("numba") is not None):
        from trajplan.bone._tree import TreeCaster

        return TreeCaster(triangles)
    from trajplan.bone._fallback import FallbackCaster

    return FallbackCaster(triangles)
