"""Laws of plated plans: a moved bone, a mirrored one, and a plate turned end for end."""

from pathlib import Path

import numpy as np
import pytest
import specimens
from scipy.spatial.transform import Rotation

from trajplan.files import read_case
from trajplan.planner import plan_case, plan_record

MESHES = Path(__file__).parents[2] / "meshes"
NORMAL, OUT, ALONG = np.array([0.3, 0.1, 1.0]), np.array([0.9, 0.5, 0.0]), np.array([0.0, 0.0, 1.0])


def bone():
    """A bowed, oval, widening shaft: neither of its ends nor sides is like another."""
    z = np.linspace(-70.0, 70.0, 57)
    vertices, faces = specimens.lathe(13 + 0.02 * (z + 70.0), z, 96)
    vertices = vertices * [1.0, 0.85, 1.0]
    vertices[:, 0] += 0.0006 * vertices[:, 2] ** 2
    return vertices, faces


def plated(matrix=None, shift=0.0, along=ALONG):
    """A transverse fracture and its plate, all turned by a matrix and moved."""
    matrix = np.eye(3) if matrix is None else matrix
    vertices, faces = bone()
    faces = faces if np.linalg.det(matrix) > 0.0 else faces[:, ::-1]
    point = np.array([1.0, 0.0, 3.0]) @ matrix.T + shift
    case = read_case(
        MESHES / "plate_compress.toml",
        {
            "bone": {"mesh": "shaft.stl", "cortex": 4.0},
            "fracture": {"plane": {"point": point.tolist(), "normal": (matrix @ NORMAL).tolist()}},
            "screws": {"count": 0, "candidates": 50},
            "placement": {"draws": 0},
            "plate": [
                {
                    "kind": "Demo4.5", "work": "compress", "holes": 6,
                    "along": (matrix @ along).tolist(),
                    "side": {"direction": (matrix @ OUT).tolist(), "cone": 20},
                }
            ],
        },
    )  # fmt: skip
    plan = plan_record(plan_case(case, bone=(vertices @ matrix.T + shift, faces)))
    (plate,) = plan.plates
    return plan, plate


@pytest.fixture(scope="module")
def here():
    return plated()


def holes(plate):
    return [(hole.use, round(hole.offset, 3)) for hole in plate.hole]


def lengths(plate):
    return [screw.length for screw in plate.screws]


def centres(plate):
    return np.array([hole.centre for hole in plate.hole])


TURN = Rotation.from_rotvec([0.4, -0.7, 1.1]).as_matrix()
SHIFT = np.array([30.0, -200.0, 55.0])


def test_a_moved_and_turned_frame_gives_the_same_plan(here):
    (one, plate), (other, moved) = here, plated(TURN, SHIFT)
    assert (one.verdict, holes(plate), lengths(plate)) == (
        other.verdict, holes(moved), lengths(moved)
    )  # fmt: skip
    assert plate.first_fragment == moved.first_fragment
    np.testing.assert_allclose(centres(moved), centres(plate) @ TURN.T + SHIFT, atol=0.01)
    assert [b.twist for b in plate.bends] == [b.twist for b in moved.bends]


def test_a_mirrored_bone_gives_the_mirrored_plan(here):
    mirror = np.diag([1.0, -1.0, 1.0])
    (one, plate), (other, turned) = here, plated(mirror)
    assert (one.verdict, holes(plate), lengths(plate)) == (
        other.verdict, holes(turned), lengths(turned)
    )  # fmt: skip
    assert plate.first_fragment == turned.first_fragment
    np.testing.assert_allclose(centres(turned), centres(plate) @ mirror, atol=0.05)
    # a mirror turns every twist about, and no bend
    assert [b.twist for b in plate.bends] == [-b.twist for b in turned.bends]
    assert [b.flatwise for b in plate.bends] == [b.flatwise for b in turned.bends]


def test_a_plate_turned_end_for_end_gives_the_same_plan(here):
    (one, plate), (other, turned) = here, plated(along=-ALONG)
    assert one.verdict == other.verdict
    assert holes(plate) == [(use, -off) for use, off in holes(turned)[::-1]]
    assert lengths(plate) == lengths(turned)[::-1]
    assert {plate.first_fragment, turned.first_fragment} == {
        "the fragment under hole 1", "the fragment under hole 6"
    }  # fmt: skip
    np.testing.assert_allclose(centres(turned)[::-1], centres(plate), atol=0.3)
    for bend, back in zip(plate.bends, turned.bends[::-1], strict=True):
        # degrees are rounded by their sums from the first end on
        assert abs(bend.flatwise - back.flatwise) <= 1.0
        assert abs(bend.twist - back.twist) <= 1.0


def test_a_plate_that_buttresses_is_the_same_whichever_way_its_line_is_drawn():
    # one hole over the shaft and two over the fragment: it is the bone that tells which is which
    line = [[18.0, -2.0, 10.0], [28.0, -7.0, 30.0], [38.0, -12.0, 49.0]]
    told = []
    for points in (line, line[::-1]):
        plate = {"kind": "Reconstruction4.5", "work": "buttress", "holes": 3, "line": points}
        case = read_case(
            MESHES / "plate_buttress.toml",
            {
                "plate": [plate | {"side": {"direction": [1, 0, 0]}, "screws": ["HA4.5"]}],
                "screws": {"count": 0, "candidates": 50},
                "placement": {"draws": 0},
            },
        )
        (found,) = plan_record(plan_case(case)).plates
        told.append({(f.rule, f.verdict, f.measured) for f in found.findings})
        sides = [f for f in found.findings if f.rule == "screws_each_side"]
        assert [f.measured for f in sides] == [1.0]  # of the shaft, and of nothing else
        assert len([step for step in found.order if "shaft's side" in step.says]) == 1
    assert {one[:2] for one in told[0]} == {one[:2] for one in told[1]}
    for one, other in zip(*map(sorted, told), strict=True):
        assert one[2] == pytest.approx(other[2], abs=0.05)
