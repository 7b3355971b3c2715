"""Where to look from: across the screws, so that every one is seen from the side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import OutputError
from trajplan.geometry import frames

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Vec3, Vec3s
    from trajplan.show._items.item import Item
    from trajplan.show._items.palette import Role

__all__ = ["View", "framed", "heads_right", "label_places", "label_sides", "overview", "side_view"]

#: Air round what is framed, as a share of its size.
MARGIN = 0.12
#: Share of a close picture's width that is kept free for the labels.
LABEL_SHARE = 0.22
#: Least distance of two labels, as a share of the picture's height.
LABEL_STEP = 0.05
#: Labels at the left end above the scale bar, at this share of half the height below the middle.
LOWEST = 0.60
#: The same at the right end, above the orientation cue.
LOWEST_RIGHT = 0.48
#: Below this sine two directions count as parallel when a camera is set up.
SMALL_SINE = 0.1
#: Part of an axis across a picture below which it is seen end-on, and points to neither edge.
END_ON = 0.2
#: Turns about the screws, degrees, that are tried in this order for a clear view.
TURNS = np.array([t for size in range(0, 95, 5) for t in (size, -size)][1:], dtype=np.float64)
#: Two screws whose axes stand this far apart in the picture do not cover each other, mm.
CLEAR_APART = 12.0
#: Where no view is clear, one that comes this near to the best will do.
BEST_SHARE = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A parallel view, whose lengths across the picture are true."""

    focus: Vec3  # (3,) mm, middle of the picture
    toward: Vec3  # (3,) unit, from the focus to the camera
    up: Vec3  # (3,) unit
    half_height: float  # mm, half the height that the picture shows
    reach: float  # mm, from the focus towards the camera, clear of everything

    @property
    def right(self) -> Vec3:
        """Unit vector to the right of the picture."""
        return np.cross(self.up, self.toward)


def side_view(items: Sequence[Item], aspect: float) -> View:
    """Look at screws and fracture from the side, heads to the left.

    Parameters
    ----------
    items : sequence of Item
        What is drawn.
    aspect : float
        Width of the picture over its height.

    Returns
    -------
    View

    Raises
    ------
    OutputError
        If there is nothing to look at.
    """
    axes = _axes(items)
    bone = _points(items, {"bone"})
    near = _points(
        items, {"head", "thread", "shank", "axis", "fracture", "washer", "wire", "plate"}
    )
    if len(near) == 0:
        near = _points(items, None)
    if len(near) == 0:
        raise OutputError("there is nothing to draw", remedy="give a bone or a plan with screws")
    long = _principal(bone if len(bone) else near)[0]
    along = _mean_axis(axes) if len(axes) else _principal(near)[2]
    toward = _across(along, axes, long)
    up = _upright(long if abs(long @ toward) < 1 - SMALL_SINE else along, toward)
    others = _points(items, {"avoid"})
    behind = (others.mean(axis=0) - near.mean(axis=0)) @ toward if len(others) else 0.0
    heads_left = np.cross(up, toward) @ along >= 0
    if behind > 0 or (behind == 0 and not heads_left):
        toward = -toward
    everything = _points(items, None)
    at_right = heads_right(items, np.cross(up, toward))
    shares = LABEL_SHARE * (~at_right).any(), LABEL_SHARE * at_right.any()
    return framed(near, everything, toward, up, aspect, shares)


def overview(items: Sequence[Item], view: View, aspect: float) -> View:
    """Look from the same side, from far enough to see all of the bone.

    Parameters
    ----------
    items : sequence of Item
        What is drawn.
    view : View
        The close view.
    aspect : float
        Width of the picture over its height.

    Returns
    -------
    View
    """
    everything = _points(items, None)
    return framed(everything, everything, view.toward, view.up, aspect, (0.0, 0.0))


def heads_right(items: Sequence[Item], right: Vec3) -> Bools:
    """Tell which labels belong to a head, or a wire's outer end, at the right of the picture.

    Parameters
    ----------
    items : sequence of Item
        What is drawn; those of role ``label`` count: from what they name towards its tip.
    right : (3,) float array
        Unit vector to the right of the picture.

    Returns
    -------
    (n,) bool array
    """
    axes = np.array([i.points for i in items if i.role == "label"]).reshape(-1, 2, 3)
    out: Bools = (axes[:, 1] - axes[:, 0]) @ right < 0
    return out


def label_sides(named: Sequence[Item], view: View) -> Bools:
    """At which edge of a view each name stands: where its head points, or nearer to it.

    Parameters
    ----------
    named : sequence of Item
        Names, each with what it names and what that points away from.
    view : View
        The view.

    Returns
    -------
    (n,) bool array
        Whether at the right.
    """
    ends = np.array([item.points[[0, -1]] for item in named]).reshape(-1, 2, 3)
    along = ends[:, 1] - ends[:, 0]
    turned = along @ view.right / np.maximum(np.linalg.norm(along, axis=1), SMALL_SINE)
    nearer = (ends[:, 0] - view.focus) @ view.right > 0.0
    out: Bools = np.where(np.abs(turned) > END_ON, turned < 0.0, nearer)
    return out


