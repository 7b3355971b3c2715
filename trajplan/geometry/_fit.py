"""The best plane through points, robust against outliers, and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_points, freeze
from trajplan.errors import DegenerateError, ShapeError
from trajplan.geometry._bound import normal_bound, student_quantile
from trajplan.geometry._planes import Plane, to_plane

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Floats, Ints, Vec3s

__all__ = ["FittedPlane", "fit_plane"]

#: Second singular value over the first below which points lie on one line: a plane that
#: hinges on less than a thousandth of their length is decided by rounding or by noise.
LINE_SHARE = 1e-3
#: Share of clean points that the cut may cost, both sides together: the limit is Student's
#: quantile, 3.9 deviations for many points and far wider for few.
CUT_SHARE = 1e-4
#: Fewest points among which one can be outvoted: three make the plane, and a majority of
#: the others must agree on it.
MIN_VOTERS = 7
#: Share of their width that points must keep without the widest of them: below it they agree
#: on a line, and the plane is that one point's, which cannot outvote another.
HINGE_SHARE = 0.1
#: Triples drawn for the start: with 30 % outliers one in three is clean.
TRIPLES = 300
#: Points on which the triples are judged, and the share of a kernel's time stays small.
JUDGES = 2_000
#: Rounds of refit and cut; the set of inliers settles after two or three.
ROUNDS = 20
#: Share of the extent below which a scatter is rounding: no point is cut for less.
ROUNDING_SHARE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class FittedPlane:
    """A plane through points, and what the points say of it."""

    plane: Plane  # its point is the weighted mean of the inliers
    heights: Floats  # (n,) mm, signed, of every point
    inliers: Bools  # (n,) points that counted
    rms: float  # mm, weighted root mean square height of the inliers
    largest: float  # mm, largest absolute height of the inliers
    normal_bound: float  # degrees, 95 % bound on the angle to the true normal


def fit_plane(
    points: ArrayLike, weights: ArrayLike | None = None, edges: Ints | None = None
) -> FittedPlane:
    """Fit a plane by total least squares to the points that agree.

    Parameters
    ----------
    points : array_like, (n, 3), mm
        Three points or more, not on one line.
    weights : array_like, (n,), optional
        What each point stands for, such as the surface area round it; all equal if left
        out. Only the ratios matter.
    edges : (k, 2) int array, optional
        Pairs of neighbouring points, as of a mesh. Neighbours with like heights tell less
        than independent points do, and the bound on the normal widens accordingly.

    Returns
    -------
    FittedPlane
        The sign of the normal makes its largest component positive.

    Raises
    ------
    ShapeError
        If `points` or `weights` do not fit.
    DegenerateError
        If there are fewer than three points, they coincide or lie on one line, or a
        weight is negative or not finite.

    Notes
    -----
    Start: of seeded random triples, the plane with the least (weighted) median absolute
    height; its nearer half is the core. Then total least squares on the core, and the core
    grows to all points within Student's quantile (``n - 3`` degrees of freedom, 0.01 %)
    times its own deviation, until the set settles. With fewer than seven points none is
    left out: too few could outvote it; nor where the points that agree span but a line.

    References
    ----------
    .. [1] Rousseeuw & Leroy 1987, Robust Regression and Outlier Detection, chapter 5:
       least median of squares and reweighting (from memory).
    """
    points = as_points(points)
    weights = _checked_weights(weights, len(points))
    _total_least_squares(points, weights)
    inliers = weights > 0.0
    if np.count_nonzero(inliers) >= MIN_VOTERS:
        inliers = _agreeing(points, weights)
    plane = _total_least_squares(points[inliers], weights[inliers])
    heights = plane.height(points)
    kept = heights[inliers]
    freeze(heights, inliers)
    return FittedPlane(
        plane=plane,
        heights=heights,
        inliers=inliers,
        rms=float(np.sqrt(np.average(kept**2, weights=weights[inliers]))),
        largest=float(np.abs(kept).max()),
        normal_bound=normal_bound(
            to_plane(plane, points[inliers]),
            kept,
            weights[inliers],
            None if edges is None else _kept_edges(edges, inliers),
        ),
    )


def _checked_weights(weights: ArrayLike | None, count: int) -> Floats:
    values = np.ones(count) if weights is None else np.array(weights, dtype=np.float64)
    if values.shape != (count,):
        raise ShapeError("weights", f"({count},)", values.shape)
    if not (np.isfinite(values).all() and (values >= 0.0).all()):
        raise DegenerateError("weights must be finite and not negative")
    if np.count_nonzero(values) < 3:
        raise DegenerateError(
            f"a plane needs three points that count, got {np.count_nonzero(values)}"
        )
    shares: Floats = values / values.max()
    return shares


def _decompose(points: Vec3s, weights: Floats) -> tuple[Floats, Floats, Floats]:
    """Singular value decomposition of the weighted points about their mean."""
    centred = points - np.average(points, axis=0, weights=weights)
    u, s, v = np.linalg.svd(np.sqrt(weights)[:, None] * centred, full_matrices=False)
    return u, s, v


def _total_least_squares(points: Vec3s, weights: Floats) -> Plane:
    _, spread, axes = _decompose(points, weights)
    if spread[0] <= np.finfo(float).eps * np.abs(points).max() * len(points):
        raise DegenerateError("the points coincide, so no plane is defined")
    if spread[1] < LINE_SHARE * spread[0]:
        raise DegenerateError("the points lie on one line, so no plane is defined")
    normal = axes[2]
    centre = np.average(points, axis=0, weights=weights)
    return Plane.through(centre, normal * np.copysign(1.0, normal[np.abs(normal).argmax()]))


def _agreeing(points: Vec3s, weights: Floats) -> Bools:
    """Points that agree on a plane, grown from the half that agrees best."""
    floor = ROUNDING_SHARE * float(np.ptp(points, axis=0).max())
    counts = weights > 0.0
    sizes = np.abs(_median_plane(points, weights).height(points))
    core = np.sort(sizes[counts])[(np.count_nonzero(counts) + 3) // 2]
    inliers: Bools = counts & (sizes <= core)
    for _ in range(ROUNDS):
        before = inliers
        try:
            plane = _total_least_squares(points[inliers], weights[inliers])
        except DegenerateError:  # those that agree lie on one line: nobody is outvoted
            return counts
        heights = plane.height(points)
        freedom = max(int(np.count_nonzero(inliers)) - 3, 1)
        square = np.average(heights[inliers] ** 2, weights=weights[inliers])
        deviation = max(np.sqrt(square * (1.0 + 3.0 / freedom)), floor)
        inliers = counts & (np.abs(heights) <= student_quantile(freedom, CUT_SHARE) * deviation)
        if (inliers == before).all():
            break
    return counts if _hangs_on_one(points[inliers], weights[inliers]) else inliers


def _hangs_on_one(points: Vec3s, weights: Floats) -> bool:
    """Whether one point alone keeps a plane from swinging about the line of the others."""
    across, spread, _ = _decompose(points, weights)
    others = np.arange(len(points)) != np.abs(across[:, 1]).argmax()
    left = _decompose(points[others], weights[others])[1]
    return bool(left[1] < HINGE_SHARE * spread[1])


def _median_plane(points: Vec3s, weights: Floats) -> Plane:
    """Of planes through random triples, the one with the least median height."""
    random = np.random.default_rng(0)
    judges = np.flatnonzero(weights > 0.0)
    a, b, c = points[random.choice(judges, (3, TRIPLES))]
    normal, length = np.cross(b - a, c - a), np.linalg.norm(b - a, axis=1)
    sine = np.linalg.norm(normal, axis=1)
    sound = sine > LINE_SHARE * np.maximum(length, np.linalg.norm(c - a, axis=1)) ** 2
    if not sound.any():  # nearly a line: only all points together span a plane
        return _total_least_squares(points, weights)
    a, normal = a[sound], normal[sound] / sine[sound, None]
    if len(judges) > JUDGES:
        judges = random.choice(judges, JUDGES, replace=False)
    sizes = np.abs(points[judges] @ normal.T - np.einsum("ij,ij->i", a, normal))
    best = int(_weighted_medians(sizes, weights[judges]).argmin())
    return Plane.through(a[best], normal[best])


def _weighted_medians(values: Floats, weights: Floats) -> Floats:
    """Median of each column, rows counting by their weight."""
    order = values.argsort(axis=0)
    reached = np.cumsum(weights[order], axis=0) >= 0.5 * weights.sum()
    middle = reached.argmax(axis=0)
    columns = np.arange(values.shape[1])
    medians: Floats = values[order[middle, columns], columns]
    return medians


def _kept_edges(edges: Ints, kept: Bools) -> Ints:
    """Edges between points that are kept, renumbered."""
    number = np.cumsum(kept) - 1
    inner: Ints = number[edges[kept[edges].all(axis=1)]]
    return inner
