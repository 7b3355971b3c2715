"""Writers of small mesh files, as tests need them: whole, or broken on purpose."""

from __future__ import annotations

import struct

import numpy as np

FACET = np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])


def stl_bytes(mesh, *, comment=b"made for a test", count=None):
    vertices, faces = mesh
    facets = np.zeros(len(faces), dtype=FACET)
    facets["v"] = vertices[faces]
    return (
        comment.ljust(80)
        + struct.pack("<I", len(faces) if count is None else count)
        + (facets.tobytes())
    )


def stl_text(mesh, name="a name with facet in it"):
    vertices, faces = mesh
    facets = "".join(
        "facet normal 0 0 0\n outer loop\n"
        + "".join("  vertex {:.9g} {:.9g} {:.9g}\n".format(*corner) for corner in face)
        + " endloop\nendfacet\n"
        for face in vertices[faces]
    )
    return f"solid {name}\n{facets}endsolid {name}\n"


def obj_text(mesh):
    vertices, faces = mesh
    return "".join("v {!r} {!r} {!r}\n".format(*map(float, v)) for v in vertices) + "".join(
        "f {} {} {}\n".format(*(f + 1)) for f in faces
    )


def write(path, content):
    if isinstance(content, str):
        content = content.encode()
    path.write_bytes(content)
    return path


#: Header of an ASCII PLY of three vertices and two faces.
PLY_HEAD = (
    "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
    "property float z\nelement face 2\nproperty list uchar int vertex_indices\nend_header\n"
)
