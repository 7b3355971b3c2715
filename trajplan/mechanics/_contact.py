"""Contact of the near fragment on the far one: a rigid body on an elastic foundation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import nnls

from trajplan.arrays import as_directions, as_points, as_vector
from trajplan.errors import DegenerateError, ShapeError
from trajplan.mechanics._load import Load
from trajplan.mechanics._newton import minimise
from trajplan.mechanics._range import positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Floats, Vec3, Vec3s

__all__ = ["ContactResult", "contact_of", "solve_contact"]

#: Motions along the fracture are left to friction where the surface resists them with less
#: than this share of its stiffness: normals that scatter by less than about 6 degrees
#: (sin² = 0.01) are the noise of a segmentation, not teeth to rely on.
INTERLOCK = 0.01
#: Points whose spread across is below this share of their spread along lie on one line.
ON_A_LINE = 1e-9
#: Share of the load within which force and moment must balance.
BALANCE = 1e-9
#: The same for telling that no pressures at all could balance the load.
NO_BALANCE = 1e-7
#: Points in contact below which peak and area are rough: about five across a patch.
COARSE = 30


@dataclass(frozen=True, slots=True, eq=False)
class ContactResult:
    """Pressures between two fragments; NaN throughout where they were not found."""

    pressure: Floats  # (p,) MPa, 0 where the gap is open
    gap: Floats  # (p,) mm along the normal, 0 in contact
    area: float  # mm² in contact
    share: float  # of the whole region, 0 to 1
    mean: float  # MPa over the area in contact
    peak: float  # MPa
    converged: bool  # pressures balance the load
    balanced: bool  # some pressures could balance it; False: the fragments come apart
    iterations: int
    force_residual: float  # N, of what contact has to bear
    moment_residual: float  # N·mm
    carried: Load  # what is left to friction: shear along the fracture and its torsion
    sliding: Floats  # (6, k) motions that friction alone resists: of `carried.point`, mm, then rad

    @property
    def touching(self) -> Bools:
        """Points in contact, (p,)."""
        return self.pressure > 0.0

    @property
    def coarse(self) -> bool:
        """Whether so few points touch that peak and area are rough."""
        return bool(0 < self.touching.sum() < COARSE)


def solve_contact(
    points: ArrayLike,
    normals: ArrayLike,
    areas: ArrayLike,
    force: ArrayLike,
    at: ArrayLike,
    *,
    moment: ArrayLike | None = None,
    stiffness: float = 1.0,
) -> ContactResult:
    """Press the near fragment on the far one and find where they touch and how hard.

    Parameters
    ----------
    points, normals : (p, 3) float arrays
        Points of the fracture surface (mm) and their normals, from the near fragment to the
        far one; one normal serves for all.
    areas : (p,) float array, mm²
        Area that each point stands for.
    force, at : (f, 3) float arrays
        Forces on the near fragment (N) and the points that they act through (mm).
    moment : (3,) float array, N·mm, optional
        A free moment besides.
    stiffness : float, MPa/mm
        Of the foundation. Pressures do not depend on it, gaps do: with the default, read
        them as shares of one another.

    Returns
    -------
    ContactResult

    Raises
    ------
    ShapeError, DegenerateError
        If the arrays do not fit, hold numbers that are not finite, areas or stiffness are
        not above zero, or the points are none or lie on one line.
    """
    forces, places = as_points(force, "force"), as_points(at, "at")
    if forces.shape != places.shape:
        raise ShapeError("at", f"({len(forces)}, 3)", places.shape)
    total = Load(
        forces.sum(axis=0),
        np.cross(places, forces).sum(axis=0)
        + (np.zeros(3) if moment is None else as_vector(moment, "moment")),
        np.zeros(3),
    )
    return contact_of(points, normals, areas, total, stiffness=stiffness)


def contact_of(
    points: ArrayLike,
    normals: ArrayLike,
    areas: ArrayLike,
    load: Load,
    *,
    stiffness: float = 1.0,
    stuck: bool = False,
) -> ContactResult:
    """Contact under a load that is summed already.

    Parameters
    ----------
    points, normals, areas, stiffness
        As in `solve_contact`.
    load : Load
        On the near fragment.
    stuck : bool
        Whether friction keeps the fragments from sliding, so that only closing and two tilts
        count, however the surface is curved.

    Returns
    -------
    ContactResult

    Raises
    ------
    ShapeError, DegenerateError
        As `solve_contact`.

    Notes
    -----
    Pressure is ``k`` times the closing of each point, never tension (Winkler's foundation),
    and the six motions of the rigid fragment minimise the stored energy less the work of
    the load: a convex problem, solved by a semismooth Newton method. Contact is free of
    friction; three motions always count (closing and two tilts), the others where the
    surface is curved enough to resist them.
    """
    spots, facing = as_points(points), as_directions(normals, "normals")
    weights = positive("areas", areas)
    if weights.shape != (len(spots),):
        raise ShapeError("areas", f"({len(spots)},)", weights.shape)
    if len(spots) == 0:
        raise DegenerateError("there is no fracture surface to press on")
    if len(facing) not in (1, len(spots)):
        raise ShapeError("normals", f"({len(spots)}, 3)", facing.shape)
    if not np.isfinite([*load.force, *load.moment]).all():
        raise DegenerateError("the load holds a number that is not finite")
    spring = positive("stiffness", stiffness) * weights
    body = _Body.of(spots, facing, weights, stuck=stuck)
    wrench = body.wrench(load)
    found = minimise(body.rows @ body.free, spring, wrench @ body.free, BALANCE)
    return _result(body, weights, spring, wrench, found)


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
    """The near fragment's motions, with turns measured in mm at the region's own size."""

    centre: Vec3  # (3,) mm
    reach: float  # mm, radius of gyration
    rows: Floats  # (p, 6) closing of each point for each motion
    free: Floats  # (6, m) motions that contact resists, orthonormal
    sliding: Floats  # (6, 6 - m) motions that it does not

    @classmethod
    def of(cls, points: Vec3s, normals: Vec3s, areas: Floats, *, stuck: bool) -> _Body:
        share = areas / areas.sum()
        centre = share @ points
        offset = points - centre
        reach = float(np.sqrt(share @ (offset**2).sum(axis=1)))
        if reach == 0.0:
            raise DegenerateError("the points of the fracture surface lie on one spot")
        turn = np.cross(offset, normals) / reach
        rows = np.concatenate([np.broadcast_to(normals, offset.shape), turn], axis=1)
        mean = (share[:, None] * normals).sum(axis=0)
        free, sliding = _motions(rows, share, mean, stuck=stuck)
        return cls(centre, reach, rows, free, sliding)

    def wrench(self, load: Load) -> Floats:
        return np.concatenate([load.force, load.moment_about(self.centre) / self.reach])


def _motions(rows: Floats, share: Floats, mean: Vec3, *, stuck: bool) -> tuple[Floats, Floats]:
    """Closing and two tilts, and what else the surface resists; what it does not."""
    gram = (rows * share[:, None]).T @ rows
    if np.linalg.norm(mean) < ON_A_LINE:
        raise DegenerateError("the normals of the fracture surface cancel each other")
    w = mean / np.linalg.norm(mean)
    u = np.cross(w, np.eye(3)[np.abs(w).argmin()])
    u = u / np.linalg.norm(u)
    v = np.cross(w, u)
    plane, along = np.zeros((6, 3)), np.zeros((6, 3))
    plane[:3, 0], plane[3:, 1], plane[3:, 2] = w, u, v
    along[:3, 0], along[:3, 1], along[3:, 2] = u, v, w
    kept = plane.T @ gram @ plane
    if np.linalg.eigvalsh(kept)[0] < ON_A_LINE:
        raise DegenerateError("the points of the fracture surface lie on one line")
    cross = plane.T @ gram @ along
    follow = np.linalg.solve(kept, cross)
    rest = along.T @ gram @ along - cross.T @ follow
    value, mode = np.linalg.eigh(rest)
    held = (value > INTERLOCK) & (not stuck)
    # a fragment that slides closes and tilts as the surface makes it: on a tube it turns
    sliding = (along - plane @ follow) @ mode[:, ~held]
    return np.concatenate([plane, along @ mode[:, held]], axis=1), sliding


def _result(
    body: _Body,
    areas: Floats,
    spring: Floats,
    wrench: Floats,
    found: tuple[Floats, int],
) -> ContactResult:
    motion, iterations = found
    closing = body.rows @ (body.free @ motion)
    pressure = np.maximum(closing, 0.0) * spring / areas
    left = wrench - (pressure * areas) @ body.rows
    missing = body.free @ (body.free.T @ left)
    size = float(np.linalg.norm(wrench))
    converged = bool(np.linalg.norm(missing) <= BALANCE * size)
    if not converged:
        pressure, closing = np.full((2, len(areas)), np.nan)
    touching = pressure > 0.0
    area = float(areas[touching].sum()) if converged else np.nan
    return ContactResult(
        pressure=pressure,
        gap=np.maximum(-closing, 0.0),
        area=area,
        share=area / float(areas.sum()),
        mean=float(pressure @ areas) / area if area > 0.0 else np.nan,
        peak=float(pressure.max()),
        converged=converged,
        balanced=converged or _could_balance(body, wrench),
        iterations=iterations,
        force_residual=float(np.linalg.norm(missing[:3])),
        moment_residual=float(np.linalg.norm(missing[3:])) * body.reach,
        carried=Load(left[:3], left[3:] * body.reach, body.centre),
        sliding=body.sliding / np.array([1.0] * 3 + [body.reach] * 3)[:, None],
    )


def _could_balance(body: _Body, wrench: Floats) -> bool:
    """Whether any pressures without tension balance the load."""
    target = body.free.T @ wrench
    _, left = nnls((body.rows @ body.free).T, target)
    return bool(left <= NO_BALANCE * np.linalg.norm(target))
