"""Many small cases that are quick to work on: tubes with an oblique fracture."""

from __future__ import annotations

import re

from mesh_files import stl_bytes, write
from shaft_case import PLANE
from specimens import tube

#: Few sides, candidates and rays, and no draws: a fraction of a second a case.
CASE = """\
title = "{title}"
unit = "mm"
[bone]
mesh = "{mesh}"
[fracture]
{plane}
[screws]
count = 1
kinds = ["HA4.5"]
candidates = 50
ring = 8
[placement]
draws = 0
[limits]
max_tilt = {tilt}
"""
AXES = """\
id,kind,technique,x,y,z,to_x,to_y,to_z
A1,HA4.5,lag,-30,0,31,30,0,69
"""
#: Radius of the marrow space of each bone, mm.
INNER = (9.0, 8.5, 8.0, 7.5)


def case_text(title, mesh, tilt):
    """The text of a case."""
    return CASE.format(plane=PLANE, title=title, mesh=mesh, tilt=tilt)


def write_bones(folder, count=4):
    """Write bones that differ in their walls."""
    for number, inner in enumerate(INNER[:count]):
        mesh = tube(outer=14.0, inner=inner, length=100.0, sides=24)
        write(folder / f"bone{number}.stl", stl_bytes(mesh))


def write_cases(folder, count, *, bones=2, names="case{:03d}"):
    """Write cases over several bones, each with limits and a title of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    write_bones(folder, bones)
    return [
        write(
            folder / f"{names.format(i)}.toml",
            case_text(f"number {i}", f"bone{i % bones}.stl", 12 + i % 10),
        )
        for i in range(count)
    ]


def write_base(folder):
    """Write a base case, its bone and a table of axes, for manifests."""
    folder.mkdir(parents=True, exist_ok=True)
    write_bones(folder, 2)
    write(folder / "axes.csv", AXES)
    return write(folder / "base.toml", case_text("base", "bone0.stl", 20))


def timeless(text):
    """A plan without the one field that may differ."""
    return re.sub(r'"created": "[^"]*"', "", text)
