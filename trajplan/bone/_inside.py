"""Inside or outside where a surface is open: the winding number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._libigl import WindingTree
from trajplan.bone._orient import as_if_clean, signed_volumes

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3s
    from trajplan.bone._types import Shells, Surface

__all__ = ["Winding"]


class Winding:
    """Winding numbers of points about single shells; each shell is prepared when first asked.

    Parameters
    ----------
    surface : Surface
        Triangles.
    shells : Shells
        Its pieces.
    """

    __slots__ = ("_ready", "_shells", "_surface")

    def __init__(self, surface: Surface, shells: Shells) -> None:
        self._surface = surface
        self._shells = shells
        self._ready: dict[int, WindingTree] = {}

    def number(self, shell: int, points: Vec3s) -> Floats:
        """How often a shell goes round each point, counted positive inside.

        Parameters
        ----------
        shell : int
            Row of the shells.
        points : (n, 3) float array, mm
            Points.

        Returns
        -------
        (n,) float array
            About 1 inside and 0 outside; in between near a hole of the shell. Shells with
            normals that point inwards count positive as well.
        """
        if len(points) == 0:
            return np.zeros(0)
        if shell not in self._ready:
            self._ready[shell] = self._prepare(shell)
        return self._ready[shell].number(points)

    def _prepare(self, shell: int) -> WindingTree:
        """Tree over the faces of one shell, turned to point outwards alike."""
        vertices, faces = self._surface.vertices, self._surface.faces
        faces = faces[self._shells.of_face == shell]
        outward = int(self._shells.outward[shell])
        if not (self._shells.closed[shell] and self._shells.wound[shell]):
            faces = as_if_clean(vertices, faces)
            outward = 1 if signed_volumes(vertices, faces).sum() >= 0.0 else -1
        return WindingTree(vertices, faces[:, ::outward])
