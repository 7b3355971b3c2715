"""How far the normal of a fitted plane may be from the true one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints

__all__ = ["normal_bound", "student_quantile", "tilt_quantile"]

#: Share of draws that the bound leaves out.
MISS = 0.05
#: Directions over which the tail is averaged: a smooth periodic function, for which the
#: plain mean converges faster than any power of the count.
DIRECTIONS = 720
#: Degrees of freedom below which the scatter of the points tells nothing of their error.
MIN_FREEDOM = 0.5
#: Independent points that a surface counts for at least: three by three, as for a form error
#: as long as the surface itself (assumption).
LEAST_INDEPENDENT = 9


def normal_bound(
    flat: Floats, heights: Floats, weights: Floats, edges: Ints | None = None
) -> float:
    """95 % bound on the angle between the normal of a fitted plane and the true one.

    Parameters
    ----------
    flat : (n, 2) float array, mm
        Points in the plane's frame.
    heights : (n,) float array, mm
        Their heights over the plane.
    weights : (n,) float array
        Weights of the fit.
    edges : (k, 2) int array, optional
        Neighbouring points, see Notes.

    Returns
    -------
    float, degrees
        90 where there are too few points to tell: three fit any plane without residual.

    Notes
    -----
    The heights are taken for independent errors of one variance, estimated with
    ``n - 3`` degrees of freedom. The slopes of the weighted fit then have the covariance
    ``s² M⁻¹ K M⁻¹`` with ``M = Σ w x xᵀ``, ``K = Σ w² x xᵀ`` (for equal weights
    ``s² M⁻¹``), and the bound is the exact 95 % quantile of their length
    (`tilt_quantile`), not the long axis of their ellipse, which would be too wide.

    Neighbours on a mesh are not independent. With ``r`` the correlation of heights along
    the edges, a field that decays alike in both directions counts as
    ``n ((1 - r) / (1 + r))²`` points: variance and freedom are corrected by that share.
    It is an approximation (the sum of an AR(1) series, once for each direction in the
    surface), held at nine points for a form error such as a bend, where ``r`` nears 1.

    References
    ----------
    .. [1] Linear regression with weights and its covariance: general knowledge, from memory.
    """
    count = weights.sum() ** 2 / np.square(weights).sum()
    share = 1.0 if edges is None else _independent_share(heights, edges)
    freedom = count * share - 3.0
    if freedom < MIN_FREEDOM:
        return 90.0
    centred = flat - np.average(flat, axis=0, weights=weights)
    moment = np.einsum("i,ij,ik->jk", weights, centred, centred)
    second = np.einsum("i,ij,ik->jk", weights**2, centred, centred)
    inverse = np.linalg.inv(moment)
    variance = np.average(heights**2, weights=weights) / (1.0 - 3.0 / (count * share))
    spread = np.linalg.eigvalsh(inverse @ second @ inverse) * variance / share
    return float(np.degrees(np.arctan(tilt_quantile(np.clip(spread, 0.0, None), freedom))))


def tilt_quantile(variances: Floats, freedom: float, miss: float = MISS) -> float:
    """Quantile of the length of two normal errors with an estimated variance.

    Parameters
    ----------
    variances : (2,) float array
        Estimated variances of the two errors, known but for a common factor.
    freedom : float
        Degrees of freedom of that factor's estimate.
    miss : float
        Share of draws beyond the quantile.

    Returns
    -------
    float

    Notes
    -----
    In polar coordinates the squared radius of two unit normals is exponential; averaged
    over the chi-square of the estimate, the tail beyond ``r`` in the direction ``φ`` is
    ``(1 + r² / (m g))^(-m/2)``, ``g = v1 cos² φ + v2 sin² φ``. For equal variances the
    quantile is ``sqrt(2 v F)`` with ``F = m/2 (miss^(-2/m) - 1)``, the F quantile with 2
    and ``m`` degrees of freedom; for ``v1 = 0`` it is the two-sided Student quantile.
    """
    largest = float(variances.max())
    if largest == 0.0:
        return 0.0
    angle = (np.arange(DIRECTIONS) + 0.5) * np.pi / DIRECTIONS
    gain = (variances[0] * np.cos(angle) ** 2 + variances[1] * np.sin(angle) ** 2) / largest
    low, high = 0.0, freedom * (miss ** (-2.0 / freedom) - 1.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        tail = np.exp(-0.5 * freedom * np.log1p(middle / (freedom * gain))).mean()
        low, high = (middle, high) if tail > miss else (low, middle)
    return float(np.sqrt(high * largest))


def student_quantile(freedom: float, miss: float) -> float:
    """Two-sided quantile of Student's law: the case of `tilt_quantile` with one error.

    Parameters
    ----------
    freedom : float
        Degrees of freedom.
    miss : float
        Share of draws beyond the quantile, both sides together.

    Returns
    -------
    float
    """
    return tilt_quantile(np.array([0.0, 1.0]), freedom, miss)


def _independent_share(heights: Floats, edges: Ints) -> float:
    """Share of the points that count as independent, from how alike neighbours are."""
    product = heights[edges[:, 0]] * heights[edges[:, 1]]
    square = float(np.square(heights).mean())
    if len(edges) == 0 or square == 0.0:
        return 1.0
    likeness = min(max(float(product.mean()) / square, 0.0), 1.0)
    least = min(1.0, LEAST_INDEPENDENT / len(heights))
    return max(((1.0 - likeness) / (1.0 + likeness)) ** 2, least)
