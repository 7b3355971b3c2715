"""A case for the command line: a tube of a shaft with a canal and an oblique fracture."""

from __future__ import annotations

from pathlib import Path

from mesh_files import stl_bytes, write
from specimens import tube

MESHES = Path(__file__).parents[1] / "meshes"

#: Through the middle of the tube, its normal 30 degrees off the shaft.
PLANE = "plane = { point = [0, 0, 50], normal = [0.5, 0, 0.8660254037844386] }"
CASE = f"""\
unit = "mm"
[bone]
mesh = "bone.stl"
[fracture]
{PLANE}
[screws]
count = 2
kinds = ["HA4.5"]
candidates = 400
[placement]
draws = 50
"""


def write_case(folder):
    """Write the bone and its case."""
    write(folder / "bone.stl", stl_bytes(tube(outer=14.0, inner=9.0, length=100.0)))
    return write(folder / "case.toml", CASE)
