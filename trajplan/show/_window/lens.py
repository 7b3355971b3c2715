"""Between the picture and space: a parallel view, in which lengths across it are true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3, Vec3s

__all__ = ["Lens", "in_pane", "pixels_to_line"]


@dataclass(frozen=True, slots=True, eq=False)
class Lens:
    """A pane of the window and its camera; pixels count from the window's lower left."""

    focus: Vec3  # (3,) mm, seen in the middle of the pane
    right: Vec3  # (3,) unit
    up: Vec3  # (3,) unit
    middle: Floats  # (2,) pixels
    size: float  # mm a pixel

    def pixels(self, points: Vec3s) -> Floats:
        """Where points are seen.

        Parameters
        ----------
        points : (n, 3) float array, mm
            Points.

        Returns
        -------
        (n, 2) float array, pixels
        """
        across = (points - self.focus) @ np.stack([self.right, self.up], axis=1)
        out: Floats = self.middle + across / self.size
        return out

    def shift(self, pixels: Floats) -> Vec3:
        """Shift in the plane of the picture.

        Parameters
        ----------
        pixels : (2,) float array
            Pixels to the right and up.

        Returns
        -------
        (3,) float array, mm
        """
        out: Vec3 = self.size * (pixels[0] * self.right + pixels[1] * self.up)
        return out


def in_pane(pane: Any, pixel: tuple[int, int]) -> bool:  # noqa: ANN401 - VTK has no types here
    """Whether a place in the window lies in a pane.

    Parameters
    ----------
    pane : vtkRenderer
        The pane.
    pixel : (int, int)
        From the window's lower left.

    Returns
    -------
    bool
    """
    corner, extent = np.array(pane.GetOrigin()), np.array(pane.GetSize())
    at = np.array(pixel)
    return bool(((at >= corner) & (at < corner + extent)).all())


def pixels_to_line(at: Floats, start: Floats, end: Floats) -> Floats:
    """Distance of a place in the picture to lines between two places.

    Parameters
    ----------
    at : (2,) float array, pixels
        The place.
    start, end : (n, 2) float arrays, pixels
        Ends of the lines, which may be equal.

    Returns
    -------
    (n,) float array, pixels
    """
    along = end - start
    square = np.einsum("ij,ij->i", along, along)
    share = np.einsum("ij,ij->i", at - start, along) / np.where(square > 0.0, square, 1.0)
    foot = start + np.clip(share, 0.0, 1.0)[:, None] * along
    out: Floats = np.linalg.norm(at - foot, axis=1)
    return out
