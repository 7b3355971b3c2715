"""What the colours of contact pressure mean, as a row of the window's key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._items.palette import NO_CONTACT, PRESSURE_MAP
from trajplan.show._picture.draw import INK
from trajplan.show._picture.labels import write
from trajplan.show._picture.legend import NAME

if TYPE_CHECKING:
    import pyvista as pv

__all__ = ["PressureBand"]

#: Pixels of the key as it is laid out: height of the row's middle, ends of the band, its height,
#: place of the swatch for no contact, and how many steps the band has.
MIDDLE, BAND, HIGH, NONE, STEPS = 15.0, (164.0, 280.0), 13.0, 366.0, 64


class PressureBand:
    """Band of colours with its two ends and the colour of no contact; hidden without pressure.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane of the key active, laid out by `legend`.
    """

    def __init__(self, plotter: pv.Plotter) -> None:
        import pyvista as pv

        low, high = BAND
        band = pv.Plane(
            center=((low + high) / 2.0, MIDDLE, 0.0),
            i_size=high - low,
            j_size=HIGH,
            i_resolution=STEPS,
            j_resolution=1,
        )
        band.cell_data["share"] = band.cell_centers().points[:, 0]
        none = pv.Plane(center=(NONE, MIDDLE, 0.0), i_size=18, j_size=14)
        flat: dict[str, Any] = {"lighting": False, "reset_camera": False}
        self._parts: list[Any] = [
            plotter.add_mesh(band, cmap=PRESSURE_MAP, show_scalar_bar=False, **flat),
            plotter.add_mesh(none, color=NO_CONTACT, **flat),
            plotter.add_mesh(none.extract_feature_edges(), color=INK, line_width=1.0, **flat),
        ]
        told = ((14.0, "contact pressure"), (150.0, "0"), (high + 6.0, ""), (NONE + 14.0, "none"))
        self.words = [
            write(plotter, np.array([x, MIDDLE, 0.0]), text, size=NAME, side="left")
            for x, text in told
        ]
        self.tell(None)

    def tell(self, scale: float | None) -> None:
        """Say what the band ends with.

        Parameters
        ----------
        scale : float or None, MPa
            Upper end; None: nothing is pressed, and the band is hidden.
        """
        self.words[2].input = "" if scale is None else f"{scale:.3g} MPa"
        for part in (*self._parts, *self.words):
            part.SetVisibility(scale is not None)
