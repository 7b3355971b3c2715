"""Reductions made by hand for the tests: a tube in two pieces, moved by a known movement."""

from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from tests.specimens import halves
from trajplan.files import read_case, stl_bytes
from trajplan.reduction import PairFit, Pose, Reduction, Slides

#: A pair that fits by every measure.
GOOD = PairFit(
    first=0,
    second=1,
    gap_mean=0.1,
    gap_90=0.3,
    gap_largest=0.6,
    step_mean=0.2,
    step_largest=0.5,
    overlap=6.0,
    inside=(0.02, 0.03),
    contact=0.8,
    rival=0.3,
    steady_shift=0.3,
    steady_turn=1.0,
    agree_shift=0.4,
    agree_turn=2.0,
    slides=Slides(along=0.1, across=(0.1, 0.1), turn=1.0, tilt=(0.5, 0.5)),
    turn_known=True,
    length_known=True,
)
#: How the upper piece was moved from where it belongs.
ROTATION = Rotation.from_rotvec(np.radians([8.0, -5.0, 12.0]))
SHIFT = np.array([6.0, -4.0, -5.0])
TRUTH = np.eye(4)
TRUTH[:3, :3] = ROTATION.as_matrix()
TRUTH[:3, 3] = SHIFT
BACK = Pose(np.linalg.inv(TRUTH))


def reduction(pair=GOOD, **changes):
    """Two fragments put together; ``changes`` are fields of the reduction."""
    told = Reduction(
        names=("lower.stl", "upper.stl"),
        fixed=0,
        poses=(Pose.still(), BACK),
        pairs=(pair,),
        origins=("found", "found"),
        sure=True,
    )
    return replace(told, **changes)


def solved(pair=GOOD, **changes):
    """What puts the fragments of `write_case` together: it knows the truth."""
    return lambda fragments, settings, progress: reduction(
        pair, names=tuple(part.name for part in fragments), **changes
    )


def write_case(folder: Path, unit="mm", extra="", table=""):
    """A shaft broken at 45 degrees in two files, the upper one displaced by `TRUTH`."""
    vertices, faces = halves(gap=0.0)
    lower, upper = np.split(faces, 2)
    moved = vertices @ TRUTH[:3, :3].T + SHIFT
    (folder / "lower.stl").write_bytes(stl_bytes(vertices[lower], unit))
    (folder / "upper.stl").write_bytes(stl_bytes(moved[upper], unit))
    (folder / "case.toml").write_text(
        f"""title = "Broken tube"
unit = "{unit}"
frame = "LPS"
[bone]
fragments = ["lower.stl", "upper.stl"]
{extra}
[fracture]
between = true
[screws]
count = 1
kinds = ["HA3.5"]
candidates = 200
[placement]
draws = 0
{table}
"""
    )
    return read_case(folder / "case.toml")
