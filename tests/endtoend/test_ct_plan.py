"""Planning with the CT that the meshes were made from: walls, hold, place, and what is refused."""

import gzip
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from phantoms import middled, write_pair
from volume_files import turned, write_volume

from scripts import make_ct
from scripts.ct_phantom import Broken, Shaft, ct_of, labels_of
from trajplan.implants import find_screw, load_catalogue
from trajplan.mechanics import pull_out

MESHES = Path(__file__).parents[2] / "meshes"

#: A shaft in two fragments, soft bone inside its upper half.
SHAFT = Shaft(half=26.0, outer=10.0, wall=2.8, inside_up=220.0, muscle=14.0, fat=16.5,
              broken=Broken((0.0, 0.0, 0.0), (0.80, 0.15, 0.58), 1.3))  # fmt: skip
SIZE, EDGES = (56, 54, 92), (0.65, 0.65, 0.65)
SCREWS = """
[screws]
count = 2
kinds = ["HA3.5"]
candidates = 150
[placement]
draws = 0
"""


def write_case(folder, shaft=SHAFT, directions=None, centre=(0.0, 0.0, 0.0), noise=25.0):
    """CT, labels, meshes and a case, as a user makes them; the bone stays where it is."""
    size = SIZE if directions is None else (92, 93, 91)
    matrix = middled(size, EDGES, directions, centre)
    write_pair(folder, shaft, size, matrix, noise=noise)


def planned(run, folder, cortex="", count=2):
    made = run("model", "labels.nii.gz", "--ct", "ct.nii.gz", "--out", "out", "--no-picture")
    assert made.status == 0, made.err
    case = folder / "out" / "case.toml"
    text = (
        case.read_text().partition("[screws]")[0].replace("\n\n[fracture]", f"\n{cortex}[fracture]")
    )
    case.write_text(text + SCREWS.replace("count = 2", f"count = {count}"))
    answer = run("plan", "out/case.toml", "--out", "plan", "--no-picture")
    assert answer.status in (0, 1), answer.err
    return json.loads((folder / "plan/plan.json").read_text()), answer


def truth(record, kind):
    """Hold of the thread in the bone that the volume was made of, N, walls 68 MPa at 1.97 g/cm³."""
    screw = find_screw(load_catalogue(), record["kind"])
    axis = np.array(SHAFT.axis)
    start, way = np.array(record["entry"]), np.array(record["direction"])
    across = np.cross(way, axis) / np.linalg.norm(np.cross(way, axis))
    ring = np.linspace(0.0, 2.0 * np.pi, 33)[:-1]
    out = np.cos(ring)[:, None] * across + np.sin(ring)[:, None] * np.cross(way, across)
    depth = np.arange(0.0, 60.0, 0.02)
    radii = np.sqrt(np.linspace(screw.core_diameter**2, screw.thread_diameter**2, 7)[1::2]) / 2.0
    begin = max(record["thread_hole"]["from"], record["thread"]["from"])
    total = 0.0
    for radius in radii:
        at = start + out[:, None] * radius + depth[None, :, None] * way
        height = at @ axis
        round_ = np.linalg.norm(at - height[..., None] * axis, axis=-1)
        off = at @ (np.array(SHAFT.broken.normal) / np.linalg.norm(SHAFT.broken.normal))
        first = np.sign(off[:, :1])
        past = (np.sign(off) != first) & (np.abs(off) > SHAFT.broken.gap / 2.0)
        thread = (depth >= begin) & (depth <= record["thread"]["to"]) & past
        inside = (round_ < SHAFT.outer) & (np.abs(height) < SHAFT.half)
        hollow = round_ < SHAFT.outer - SHAFT.wall
        soft = np.where(height > 0.0, 22.7 * kind**2, 0.0)
        strength = np.where(inside & thread, np.where(hollow, soft, 68.0), 0.0)
        total += strength.sum(axis=1).mean() * 0.02 / len(radii)
    return float(pull_out(1.0, total, screw.thread_diameter, screw.core_diameter, screw.pitch))


@pytest.mark.parametrize("directions", [None, turned(35) * [1, 1, -1], turned(200)[:, [2, 0, 1]]])
def test_round_trip(run, folder, directions):
    """A bone of known wall and density, made voxels, blurred, with noise, planned: walls within
    0.15 mm, hold within 10 %, place within 0.1 mm, however the volume lies.
    """
    write_case(folder, directions=directions)
    plan, answer = planned(run, folder)
    (zone,) = plan["fracture"]["zones"]
    normal = np.array(SHAFT.broken.normal) / np.linalg.norm(SHAFT.broken.normal)
    assert abs(np.array(zone["point"]) @ normal) < 0.1
    assert plan["ct"]["calibration"]["origin"] == "peaks"
    assert abs(plan["ct"]["offset"]) < 0.1
    line = plan["ct"]["calibration"]
    mineral = (line["slope"] * SHAFT.inside_up + line["offset"]) / 1000.0
    dense = (0.877 * mineral + 0.079) / 0.598
    assert plan["screws"]
    for record in plan["screws"]:
        for end, word in (("entry", "near_cortex"), ("exit", "far_cortex")):
            place = np.array(record[end])
            out = np.linalg.norm(place[:2])
            assert out == pytest.approx(SHAFT.outer, abs=0.3)  # one place of a mesh of voxels
            angle = abs(np.array(record["direction"])[:2] @ place[:2]) / out
            wall = record[word]
            assert wall["basis"] == "measured"
            far = abs(place @ normal) > 6.0  # from the broken edge, which reads as a thicker wall
            off = 0.15 if far else 0.1 + wall["spread"]
            assert wall["thickness"] * angle == pytest.approx(SHAFT.wall, abs=off)
            assert 0.1 < wall["spread"] < 1.0
        held = record["holding"]
        assert held["estimate"] == pytest.approx(truth(record, dense), rel=0.1)
        assert held["low"] < held["estimate"] < held["high"]
        turns = record["bone_profile"]["turns"]
        assert sum(turn["holding"]["estimate"] for turn in turns) == pytest.approx(
            held["estimate"], rel=0.03
        )
    assert not [one for one in plan["findings"] if one["rule"] == "cortex_ct"]
    assert "Bone in ct.nii.gz" in answer.out
    assert "In the bone of the CT it holds" in " ".join(answer.out.split())
    assert "no canal is modelled" not in answer.out


