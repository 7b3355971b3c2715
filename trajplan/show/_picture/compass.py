"""A cross that says which way a picture looks, and turns with the camera."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._picture.draw import INK

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Vec3
    from trajplan.show._picture.camera import View

__all__ = ["compass"]

#: Shares of half the pane's height: length of an arm, and distance of its letter.
ARM, LETTER = 0.10, 0.135
#: Place of the cross: shares of half the width and half the height from the middle.
ACROSS, DOWN = 0.80, 0.74
#: Part of an arm that must lie in the picture for it to be drawn, and its letter with it.
FLAT = 0.35
#: Depth from which a direction counts as towards or away from the viewer.
DEEP = 0.9
FAR_INK = "#9a9a9a"


def compass(
    plotter: pv.Plotter, view: View, aspect: float, arms: Sequence[tuple[str, Vec3]]
) -> None:
    """Draw directions at the lower right; they follow the camera.

    Arms that come towards the viewer are thick and dark, arms that go away thin and grey; the
    direction that points at the viewer is written below.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active, its camera in parallel projection.
    view : View
        The view; the cross lies in front of everything that it reaches.
    aspect : float
        Width of the pane over its height.
    arms : sequence of (str, (3,) float array)
        Labels and unit vectors, as from `arms`.
    """
    import pyvista as pv

    ways = np.array([way for _, way in arms])
    lines = [pv.line_segments_from_points(np.zeros((2 * len(arms), 3))) for _ in range(2)]
    letters = [_label(pv, name) for name, _ in arms]
    toward_word = _label(pv, "")
    camera = plotter.camera

    def place(*_: object) -> None:
        up, toward = np.array(camera.up), -np.array(camera.direction)
        right = np.cross(up, toward)
        half = camera.parallel_scale
        middle = np.array(camera.focal_point) + view.reach * toward
        middle = middle + half * (ACROSS * aspect * right - DOWN * up)
        flat = np.stack([ways @ right, ways @ up], axis=1)
        shown, depth = np.linalg.norm(flat, axis=1) > FLAT, ways @ toward
        ends = middle + ARM * half * flat @ np.stack([right, up])
        for part, there in zip(lines, (depth >= -LEAST_DEPTH, depth < -LEAST_DEPTH), strict=True):
            tips = np.where((shown & there)[:, None], ends, middle)
            part.points = np.stack([np.broadcast_to(middle, tips.shape), tips], axis=1).reshape(
                -1, 3
            )
        for k, letter in enumerate(letters):
            away = LETTER * half * flat[k] / max(float(np.linalg.norm(flat[k])), 1e-9)
            letter.position = middle + away @ np.stack([right, up])
            letter.visibility = bool(shown[k])
        nearest = int(depth.argmax())
        toward_word.input = f"towards you: {arms[nearest][0]}" if depth[nearest] > DEEP else ""
        toward_word.position = middle - 1.6 * LETTER * half * up

    place()
    camera.AddObserver("ModifiedEvent", place)
    for part, colour, width in zip(lines, (INK, FAR_INK), (5.0, 2.0), strict=True):
        plotter.add_mesh(part, color=colour, line_width=width, lighting=False)
    for word in (*letters, toward_word):
        plotter.add_actor(word, reset_camera=False, render=False)


#: Depth, as a share of an arm, past which it counts as going away.
LEAST_DEPTH = 0.05


def _label(pv: object, text: str) -> pv.Label:
    word = pv.Label(text, size=17)
    word.prop.color, word.prop.bold, word.prop.font_family = INK, True, "arial"
    word.prop.justification_horizontal = "center"
    word.prop.justification_vertical = "center"
    word.prop.background_color, word.prop.background_opacity = "#ffffff", 0.6
    return word
