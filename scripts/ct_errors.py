"""Print how far meshes of labels, walls and hold read from a CT are from the bodies put in.

    python scripts/ct_errors.py

Meshes: a sphere of 12 mm made voxels. Walls: a tilted shaft, its wall from 1 to 4 mm, blurred,
with noise of 30 HU. Hold: a 3.5 mm screw straight across a shaft, against the sum of wall and soft
bone that were put in.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from builders import bone_of, screws_in, zone_of
from phantoms import ct_from, feet, field_from, middled
from specimens import cylinder
from volume_files import turned

from scripts.ct_phantom import Shaft, ct_of, places
from trajplan.mechanics import Range, find_bone_class, measured_holding, pull_out, soft_strength
from trajplan.volume import Source, as_labels, grid_of, label_mesh

NORMAL = find_bone_class("normal")


def main() -> None:
    """Print the three tables."""
    print("| label mesh | voxel, mm | mean, mm | 95 %, mm | content |")
    print("| --- | --- | --- | --- | --- |")
    for edge in (0.3, 0.5, 0.8):
        print(_sphere((edge, edge, edge)))
    print(_sphere((0.5, 0.5, 1.0)))
    print("\n| wall put in, mm | voxel, blur, mm | middle error, mm | 90 %, mm |")
    print("| --- | --- | --- | --- |")
    for edge, fwhm in ((0.4, 0.6), (0.6, 0.8), (0.8, 1.0)):
        for row in _walls(edge, fwhm):
            print(row)
    print("\n| wall, soft bone | truth, N | estimate | read straight |")
    print("| --- | --- | --- | --- |")
    for wall, inside in ((1.5, -50.0), (1.5, 150.0), (2.5, 150.0), (3.5, 300.0)):
        print(_hold(wall, inside))


def _sphere(edges: tuple[float, float, float]) -> str:
    size = tuple(int(28 / edge) + 2 for edge in edges)
    matrix = middled(size, edges, turned(40))
    inside = np.linalg.norm(places(matrix, size), axis=-1) < 12.0
    labels = as_labels(inside.astype(np.uint8), grid_of(size, matrix), Source("made", "", "NRRD"))
    mesh = label_mesh(labels, 1)
    corners = mesh.vertices[mesh.faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    off = np.abs(np.linalg.norm(corners.mean(axis=1), axis=1) - 12.0)
    order = np.argsort(off)
    at = np.searchsorted(np.cumsum(area[order]), 0.95 * area.sum())
    voxel = " x ".join(f"{edge:g}" for edge in dict.fromkeys(edges))
    content = mesh.volume / (4.0 / 3.0 * np.pi * 12.0**3) - 1.0
    mean = np.average(off, weights=area)
    return f"| sphere | {voxel} | {mean:.3f} | {off[order][at]:.3f} | {content:+.2%} |"


def _walls(edge: float, fwhm: float) -> list[str]:
    made = Shaft(half=20.0, outer=11.0, wall=2.5, thinner=1.5, inside=150.0, muscle=14.5, fat=17.0,
                 axis=(0.2, 0.1, 1.0))  # fmt: skip
    size = (int(38 / edge), int(36 / edge), int(28 / edge))
    matrix = middled(size, (edge, edge, edge), turned(30))
    where, inward, wall = feet(made, 800, 9.0)
    ct = ct_from(ct_of(made, matrix, size, fwhm, noise=30.0), matrix)
    off = field_from(ct, where, places=where, inward=inward).wall(where)[0] - wall
    rows = []
    for low, high in ((0.9, 1.5), (1.5, 2.5), (2.5, 4.1)):
        band = (wall >= low) & (wall < high)
        middle, most = np.nanmedian(off[band]), np.nanquantile(np.abs(off[band]), 0.9)
        rows.append(f"| {low:g} to {high:g} | {edge:g}, {fwhm:g} | {middle:+.3f} | {most:.2f} |")
    return rows


def _hold(wall: float, inside: float) -> str:
    made = Shaft(
        half=60.0, outer=11.0, wall=wall, thinner=0.0, inside=inside, muscle=15.0, fat=18.0
    )
    if wall < 2.2:  # the thick side shows how dense the cortex is
        made = Shaft(half=60.0, outer=11.0, wall=wall + 1.0, thinner=1.0 * np.hypot(1.0, 0.3),
                     inside=inside, muscle=15.0, fat=18.0)  # fmt: skip
    size = (64, 64, 32)
    matrix = middled(size, (0.6, 0.6, 0.6))
    where, inward, _ = feet(made, 400, 7.0)
    ct = ct_from(ct_of(made, matrix, size, fwhm=0.8, noise=20.0), matrix)
    field = field_from(ct, where, places=where, inward=inward)
    bone = bone_of(cylinder(11.0, 40.0, sides=128, start=-20.0))
    zone = zone_of(bone, [0.0, 0.0, 0.0], [1.0, 0.0, 0.0])
    line = [[-30.0, 0.0, 0.0]], [[1.0, 0.0, 0.0]]
    screws = screws_in(bone, *line, zones=zone, kind="HA3.5", field=field)
    thread = screws.dims.thread, screws.dims.core, screws.dims.pitch
    density = field.calibration.apparent(np.array([inside]))
    soft = float(soft_strength(Range(*density), "shear").estimate[0])
    inner = float(screws.purchase[0]) - wall if soft > 0.0 else 0.0
    truth = pull_out(68.0, wall, *thread)[0]
    truth += pull_out(soft, inner, *thread)[0] if inner > 0.0 else 0.0
    found = measured_holding(screws, field, NORMAL)
    plain = screws_in(bone, *line, zones=zone, kind="HA3.5")
    straight = measured_holding(plain, field, NORMAL).estimate[0]
    return (
        f"| {wall:g} mm, {inside:g} HU | {truth:.0f} | {found.estimate[0] / truth - 1.0:+.0%} | "
        f"{straight / truth - 1.0:+.0%} |"
    )


if __name__ == "__main__":
    main()