def test_a_wall_that_the_case_states_is_held_against_the_ct(run, folder):
    write_case(folder)
    plan, _ = planned(run, folder, cortex="cortex = 5.0\n", count=1)
    (found,) = [one for one in plan["findings"] if one["rule"] == "cortex_ct"]
    assert found["verdict"] == "caution"
    assert "bone.cortex says 5.0 mm of wall where the CT shows 2." in found["why"]
    assert plan["screws"][0]["near_cortex"]["basis"] == "measured"
    view = run("report", "plan/plan.json", "--out", "page.html")
    assert view.status == 0, view.err
    page = (folder / "page.html").read_text()
    assert "(measured)" in page
    assert "density of bone, turn by turn" in page


@pytest.fixture
def ready(folder):
    """The demonstration case, with its CT."""
    shutil.copytree(MESHES / "ct_shaft", folder / "ct_shaft")
    for name in ("ct_shaft.nii.gz", "ct_shaft.toml"):
        shutil.copy(MESHES / name, folder / name)
    return folder / "ct_shaft.toml"


def refused(answer, said):
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.count("\n") == 1
    assert said in answer.err


def test_a_mesh_that_lies_elsewhere_is_refused(run, folder, ready):
    with gzip.open(folder / "ct_shaft.nii.gz") as file:
        content = bytearray(file.read())
    shift = np.frombuffer(content, "<f4", 12, 280).copy()
    shift[3] += 8.0
    content[280:328] = shift.tobytes()
    (folder / "ct_shaft.nii.gz").write_bytes(gzip.compress(bytes(content), 1))
    refused(run("plan", "ct_shaft.toml", "--out", "plan"), "does not lie on bone of the CT")
    assert not (folder / "plan").exists()


def test_a_ct_that_changed_is_refused(run, folder, ready):
    text = ready.read_text() + "\n[placement]\ndraws = 0\n"
    ready.write_text(text.replace("count = 2", "count = 1\ncandidates = 200"))
    assert run("plan", "ct_shaft.toml", "--out", "plan", "--no-picture").status in (0, 1)
    with gzip.open(folder / "ct_shaft.nii.gz") as file:
        content = bytearray(file.read())
    content[-2:] = b"\x10\x00"
    (folder / "ct_shaft.nii.gz").write_bytes(gzip.compress(bytes(content), 1))
    refused(run("drill", "plan/plan.json"), "ct_shaft.nii.gz changed since this was planned")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('ct = "ct_shaft.nii.gz"', "calibration = { slope = 0.8 }", "calibration belongs to ct"),
        ('ct = "ct_shaft.nii.gz"', 'ct = "away.nrrd"', "away.nrrd"),
        ('ct = "ct_shaft.nii.gz"', 'ct = "ct_shaft"', "ct_shaft"),
    ],
)
def test_what_a_case_must_not_say(run, folder, ready, old, new, said):
    ready.write_text(ready.read_text().replace(old, new))
    refused(run("plan", "ct_shaft.toml", "--out", "plan"), said)


def test_fragments_that_were_moved_have_no_ct(run, folder, ready):
    ready.write_text(ready.read_text().replace("ct = ", 'reduction = "reduction.json"\nct = '))
    refused(run("plan", "ct_shaft.toml", "--out", "plan"), "no longer lie where the CT shows them")


def test_values_that_are_no_hu_give_no_plan(run, folder):
    write_case(folder)
    matrix = middled(SIZE, EDGES)
    shifted = (ct_of(SHAFT, matrix, SIZE) + 1024).astype(np.int16)
    made = run("model", "labels.nii.gz", "--ct", "ct.nii.gz", "--out", "out", "--no-picture")
    assert made.status == 0
    write_volume(folder / "ct.nii.gz", shifted, matrix)
    refused(run("plan", "out/case.toml", "--out", "plan"), "no density can be taken from it")
    assert labels_of(SHAFT, matrix, SIZE).max() == 2


def test_the_script_writes_the_committed_volumes():
    """Packed bytes may differ between versions of the packer, and values by rounding."""
    for name, content in make_ct.files().items():
        assert len(content) < 3_000_000
        kept = gzip.decompress((MESHES / name).read_bytes())
        made = gzip.decompress(content)
        assert made[:352] == kept[:352]
        kind = "<i2" if "labels" not in name else "u1"
        one, other = (np.frombuffer(part, kind, offset=352).astype(int) for part in (made, kept))
        assert np.abs(one - other).max() <= 2
        assert (one != other).mean() < 1e-3
