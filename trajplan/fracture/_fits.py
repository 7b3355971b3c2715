"""From a fitted plane to what is said of a fracture: extents and flatness."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from trajplan.fracture._types import Flatness, PlaneFit
from trajplan.geometry import to_plane

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3s
    from trajplan.geometry import FittedPlane, Plane

__all__ = [
    "FLAT_LARGEST",
    "FLAT_RMS",
    "exact_fit",
    "extents_of",
    "flatness_of",
    "plane_fit",
    "turn_of",
]

#: mm; a fracture this even counts as flat (assumption: half the play of a gliding hole).
FLAT_RMS = 1.0
#: mm; and no single place may stand off the plane by more (assumption).
FLAT_LARGEST = 3.0
#: Degrees by which the normal must turn across a fracture for it to be curved (assumption:
#: the tilt that textbooks allow a lag screw, so one plane misleads at one end or the other).
CURVED_TURN = 20.0
#: Share of the scatter that a bent surface must explain: the unevenness is form, not noise.
CURVED_SHARE = 0.5
#: Points below which six coefficients of a bent surface say nothing (assumption).
CURVED_POINTS = 12


def exact_fit(plane: Plane, region: Any) -> PlaneFit:  # noqa: ANN401 - shapely has no types here
    """Describe a plane that was given, not fitted.

    Parameters
    ----------
    plane : Plane
        The plane.
    region : shapely geometry, mm
        Fracture region in the plane's frame.

    Returns
    -------
    PlaneFit
        Without residuals, and with no bound (NaN): the plane is taken at its word.
    """
    return PlaneFit(plane, 0.0, 0.0, float("nan"), 0, 0, extents_of(region), "flat")


def plane_fit(fitted: FittedPlane, points: Vec3s, weights: Floats, region: Any) -> PlaneFit:  # noqa: ANN401 - as above
    """Describe a fitted plane.

    Parameters
    ----------
    fitted : FittedPlane
        The fit.
    points : (n, 3) float array, mm
        The points that were fitted.
    weights : (n,) float array
        Their weights.
    region : shapely geometry, mm
        Fracture region in the plane's frame.

    Returns
    -------
    PlaneFit
    """
    return PlaneFit(
        plane=fitted.plane,
        rms=fitted.rms,
        largest=fitted.largest,
        normal_bound=fitted.normal_bound,
        used=int(np.count_nonzero(fitted.inliers)),
        left_out=int(np.count_nonzero(~fitted.inliers)),
        extents=extents_of(region),
        flatness=flatness_of(fitted, points, weights),
    )


def extents_of(region: Any) -> Floats:  # noqa: ANN401 - as above
    """Sides of the smallest rectangle round a region, the long one first.

    Parameters
    ----------
    region : shapely geometry, mm
        Any area.

    Returns
    -------
    (2,) float array, mm
    """
    corner = shapely.get_coordinates(shapely.oriented_envelope(region))
    side = np.linalg.norm(np.diff(corner[:3], axis=0), axis=1)
    return np.sort(side)[::-1]


def flatness_of(fitted: FittedPlane, points: Vec3s, weights: Floats) -> Flatness:
    """Whether one plane describes a fracture.

    Parameters
    ----------
    fitted : FittedPlane
        The fit.
    points : (n, 3) float array, mm
        The points that were fitted.
    weights : (n,) float array
        Their weights.

    Returns
    -------
    {"flat", "uneven", "curved"}
        "curved" where a bent surface explains more than half of the scatter and its
        normal turns by more than 20 degrees; else "flat" up to 1 mm root mean square and
        3 mm at most, all assumptions; else "uneven".
    """
    if turn_of(fitted, points, weights) > CURVED_TURN:
        return "curved"
    even = fitted.rms <= FLAT_RMS and fitted.largest <= FLAT_LARGEST
    return "flat" if even else "uneven"


def turn_of(fitted: FittedPlane, points: Vec3s, weights: Floats) -> float:
    """Angle by which the normal turns across a fracture.

    Parameters
    ----------
    fitted : FittedPlane
        The fit.
    points : (n, 3) float array, mm
        The points that were fitted.
    weights : (n,) float array
        Their weights.

    Returns
    -------
    float, degrees
        Of the best bent surface through the points that counted; 0 where it explains less
        than half of the scatter.
    """
    kept = fitted.inliers
    flat = to_plane(fitted.plane, points[kept])
    heights, weights = fitted.heights[kept], weights[kept]
    if len(flat) < CURVED_POINTS or not heights.any():
        return 0.0
    scale = float(np.abs(flat).max())
    x, y = flat.T / scale
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    root = np.sqrt(weights)
    bend = np.linalg.lstsq(terms * root[:, None], heights * root, rcond=None)[0]
    left = np.average((heights - terms @ bend) ** 2, weights=weights)
    if left > (1.0 - CURVED_SHARE) * np.average(heights**2, weights=weights):
        return 0.0
    hessian = np.array([[2 * bend[3], bend[4]], [bend[4], 2 * bend[5]]]) / scale
    curvature, axes = np.linalg.eigh(hessian)
    slope = bend[1:3] @ axes / scale + (flat / scale) @ axes * curvature
    return float(np.degrees(np.ptp(np.arctan(slope), axis=0).max()))