def label_places(
    view: View, anchors: Vec3s, at_right: Bools, aspect: float, share: float = LABEL_SHARE
) -> Vec3s:
    """Find places for labels: a column at either edge of the picture, none over another.

    Parameters
    ----------
    view : View
        The view.
    anchors : (n, 3) float array, mm
        What each label points at.
    at_right : (n,) bool array
        Which labels stand at the right edge.
    aspect : float
        Width of the picture over its height.
    share : float
        Of the width, of the column at either edge.

    Returns
    -------
    (n, 3) float array, mm
        Inner end of each label, in front of everything.
    """
    height = (anchors - view.focus) @ view.up
    step = 2 * view.half_height * LABEL_STEP
    for side, lowest in ((at_right, LOWEST_RIGHT), (~at_right, LOWEST)):
        height[side] = _apart(height[side], step, -lowest * view.half_height)
    column = view.half_height * aspect * (1 - 2 * share) * np.where(at_right, 1, -1)
    return (
        view.focus
        + column[:, None] * view.right
        + height[:, None] * view.up
        + view.reach * view.toward
    )


def _apart(height: Floats, step: float, lowest: float = -np.inf) -> Floats:
    """Nearest heights in the same order that lie at least a step from one another.

    None lies below the lowest that there is room for.
    """
    order = np.argsort(height, kind="stable")
    ladder = step * np.arange(len(height))
    free = height[order] - ladder  # must not descend: pool neighbours that do
    blocks: list[list[float]] = []
    for value in free:
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            mean, size = blocks.pop()
            other, count = blocks[-1]
            blocks[-1] = [(mean * size + other * count) / (size + count), size + count]
    level = np.repeat([max(b[0], lowest) for b in blocks], [int(b[1]) for b in blocks])
    out = np.empty_like(height)
    out[order] = level + ladder
    return out


def _axes(items: Sequence[Item]) -> Floats:
    return np.array([i.points for i in items if i.role == "axis"]).reshape(-1, 2, 3)


def _points(items: Sequence[Item], roles: set[Role] | None) -> Vec3s:
    chosen = [i.points for i in items if roles is None or i.role in roles]
    return np.vstack(chosen) if chosen else np.empty((0, 3))


def _principal(points: Vec3s) -> Vec3s:
    """Principal directions, longest first, each with its largest component positive."""
    _, _, rows = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    lead = np.take_along_axis(rows, np.abs(rows).argmax(axis=1)[:, None], axis=1)
    out: Vec3s = rows * np.sign(lead)
    return out


def _mean_axis(axes: Floats) -> Vec3:
    unit = axes[:, 1] - axes[:, 0]
    unit = unit / np.linalg.norm(unit, axis=1, keepdims=True)
    unit = unit * np.where(unit @ unit[0] < 0, -1.0, 1.0)[:, None]  # from either side alike
    mean: Vec3 = unit.mean(axis=0)
    return mean / np.linalg.norm(mean)


def _across(along: Vec3, axes: Floats, long: Vec3) -> Vec3:
    """Direction square to the screws that shows the bone's length and no screw over another.

    The view that shows the bone in full length is turned about the screws, no further than
    needed for every two of them to stand apart.
    """
    plain = np.cross(along, long)
    if np.linalg.norm(plain) < SMALL_SINE:
        plain = frames(along[None])[0, 0]
    plain = plain / np.linalg.norm(plain)
    turn = np.radians(TURNS)[:, None]
    toward = np.cos(turn) * plain + np.sin(turn) * np.cross(along, plain)
    first, second = np.triu_indices(len(axes), 1)
    if len(first) == 0:
        return plain
    gap = (axes[first] - axes[second]).mean(axis=1)
    apart = np.abs(gap @ np.cross(along, toward).T).min(axis=0)
    enough = apart >= min(CLEAR_APART, BEST_SHARE * apart.max())
    chosen: Vec3 = toward[np.flatnonzero(enough)[0]]
    return chosen


def _upright(wanted: Vec3, toward: Vec3) -> Vec3:
    up = wanted - (wanted @ toward) * toward
    return up / np.linalg.norm(up)


def framed(
    near: Vec3s,
    everything: Vec3s,
    toward: Vec3,
    up: Vec3,
    aspect: float,
    shares: tuple[float, float],
) -> View:
    """Frame what is near, with shares of the width kept free at the left and at the right.

    Parameters
    ----------
    near : (n, 3) float array, mm
        What must be in the picture.
    everything : (m, 3) float array, mm
        What the camera must stand clear of.
    toward, up : (3,) float array, unit
        From the focus to the camera, and upwards in the picture; square to each other.
    aspect : float
        Width of the picture over its height.
    shares : tuple of two floats
        Of the width, kept free at the left and at the right.

    Returns
    -------
    View
    """
    right = np.cross(up, toward)
    across, height = near @ right, near @ up
    wide = np.ptp(across) / (1 - sum(shares))
    middle = across.min() - shares[0] * wide + wide / 2
    half = (1 + 2 * MARGIN) * max(np.ptp(height) / 2, wide / 2 / aspect, 1.0)
    out = everything @ toward
    focus_out = (near @ toward).mean()
    focus = middle * right + (height.max() + height.min()) / 2 * up + focus_out * toward
    reach = out.max() - focus_out + 1.0
    return View(focus, toward, up, float(half), float(reach))
