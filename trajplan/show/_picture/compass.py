"""A cross that says which way a picture looks, and turns with the camera."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._picture.draw import INK

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pyvista as pv

    from trajplan.arrays import Vec3
    from trajplan.show._picture.camera import View

__all__ = ["compass"]

#: Shares of half the pane's height: length of an arm, and distance of its letter.
ARM, LETTER = 0.10, 0.15
#: Place of the cross: shares of half the width and half the height from the middle; further in by a
#: share for each letter of its longest word, which must not run out of the pane.
ACROSS, A_LETTER, DOWN = 0.83, 0.013, 0.72
#: Depth from which a direction counts as towards or away from the viewer, and has no arm.
DEEP = 0.9
#: Part of an arm that must lie in the picture for it to be drawn, and its letter with it.
FLAT = float(np.sqrt(1.0 - DEEP**2))
#: Part of an arm to the right or left from which its word stands beside its end.
ASIDE = 0.5
#: Depth, as a share of an arm, past which it counts as going away.
LEAST_DEPTH = 0.05
FAR_INK = "#9a9a9a"


def compass(
    plotter: pv.Plotter,
    view: View,
    aspect: float | Callable[[], float],
    arms: Sequence[tuple[str, Vec3]],
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
    aspect : float or callable
        Width of the pane over its height; asked anew with each move of the camera.
    arms : sequence of (str, (3,) float array)
        Labels and unit vectors, as from `arms`.
    """
    import pyvista as pv

    ways = np.array([way for _, way in arms])
    near, far = (pv.line_segments_from_points(np.zeros((2 * len(arms), 3))) for _ in range(2))
    letters, toward_word = [_label(name) for name, _ in arms], _label("")
    camera = plotter.camera
    share = ACROSS - A_LETTER * max(len(name) for name, _ in arms)

    def place(*_: object) -> None:
        up, toward = np.array(camera.up), -np.array(camera.direction)
        across = np.stack([np.cross(up, toward), up])
        half = camera.parallel_scale
        middle = np.array(camera.focal_point) + view.reach * toward
        wide = aspect() if callable(aspect) else aspect
        middle = middle + half * np.array([share * wide, -DOWN]) @ across
        flat, depth = ways @ across.T, ways @ toward
        length = np.linalg.norm(flat, axis=1)
        shown, away = length > FLAT, depth < -LEAST_DEPTH
        tips = middle + ARM * half * flat @ across
        for part, there in ((near, shown & ~away), (far, shown & away)):
            ends = np.where(there[:, None], tips, middle)
            part.points = np.stack([np.full_like(ends, middle), ends], axis=1).reshape(-1, 3)
        out = flat / np.maximum(length, FLAT)[:, None]
        for k, letter in enumerate(letters):
            letter.position = middle + LETTER * half * out[k] @ across
            letter.prop.justification_horizontal = _beside(float(out[k, 0]))
            letter.SetVisibility(bool(shown[k]))
        nearest = int(depth.argmax())
        toward_word.input = f"towards you: {arms[nearest][0]}" if depth[nearest] > DEEP else ""
        toward_word.position = middle - 1.6 * LETTER * half * up

    place()
    camera.AddObserver("ModifiedEvent", place)
    plotter.add_mesh(far, color=FAR_INK, line_width=2.0, lighting=False)
    plotter.add_mesh(near, color=INK, line_width=5.0, lighting=False)
    for word in (*letters, toward_word):
        plotter.add_actor(word, reset_camera=False, render=False)


def _beside(across: float) -> str:
    """Side of a word that lies at the end of an arm: the arm runs through none."""
    return "center" if abs(across) < ASIDE else "left" if across > 0.0 else "right"


def _label(text: str) -> pv.Label:
    import pyvista as pv

    word = pv.Label(text, size=17)
    word.prop.color, word.prop.bold, word.prop.font_family = INK, True, "arial"
    word.prop.justification_horizontal = "center"
    word.prop.justification_vertical = "center"
    word.prop.background_color, word.prop.background_opacity = "#ffffff", 0.6
    return word
