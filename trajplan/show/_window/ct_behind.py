"""The CT in the plane of the cut, behind the screw that is picked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._sections.slice import BLACK, WHITE, ct_slice

if TYPE_CHECKING:
    import pyvista as pv

    from trajplan.arrays import Floats, Vec3
    from trajplan.show._sections.cut import Frame
    from trajplan.volume import BoneField

__all__ = ["CtBehind"]

#: mm of the CT that are shown past entry and exit, and to either side of the axis.
PAST, ASIDE = 15.0, 35.0
NAME = "ct behind the cut"


class CtBehind:
    """Draws the CT where the bone is cut.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane to draw in active.
    field : BoneField
        The CT.
    """

    def __init__(self, plotter: pv.Plotter, field: BoneField) -> None:
        self._plotter = plotter
        self._field = field
        self._actor: Any = None
        self._at: Floats | None = None  # plane and edges of what is drawn

    def show(self, frame: Frame | None, ends: tuple[Vec3, Vec3] | None) -> None:
        """Draw the CT in a plane.

        Parameters
        ----------
        frame : Frame or None
            The cut; None takes the CT away.
        ends : two (3,) float arrays, mm, or None
            Entry and target of the screw that is picked.
        """
        if frame is None or ends is None:
            self._drop()
            return
        near, far = sorted(float((end - frame.origin) @ frame.along) for end in ends)
        at = np.concatenate([frame.origin, frame.along, frame.up, [near, far]])
        if self._at is None or not np.array_equal(at, self._at):
            self._drop()
            mesh = self._mesh(frame, (near - PAST, far + PAST, -ASIDE, ASIDE))
            self._at = at
            self._actor = self._plotter.add_mesh(
                mesh,
                name=NAME,
                scalars="HU",
                cmap="gray",
                clim=(BLACK, WHITE),
                nan_opacity=0.0,
                lighting=False,
                show_scalar_bar=False,
                render=False,
                reset_camera=False,
                pickable=False,
            )

    def _drop(self) -> None:
        if self._actor is not None:
            self._plotter.remove_actor(self._actor, render=False)
        self._actor = self._at = None

    def _mesh(self, frame: Frame, window: tuple[float, float, float, float]) -> pv.StructuredGrid:
        """Points that are read, with their HU as scanned: metal and streaks are shown."""
        import pyvista as pv

        values = ct_slice(self._field, frame, window).values
        low, high, bottom, top = window
        tall, wide = values.shape
        depth = low + (np.arange(wide) + 0.5) * (high - low) / wide
        offset = bottom + (np.arange(tall) + 0.5) * (top - bottom) / tall
        points = (
            frame.origin + depth[None, :, None] * frame.along + offset[:, None, None] * frame.up
        )
        mesh = pv.StructuredGrid(*np.moveaxis(points[:, :, None, :], -1, 0))
        mesh["HU"] = values.ravel(order="F")
        return mesh
