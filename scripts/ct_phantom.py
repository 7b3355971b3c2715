"""CT volumes of invented bones whose walls and densities are known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

__all__ = ["AIR", "FAT", "MUSCLE", "Broken", "Shaft", "ct_of", "labels_of", "places"]

#: HU of what lies round a bone at 120 kV; air, fat and muscle as in a chest CT (measured there).
AIR, FAT, MUSCLE = -1000.0, -105.0, 58.0


@dataclass(frozen=True)
class Broken:
    """A flat fracture."""

    point: tuple[float, float, float]
    normal: tuple[float, float, float]
    gap: float  # mm


@dataclass(frozen=True)
class Shaft:
    """A round shaft along a line through the origin, in muscle, in fat, in air; mm and HU."""

    axis: tuple[float, float, float] = (0.0, 0.0, 1.0)
    outer: float = 12.0
    wall: float = 3.5
    thinner: float = 0.0  # by how much the wall is thinner on one side, and thicker on the other
    half: float = 40.0
    cortex: float = 1600.0
    inside: float = -50.0  # of its lower half
    inside_up: float | None = None  # of its upper half; None: as below
    muscle: float = 19.0
    fat: float = 22.0
    broken: Broken | None = None


def places(matrix: np.ndarray, size: tuple[int, int, int]) -> np.ndarray:
    """(k, j, i, 3) places of voxels, mm."""
    i, j, k = np.meshgrid(*map(np.arange, size), indexing="ij")
    index = np.stack([i, j, k], axis=-1).transpose(2, 1, 0, 3)
    return index @ matrix[:3, :3].T + matrix[:3, 3]


def _depths(shaft: Shaft, at: np.ndarray) -> tuple[np.ndarray, ...]:
    """Signed distances, positive inside: bone, canal, muscle, fat; and the height."""
    axis = np.array(shaft.axis) / np.linalg.norm(shaft.axis)
    height = at @ axis
    across = at - height[..., None] * axis
    radius = np.linalg.norm(across, axis=-1)
    side = np.cross(axis, [0.3, 1.0, 0.2])
    side /= np.linalg.norm(side)
    cosine = across @ side / np.maximum(radius, 1e-9)
    ends = shaft.half - np.abs(height)
    bone = np.minimum(shaft.outer - radius, ends)
    wall = shaft.wall + shaft.thinner * cosine
    canal = np.minimum(shaft.outer - wall - radius, ends - shaft.wall)
    if shaft.broken is not None:
        off = (at - np.array(shaft.broken.point)) @ _unit(shaft.broken.normal)
        bone = np.minimum(bone, np.abs(off) - shaft.broken.gap / 2.0)
    return bone, canal, shaft.muscle - radius, shaft.fat - radius, height


def _unit(vector: tuple[float, float, float]) -> np.ndarray:
    return np.array(vector) / np.linalg.norm(vector)


def ct_of(
    shaft: Shaft,
    matrix: np.ndarray,
    size: tuple[int, int, int],
    fwhm: float = 0.7,
    noise: float = 25.0,
    seed: int = 0,
) -> np.ndarray:
    """(k, j, i) int16 HU: each voxel's share of each part, blurred, with noise."""
    at = places(matrix, size)
    bone, canal, muscle, fat, height = _depths(shaft, at)
    spacing = np.linalg.norm(matrix[:3, :3], axis=0)
    edge = float(spacing.mean())
    found = np.full(size[::-1], AIR)
    up = shaft.inside if shaft.inside_up is None else shaft.inside_up
    inside = np.where(height > 0.0, up, shaft.inside)
    within = np.minimum(bone, canal)
    for depth, value in ((fat, FAT), (muscle, MUSCLE), (bone, shaft.cortex), (within, inside)):
        share = np.clip(0.5 + depth / edge, 0.0, 1.0)
        found = found * (1.0 - share) + value * share
    found = ndimage.gaussian_filter(found, fwhm / 2.3548 / spacing[::-1], mode="nearest")
    found += np.random.default_rng(seed).normal(0.0, noise, found.shape)
    return np.round(found).astype(np.int16)


def labels_of(shaft: Shaft, matrix: np.ndarray, size: tuple[int, int, int]) -> np.ndarray:
    """(k, j, i) uint8: the bone with its marrow; broken, 1 below the fracture and 2 above."""
    at = places(matrix, size)
    bone = _depths(shaft, at)[0] > 0.0
    if shaft.broken is None:
        return bone.astype(np.uint8)
    off = (at - np.array(shaft.broken.point)) @ _unit(shaft.broken.normal)
    return np.where(bone, np.where(off > 0.0, 2, 1), 0).astype(np.uint8)
