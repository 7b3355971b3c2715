"""Build the demo bones: invented shapes, written the same way to the last bit every time.

    python scripts/make_meshes.py [FOLDER]

``shaft`` is a long bone with a modelled canal and an oblique fracture in its middle;
``end`` is the flared, solid end of a bone with a two-dished joint surface and a split that
runs from the joint down and out on one side. Both come as STL and as OBJ with named groups;
``split`` is the bone end on a longer neck, for a plate. The fractures,
the joint surface and a nerve beside the shaft are STL files of their own.
``oblique`` is the shaft in two fragments, ``wedge`` in three, ``displaced`` in three that lie far
apart, and ``spiral`` is a fracture that winds round it. No patient stands behind any of them.
Lengths are mm.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # also where the tests import this file

from mesh_breaks import OBLIQUE_SHIFT, oblique, spiral, wedge
from mesh_displaced import displaced
from mesh_end import END_PLANE, end, split
from mesh_parts import Mesh, combine, obj_bytes, stl_bytes
from mesh_shaft import SHAFT_PLANE, shaft

__all__ = [
    "END_PLANE",
    "OBLIQUE_SHIFT",
    "SHAFT_PLANE",
    "Mesh",
    "combine",
    "files",
    "main",
    "meshes",
]


def meshes() -> dict[str, Mesh]:
    """Every mesh by name; those that end in ``_groups`` come as OBJ."""
    return shaft() | end() | split() | oblique() | wedge() | spiral() | displaced()


def files() -> dict[str, bytes]:
    """Every file by name."""
    return dict(_file(name, mesh) for name, mesh in meshes().items())


def _file(name: str, mesh: Mesh) -> tuple[str, bytes]:
    bone = name.removesuffix("_groups")
    return (f"{bone}.stl", stl_bytes(mesh)) if bone == name else (f"{bone}.obj", obj_bytes(mesh))


def main(folder: Path) -> None:
    """Write every file into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files().items():
        (folder / name).write_bytes(content)
        print(f"{folder / name}: {len(content):,} bytes")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "meshes")
