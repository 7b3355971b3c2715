"""The bone of a CT round a fracture: density anywhere, and walls read along their normals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.spatial import cKDTree

from trajplan.arrays import freeze
from trajplan.volume._calibrate import Density, calibrate
from trajplan.volume._sample import crop
from trajplan.volume._wall_fit import Plateau, find_plateau, fit_walls

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.volume._calibrate import Calibration
    from trajplan.volume._image import Ct, Source
    from trajplan.volume._sample import Region

__all__ = ["BoneField", "Walling", "measure_bone"]

#: mm of each profile outside and inside the surface.
OUT, IN = 3.0, 9.0
#: mm round the bone that are kept for sampling.
MARGIN = 6.0
#: mm from metal within which its streaks make density unknown (a dark streak of -848 HU beside a
#: titanium screw: BMC Med Imaging 2021, doi 10.1186/s12880-021-00554-y, table 3; the reach: a
#: choice).
METAL_REACH = 20.0
#: HU; no bone, marrow or fat reads less: a streak, or gas.
STREAK = -200.0
#: Slices thicker than this, mm, or longer than so many pixels, blur thin walls away.
THICK_SLICE, LONG_VOXEL = 1.0, 2.0
#: What a fit must keep to be believed: HU left over, mm of wall, mm from the surface.
LEFT_OVER, LEAST_WALL, OFF_SURFACE = 100.0, 0.3, 1.5
#: mm round a place whose fits make its wall: as wide as a head; and how many there must be.
ROUND, ENOUGH = 2.5, 3
#: mm by which a wall may be wrong whatever the spread of its fits: density of cortex 10 % off gives
#: 0.04 to 0.14 (measured on blurred plates).
WALL_ERROR = 0.15
#: mm; the surface of a mesh that lies farther from the edge of the bone in the CT is told.
SITS = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Walling:
    """Walls of a bone, read from a CT."""

    plateau: Plateau
    offset: float  # mm, middle one, from the mesh inwards to the outer edge in the CT
    tree: cKDTree  # of the places
    thickness: Floats  # (m,) mm along the normal, middle one round each place
    spread: Floats  # (m,) mm, between the quarters, and no less than what the method leaves


@dataclass(frozen=True, slots=True, eq=False)
class BoneField:
    """What a CT says of a bone."""

    source: Source
    spacing: tuple[float, float, float]  # mm, edges of a voxel
    region: Region
    calibration: Calibration
    walling: Walling | None
    cautions: tuple[str, ...]  # one sentence each

    @property
    def blur(self) -> float:
        """Blur of the CT, mm; where no wall shows it two voxels."""
        return 2.0 * max(self.spacing) if self.walling is None else self.walling.plateau.fwhm

    @property
    def step(self) -> float:
        """Depth between two samples that misses nothing, mm."""
        return min(self.spacing) / 2.0

    def hu(self, points: Vec3s) -> Floats:
        """HU at places.

        Parameters
        ----------
        points : (n, 3) float array, LPS mm
            Places.

        Returns
        -------
        (n,) float array
            NaN where nothing was measured, near metal, and in a streak.
        """
        found = self.region.at(points)
        with np.errstate(invalid="ignore"):
            bad = found < STREAK
        bad |= self.region.near_metal(points, METAL_REACH)
        return np.where(bad, np.nan, found)

    def density(self, points: Vec3s) -> Density:
        """Apparent density at places, g/cm³.

        Parameters
        ----------
        points : (n, 3) float array, LPS mm
            Places.

        Returns
        -------
        Density
            NaN as for `hu`.
        """
        return self.calibration.apparent(self.hu(points))

    def cortex(self) -> Density:
        """Apparent density of the bone's thickest cortex, g/cm³.

        Returns
        -------
        Density
            One number each; NaN: no wall shows it.
        """
        level = np.nan if self.walling is None else self.walling.plateau.hu
        return self.calibration.apparent(np.array(level))

    def wall(self, points: Vec3s) -> tuple[Floats, Floats]:
        """Thickness of the wall at places of the surface.

        Parameters
        ----------
        points : (n, 3) float array, LPS mm
            Places; NaN rows have none.

        Returns
        -------
        thickness, spread : (n,) float arrays, mm
            Along the normal; NaN where none was read within reach.
        """
        thick, spread = np.full(len(points), np.nan), np.full(len(points), np.nan)
        there = np.isfinite(points).all(axis=1)
        if self.walling is not None and there.any():
            found: Any = self.walling.tree.query(points[there], distance_upper_bound=ROUND)
            away, row = found
            near = np.isfinite(away)
            at = np.flatnonzero(there)[near]
            thick[at] = self.walling.thickness[row[near]]
            spread[at] = self.walling.spread[row[near]]
        return thick, spread


def measure_bone(
    ct: Ct,
    surface: Vec3s,
    places: Vec3s,
    inward: Vec3s,
    given: tuple[float, float] | None = None,
) -> BoneField:
    """Take from a CT what it says of a bone.

    Parameters
    ----------
    ct : Ct
        The CT.
    surface : (v, 3) float array, LPS mm
        Points of the bone, whose surroundings are kept.
    places : (m, 3) float array, LPS mm
        Places of its outer surface, where walls are to be read.
    inward : (m, 3) float array
        Unit normals into the bone.
    given : tuple of two floats, optional
        Calibration, as for `calibrate`.

    Returns
    -------
    BoneField

    Raises
    ------
    VolumeError
        If no density can be taken from the CT.
    """
    calibration = calibrate(ct, given)
    region = crop(ct, surface, MARGIN, METAL_REACH)
    i, j, k = (float(edge) for edge in ct.grid.spacing)
    edges = (i, j, k)
    walling, cautions = None, list(ct.cautions)
    if max(edges) > THICK_SLICE or max(edges) > LONG_VOXEL * min(edges):
        cautions.append(
            f"Voxels of {' x '.join(f'{edge:.2f}' for edge in edges)} mm are too coarse to read "
            "the wall by: density is measured, the cortex is not, and reads too light."
        )
    else:
        walling, said = _walling(region, edges, places, inward)
        cautions += said
    if len(region.metal):
        cautions.append(
            f"There is metal in the CT near this bone: within {METAL_REACH:g} mm of it no density "
            "is told."
        )
    return BoneField(ct.source, edges, region, calibration, walling, tuple(cautions))


def _walling(
    region: Region, edges: tuple[float, ...], places: Vec3s, inward: Vec3s
) -> tuple[Walling | None, list[str]]:
    """Read the wall at every place, and smooth it round each."""
    depths = np.arange(-OUT, IN + 1e-9, min(edges) / 2.0)
    points = places[:, None, :] + depths[None, :, None] * inward[:, None, :]
    profiles = region.at(points.reshape(-1, 3)).reshape(len(places), len(depths))
    profiles[region.near_metal(places, METAL_REACH)] = np.nan
    plateau = find_plateau(profiles, depths)
    if np.isnan(plateau.hu):
        said = "No wall of this bone is thick enough in the CT to show the density of its cortex"
        return None, [f"{said}, so walls are not measured."]
    fit = fit_walls(profiles, depths, plateau)
    with np.errstate(invalid="ignore"):
        good = (fit.rms < LEFT_OVER) & (fit.thickness >= LEAST_WALL)
        good &= (np.abs(fit.start) <= OFF_SURFACE) & (fit.outside < 0.5 * plateau.hu)
    if good.sum() < ENOUGH:
        return None, ["The walls of this bone do not show clearly in the CT, and are not measured."]
    offset = float(np.median(fit.start[good]))
    told = []
    if abs(offset) > SITS:
        way = "inside" if offset > 0.0 else "outside"
        told.append(
            f"The edge of the bone in the CT lies {abs(offset):.1f} mm {way} the mesh: look at the "
            "drawings whether the mesh sits on its CT."
        )
    tree = cKDTree(places[good])
    thick, spread = _round_each(tree, fit.thickness[good])
    enough = np.isfinite(thick)
    freeze(thick, spread)
    kept = cKDTree(places[good][enough])
    return Walling(plateau, offset, kept, thick[enough], spread[enough]), told


def _round_each(tree: cKDTree, thickness: Floats) -> tuple[Floats, Floats]:
    """Middle thickness and spread of the places round each."""
    away, row = tree.query(tree.data, k=min(16, len(thickness)), distance_upper_bound=ROUND)
    near: Bools = np.isfinite(away)
    found = np.append(thickness, np.nan)[np.where(near, row, len(thickness))]
    middle = np.nanmedian(found, axis=1)
    quarters = np.nanquantile(found, [0.25, 0.75], axis=1)
    spread = np.maximum(quarters[1] - quarters[0], WALL_ERROR)
    middle[near.sum(axis=1) < ENOUGH] = np.nan
    return middle, spread
