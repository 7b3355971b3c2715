"""Reading surfaces from files and taking them over from memory."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.bone._merge import RawMesh, build_surface, mm_per
from trajplan.bone._obj import read_obj
from trajplan.bone._ply import read_ply
from trajplan.bone._stl import read_stl
from trajplan.bone._types import Surface
from trajplan.errors import MeshError
from trajplan.outside import is_folder, regular_file
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from trajplan.units import Unit

__all__ = ["as_surface", "check_limb", "check_size", "read_surface"]

#: Longest side of the bounding box of any whole bone, mm. The pea-sized bones of foot and
#: hand measure about 10, the longest thigh bone about 600; a margin on both (common practice).
MIN_BONE = 8.0
MAX_BONE = 700.0
#: mm; a person is no longer: a mesh up to here may hold several bones.
MAX_LIMB = 2300.0
#: Where several units would fit, the likely one lies nearest to this size in ratio, mm.
TYPICAL_BONE = 200.0

_READERS: dict[str, Callable[[Path], RawMesh]] = {
    ".stl": read_stl,
    ".obj": read_obj,
    ".ply": read_ply,
}


def read_surface(path: str | Path, unit: Unit = "mm") -> Surface:
    """Read a surface from an STL, OBJ or PLY file.

    Parameters
    ----------
    path : str or Path
        The file; its ending names the format, and its content must agree.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates in the file, which none of the formats records.

    Returns
    -------
    Surface
        In mm. Vertices at equal positions are one; nothing else is changed.

    Raises
    ------
    MeshError
        If the file is missing, empty, truncated, of another format, without faces, or
        holds a number that is not finite or a face whose vertex is not there.
    """
    path = Path(path)
    if is_folder(path):
        raise MeshError("this is a folder", remedy="name a mesh file inside it", file=path)
    reader = _READERS.get(path.suffix.lower())
    if reader is None:
        raise MeshError(
            f"the ending {path.suffix!r} is not one that can be read",
            remedy=f"export the mesh as one of {', '.join(_READERS)}",
            file=path,
        )
    mm_per(unit)
    if regular_file(path, MeshError).st_size == 0:
        raise MeshError("the file is empty", remedy="export or copy it again", file=path)
    sha256 = _file_digest(path)
    return build_surface(reader(path), unit=unit, name=path.name, sha256=sha256, file=str(path))


def as_surface(mesh: object, unit: Unit = "mm", name: str = "mesh") -> Surface:
    """Take a surface over from memory.

    Parameters
    ----------
    mesh : Surface, trimesh.Trimesh, pyvista.PolyData or (vertices, faces)
        The mesh; a `Surface` is returned as it is, polygons become triangles.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates.
    name : str
        Label that errors and reports use.

    Returns
    -------
    Surface
        In mm, of copies of the arrays.

    Raises
    ------
    MeshError
        If the object is none of these, or for the reasons of `read_surface`.
    """
    if isinstance(mesh, Surface):
        return mesh
    vertices, faces = _arrays_of(mesh, name)
    vertices, faces = _as_vertices(vertices, name), _as_faces(faces, name)
    digest = hashlib.sha256(vertices.tobytes())
    digest.update(faces.tobytes())
    return build_surface(
        RawMesh(vertices, faces), unit=unit, name=name, sha256=digest.hexdigest(), file=name
    )


def check_size(surface: Surface, unit: Unit) -> None:
    """Refuse a surface whose size cannot be that of a whole bone.

    Parameters
    ----------
    surface : Surface
        A whole bone or all of its fragments, in mm.
    unit : {"mm", "cm", "m", "inch"}
        Unit that it was read in.

    Raises
    ------
    MeshError
        If the longest side of its box is below 8 mm or above 700 mm; it names the unit
        that would make a bone of the same numbers.
    """
    size = float(np.ptp(surface.vertices[surface.used()], axis=0).max())
    if MIN_BONE <= size <= MAX_BONE:
        return
    likely = _likely_unit(size / mm_per(unit))
    remedy = "check that this is a whole bone and that its numbers are intact"
    if likely is not None:
        would = size / mm_per(unit) * MM_PER_UNIT[likely]
        remedy = f'if the file holds "{likely}" ({would:.0f} mm), state unit = "{likely}"'
    shown = f"{size:.4g}" if size < MAX_BONE else f"{size:.0f}"
    raise MeshError(
        f'read in "{unit}" it is {shown} mm long, and no bone is shorter than '
        f"{MIN_BONE:g} mm or longer than {MAX_BONE:g} mm",
        remedy=remedy,
        file=surface.name,
    )


def check_limb(surface: Surface, unit: Unit) -> tuple[str, ...]:
    """Refuse a size that not even a whole leg has; say of one that no bone has what it means.

    Parameters
    ----------
    surface : Surface
        The surface, in mm.
    unit : {"mm", "cm", "m", "inch"}
        Unit that it was read in.

    Returns
    -------
    tuple of str
        A sentence where it is longer than a bone.

    Raises
    ------
    MeshError
        As `check_size`, of what is shorter than a bone or longer than a body.
    """
    size = float(np.ptp(surface.vertices[surface.used()], axis=0).max())
    if not MAX_BONE < size <= MAX_LIMB:
        check_size(surface, unit)
        return ()
    said = (
        f"it is {size:.0f} mm long, and no bone is longer than {MAX_BONE:g} mm: take one of its "
        "bodies with bone.body, or, if it is one bone, state the unit that it is in"
    )
    return (said,)


def _likely_unit(raw_size: float) -> str | None:
    fits = {u: raw_size * mm for u, mm in MM_PER_UNIT.items()}
    fits = {u: size for u, size in fits.items() if MIN_BONE <= size <= MAX_BONE}
    return min(fits, key=lambda u: abs(np.log(fits[u] / TYPICAL_BONE)), default=None)


def _file_digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise MeshError(
            f"it cannot be opened ({error.strerror})", remedy="name a readable file", file=path
        ) from None


def _arrays_of(mesh: object, name: str) -> tuple[object, object]:
    """Vertices and faces of whatever was handed over, the libraries left unloaded."""
    pyvista = sys.modules.get("pyvista")
    if pyvista is not None and isinstance(mesh, pyvista.PolyData):
        poly: Any = mesh if mesh.is_all_triangles and not mesh.n_strips else mesh.triangulate()
        return poly.points, np.asarray(poly.faces).reshape(-1, 4)[:, 1:]
    if hasattr(mesh, "vertices") and hasattr(mesh, "faces"):
        return mesh.vertices, mesh.faces
    if isinstance(mesh, (tuple, list)) and len(mesh) == 2:
        return mesh[0], mesh[1]
    raise MeshError(
        f"an object of type {type(mesh).__name__} is no surface",
        remedy="hand over a Trimesh, a PolyData or (vertices, faces)",
        file=name,
    )


def _as_vertices(values: object, name: str) -> NDArray[np.float64]:
    array = _as_rows(values, name, "vertices")
    if array.dtype.kind not in "iuf":
        raise _wrong_array(name, "vertices", "real numbers")
    return array.astype(np.float64)


def _as_faces(values: object, name: str) -> NDArray[np.int64]:
    array = _as_rows(values, name, "faces")
    if array.size and array.dtype.kind not in "iu":
        raise _wrong_array(name, "faces", "whole numbers")
    return array.astype(np.int64)


def _as_rows(values: object, name: str, what: str) -> NDArray[Any]:
    try:
        array = np.asarray(values)
    except ValueError:
        raise _wrong_array(name, what, "rows of three") from None
    if array.size == 0:
        return array.reshape(0, 3)
    if array.ndim != 2 or array.shape[1] != 3:
        raise _wrong_array(name, what, "rows of three")
    return array


def _wrong_array(name: str, what: str, expected: str) -> MeshError:
    return MeshError(
        f"the {what} are not {expected}",
        remedy="hand over vertices (v, 3) as numbers and faces (f, 3) as row numbers",
        file=name,
    )
