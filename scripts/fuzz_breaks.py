"""Clean inputs for `fuzz.py`, and the ways in which it breaks them; all shapes are invented."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import trimesh
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Rng: TypeAlias = np.random.Generator
Mesh: TypeAlias = tuple[NDArray[np.float64], NDArray[np.int64]]

#: What a value of a case or a cell of a table may turn into.
VALUES = (
    "-1", "0", "1e308", "nan", "-inf", "true", '""', '"x"', "[]", "[0, 0, 0]", "[1, 2]",
    "{ a = 1 }", "1979-05-27", "9" * 400, '"../.."', '"bone.stl"', "1e-12",
    "[[0, 0, 0], [1, 0, 0], [0, 1, 0]]",
    '["HA4.5"]', '"position"', '"m"', '"inch"', "200000000", "é", "'",
)  # fmt: skip


# --- the clean inputs -----------------------------------------------------------------


def shaft() -> Mesh:
    """A shaft with a closed canal."""
    outer = trimesh.creation.cylinder(radius=14.0, height=100.0, sections=32)
    inner = trimesh.creation.cylinder(radius=9.0, height=90.0, sections=24)
    inner.invert()
    outer.apply_translation([0.0, 0.0, 50.0])
    inner.apply_translation([0.0, 0.0, 50.0])
    both = trimesh.util.concatenate([outer, inner])
    return np.array(both.vertices), np.array(both.faces, dtype=np.int64)


def encoded(mesh: Mesh, ending: str, rng: Rng) -> bytes:
    """Bytes of a mesh file."""
    body = trimesh.Trimesh(*mesh, process=False, validate=False)
    if ending == "stl":
        return bytes(body.export(file_type="stl"))
    if ending == "ply":
        style = "ascii" if rng.random() < 0.3 else "binary"
        return bytes(body.export(file_type="ply", encoding=style))
    text = body.export(file_type="obj" if ending == "obj" else "stl_ascii")
    return text.encode() if isinstance(text, str) else bytes(text)


# --- breaking meshes ------------------------------------------------------------------


def _some(count: int, rng: Rng, most: float = 0.2) -> NDArray[np.int64]:
    return rng.permutation(count)[: 1 + int(rng.random() * most * count)]


def drop_faces(mesh: Mesh, rng: Rng) -> Mesh:
    return mesh[0], np.delete(mesh[1], _some(len(mesh[1]), rng), axis=0)


def nearly_all_dropped(mesh: Mesh, rng: Rng) -> Mesh:
    return mesh[0], mesh[1][_some(len(mesh[1]), rng, 0.05)]


def turn_faces(mesh: Mesh, rng: Rng) -> Mesh:
    faces, some = mesh[1].copy(), _some(len(mesh[1]), rng, 1.0)
    faces[some] = faces[some][:, ::-1]
    return mesh[0], faces


def repeat_faces(mesh: Mesh, rng: Rng) -> Mesh:
    return mesh[0], np.concatenate([mesh[1], mesh[1][_some(len(mesh[1]), rng, 1.0)]])


def swap_corners(mesh: Mesh, rng: Rng) -> Mesh:
    faces, some = mesh[1].copy(), _some(len(mesh[1]), rng)
    faces[some] = rng.integers(len(mesh[0]), size=(len(some), 3))
    return mesh[0], faces


def collapse_corners(mesh: Mesh, rng: Rng) -> Mesh:
    faces, some = mesh[1].copy(), _some(len(mesh[1]), rng)
    faces[some, 1] = faces[some, 0]
    return mesh[0], faces


def scatter(mesh: Mesh, rng: Rng) -> Mesh:
    size = 10.0 ** rng.uniform(-6, 2)
    return mesh[0] + rng.normal(0.0, size, mesh[0].shape), mesh[1]


def unmerge(mesh: Mesh, rng: Rng) -> Mesh:
    corners = mesh[0][mesh[1]].reshape(-1, 3)
    size = 10.0 ** rng.uniform(-7, -1)
    corners = corners + rng.uniform(-size, size, corners.shape)
    return corners, np.arange(len(corners)).reshape(-1, 3)


def double(mesh: Mesh, rng: Rng) -> Mesh:
    shift = rng.normal(0.0, 10.0 ** rng.uniform(-4, 1), 3)
    return (
        np.concatenate([mesh[0], mesh[0] + shift]),
        np.concatenate([mesh[1], mesh[1] + len(mesh[0])]),
    )


def rescale(mesh: Mesh, rng: Rng) -> Mesh:
    return mesh[0] * rng.choice([0.0, 1e-30, 1e-3, 0.1, 0.3, 3.0, 25.4, 1e3, 1e6, 1e30]), mesh[1]


def flatten(mesh: Mesh, rng: Rng) -> Mesh:
    vertices = mesh[0].copy()
    vertices[:, rng.integers(3)] *= rng.choice([0.0, 1e-9, 1e-3])
    return vertices, mesh[1]


def no_number(mesh: Mesh, rng: Rng) -> Mesh:
    vertices = mesh[0].copy()
    vertices[rng.integers(len(vertices)), rng.integers(3)] = rng.choice([np.nan, np.inf, -np.inf])
    return vertices, mesh[1]


def far_vertex(mesh: Mesh, rng: Rng) -> Mesh:
    vertices = mesh[0].copy()
    vertices[rng.integers(len(vertices))] *= 10.0 ** rng.uniform(0, 8)
    return vertices, mesh[1]


ON_MESHES: tuple[Callable[[Mesh, Rng], Mesh], ...] = (
    drop_faces, nearly_all_dropped, turn_faces, repeat_faces, swap_corners, collapse_corners,
    scatter, unmerge, double, rescale, flatten, no_number, far_vertex,
)  # fmt: skip


# --- breaking bytes and text ----------------------------------------------------------


def truncate(content: bytes, rng: Rng) -> bytes:
    return content[: int(rng.integers(len(content)))]


def flip_bytes(content: bytes, rng: Rng) -> bytes:
    some = bytearray(content)
    for place in rng.integers(len(some), size=int(rng.integers(1, 20))):
        some[place] ^= int(rng.integers(1, 256))
    return bytes(some)


def flip_head(content: bytes, rng: Rng) -> bytes:
    return flip_bytes(content[:120], rng) + content[120:]


def swap_blocks(content: bytes, rng: Rng) -> bytes:
    a, b = sorted(rng.integers(len(content), size=2))
    return content[:a] + content[b:] + content[a:b]


def repeat_block(content: bytes, rng: Rng) -> bytes:
    a, b = sorted(rng.integers(len(content), size=2))
    return content[:b] + content[a:]


ON_BYTES: tuple[Callable[[bytes, Rng], bytes], ...] = (
    truncate, flip_bytes, flip_head, swap_blocks, repeat_block,
)  # fmt: skip


def change_value(text: str, rng: Rng) -> str:
    lines = text.splitlines()
    row = int(rng.choice([i for i, line in enumerate(lines) if "=" in line]))
    lines[row] = lines[row].split("=")[0] + "= " + str(rng.choice(VALUES))
    return "\n".join(lines)


def change_number(text: str, rng: Rng) -> str:
    words = text.split(" ")
    numbers = [
        i for i, word in enumerate(words) if word.strip("[],{}\n").replace(".", "").isdigit()
    ]
    row = int(rng.choice(numbers))
    words[row] = words[row].replace(words[row].strip("[],{}\n"), str(rng.choice(VALUES)), 1)
    return " ".join(words)


def change_key(text: str, rng: Rng) -> str:
    lines = text.splitlines()
    row = int(rng.choice([i for i, line in enumerate(lines) if "=" in line]))
    key, value = lines[row].split("=", 1)
    other = lines[int(rng.choice([i for i, line in enumerate(lines) if "=" in line]))]
    lines[row] = f"{rng.choice([key[1:], key + 'x', other.split('=')[0]])}={value}"
    return "\n".join(lines)


def change_unit(text: str, rng: Rng) -> str:
    return text.replace('"mm"', str(rng.choice(['"m"', '"cm"', '"inch"', '"MM"', "1"])))


def drop_line(text: str, rng: Rng) -> str:
    lines = text.splitlines()
    del lines[int(rng.integers(len(lines)))]
    return "\n".join(lines)


def repeat_line(text: str, rng: Rng) -> str:
    lines = text.splitlines()
    lines.insert(int(rng.integers(len(lines))), lines[int(rng.integers(len(lines)))])
    return "\n".join(lines)


def swap_lines(text: str, rng: Rng) -> str:
    lines = text.splitlines()
    a, b = rng.integers(len(lines), size=2)
    lines[a], lines[b] = lines[b], lines[a]
    return "\n".join(lines)


def change_cell(text: str, rng: Rng) -> str:
    rows = [line.split(",") for line in text.splitlines()]
    row = rows[int(rng.integers(len(rows)))]
    row[int(rng.integers(len(row)))] = str(rng.choice([*VALUES, "", " ", "1;2", "HA4.5", "lag"]))
    return "\n".join(",".join(row) for row in rows)


ON_CASES = (
    change_value,
    change_number,
    change_key,
    change_unit,
    drop_line,
    repeat_line,
    swap_lines,
)
ON_TABLES = (change_cell, drop_line, repeat_line, swap_lines)


# --- what stands in the place of a file ------------------------------------------------


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def itself(path: Path) -> None:
    path.symlink_to(path.name)


def folder(path: Path) -> None:
    path.mkdir()


def nothing(path: Path) -> None:
    path.symlink_to("nowhere")


ON_PLACES: tuple[Callable[[Path], None], ...] = (pipe, device, itself, folder, nothing)
