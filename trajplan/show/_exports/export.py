"""Exports: screws and drill holes as meshes, the scene as GLB, the axes as a table."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import as_points
from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import OutputError
from trajplan.files import AxesTable, write_bytes_atomic
from trajplan.implants import find_screw
from trajplan.show._items.palette import WORDS
from trajplan.show._items.plate import every_screw, solid_of
from trajplan.show._items.screw_solid import drill_solids, screw_solid, washer_solid
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from trajplan.files import PlanFile
    from trajplan.implants import Catalogue
    from trajplan.show._items.item import Item
    from trajplan.units import Unit

__all__ = [
    "MESH_FORMS",
    "axes_table",
    "export_drills",
    "export_plates",
    "export_scene",
    "export_screws",
]

#: Endings of mesh files.
MESH_FORMS = (".stl", ".ply", ".obj")
#: Bytes of free text at the head of a binary STL; it must not begin with "solid".
STL_HEAD = 80
#: Metres in a millimetre: lengths of glTF are metres (glTF 2.0 specification, section 3.4,
#: "Coordinate System and Units").
METRE = 1e-3


def export_screws(
    plan: PlanFile, catalogue: Catalogue, path: Path, unit: Unit = "mm"
) -> tuple[str, ...]:
    """Write the screws of a plan, and their washers, as closed solids in the bone's frame.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    catalogue : Catalogue
        Where its screws and washers are found.
    path : Path
        The file, ending in ``.stl``, ``.ply`` or ``.obj``; its folder must exist.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates in the file.

    Returns
    -------
    tuple of str
        One sentence for each screw that could not be written.

    Raises
    ------
    OutputError
        If the ending is another, there is nothing to write, or the file cannot be written.
    CatalogueError
        If the catalogue lacks a kind that the plan names.
    """
    solids: dict[str, Any] = {}
    left_out = []
    for record in every_screw(plan):
        solid = screw_solid(record, find_screw(catalogue, record.kind))
        if solid is None:
            left_out.append(f"{record.id} is left out: it has no place or no length in the plan.")
            continue
        solids[record.id] = solid
        if record.washer:
            solids[f"{record.id} washer"] = washer_solid(record, catalogue.washers[record.washer])
    _write(solids, path, unit, "screws")
    return tuple(left_out)


def export_plates(plan: PlanFile, path: Path, unit: Unit = "mm") -> None:
    """Write the plates of a plan as closed solids in the bone's frame, bent, their holes open.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    path : Path
        The file, ending in ``.stl``, ``.ply`` or ``.obj``; its folder must exist.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates in the file.

    Raises
    ------
    OutputError
        If the ending is another, there is nothing to write, or the file cannot be written.
    """
    import trimesh

    solids = {
        plate.id: trimesh.Trimesh(*map(np.copy, solid_of(plate)), process=False)
        for plate in plan.plates
    }
    _write(solids, path, unit, "plates")


def export_drills(plan: PlanFile, path: Path, unit: Unit = "mm") -> tuple[str, ...]:
    """Write the holes of a plan as cylinders in the bone's frame.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    path : Path
        The file, ending in ``.stl``, ``.ply`` or ``.obj``; its folder must exist.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates in the file.

    Returns
    -------
    tuple of str
        One sentence for each screw whose thread hole could not be written.

    Raises
    ------
    OutputError
        If the ending is another, there is nothing to write, or the file cannot be written.

    Notes
    -----
    Every cylinder is as wide and as deep as the plan says, from the entry of the axis on: on
    a slanting surface part of its rim lies under the surface, part of it over.
    """
    solids: dict[str, Any] = {}
    left_out = []
    for record in every_screw(plan):
        drilled = drill_solids(record)
        solids |= {f"{record.id} {name}": solid for name, solid in drilled.items()}
        if "thread hole" not in drilled:
            left_out.append(
                f"{record.id} has no thread hole here: the axis misses the bone, or no source "
                "names its drill."
            )
    _write(solids, path, unit, "drill holes")
    return tuple(left_out)


def export_scene(items: Sequence[Item], path: Path) -> None:
    """Write a scene with its names and colours, for any viewer of 3D models.

    Parameters
    ----------
    items : sequence of Item
        As from `plan_scene`; labels are left out.
    path : Path
        The file, ending in ``.glb``; its folder must exist.

    Raises
    ------
    OutputError
        If the ending is another, there is nothing to write, or the file cannot be written.

    Notes
    -----
    Coordinates are the bone's own, in mm, under one node that scales them to metres.
    """
    if path.suffix.lower() != ".glb":
        raise _no_form(path, (".glb",))
    drawn = [item for item in items if item.role not in WORDS]
    if not drawn:
        raise _nothing(path, "the scene holds nothing to draw")
    import trimesh

    scene = trimesh.Scene(base_frame="metres")
    scene.metadata["cautions"] = CAUTION_TEXT
    to_metres = np.diag([METRE, METRE, METRE, 1.0])
    scene.graph.update(frame_from="metres", frame_to="millimetres", matrix=to_metres)
    for item in drawn:
        scene.add_geometry(_shape(item), item.name, item.name, parent_node_name="millimetres")
    write_bytes_atomic(path, scene.export(file_type="glb"))


def axes_table(plan: PlanFile) -> AxesTable:
    """Write a plan's axes as the table that a check reads.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    AxesTable
        From entry to exit, mm; a screw whose axis misses the bone has neither, and no row.
    """
    placed = [screw for screw in plan.screws if screw.entry and screw.exit]
    return AxesTable(
        ids=tuple(screw.id for screw in placed),
        kinds=tuple(screw.kind for screw in placed),
        techniques=tuple(screw.technique for screw in placed),
        start=as_points([screw.entry or () for screw in placed]),
        end=as_points([screw.exit or () for screw in placed]),
        rows=tuple(range(2, len(placed) + 2)),
    )


def _shape(item: Item) -> Any:  # noqa: ANN401 - trimesh has no types here
    """Triangles with a see-through material, or a line with a colour."""
    import trimesh

    red, green, blue = (int(item.colour[i : i + 2], 16) for i in (1, 3, 5))
    colour = [red, green, blue, round(255 * item.opacity)]
    if item.faces is None:
        lines = trimesh.load_path(item.points)
        lines.colors = np.tile(np.array(colour, dtype=np.uint8), (len(lines.entities), 1))
        return lines
    material = trimesh.visual.material.PBRMaterial(
        name=item.role,
        baseColorFactor=colour,
        metallicFactor=0.0,
        roughnessFactor=0.8,
        alphaMode="BLEND" if item.opacity < 1.0 else "OPAQUE",
        doubleSided=True,
    )
    mesh = trimesh.Trimesh(item.points, item.faces, process=False)
    mesh.visual = trimesh.visual.TextureVisuals(material=material)
    return mesh


def _write(solids: Mapping[str, Any], path: Path, unit: Unit, what: str) -> None:
    form = path.suffix.lower()
    if form not in MESH_FORMS:
        raise _no_form(path, MESH_FORMS)
    if not solids:
        raise _nothing(path, f"the plan has no {what} to write")
    for solid in solids.values():
        solid.apply_scale(1.0 / MM_PER_UNIT[unit])
    note = f"{what} of a plan, coordinates in {unit}. {CAUTION_TEXT}"
    writer = {".stl": _stl, ".ply": _ply, ".obj": _obj}[form]
    write_bytes_atomic(path, writer(solids, note))


def _stl(solids: Mapping[str, Any], note: str) -> bytes:
    """Binary STL; its head has room for the unit and the first words of the cautions."""
    import trimesh

    whole = trimesh.util.concatenate(list(solids.values()))
    content: bytes = whole.export(file_type="stl")
    return note.encode("ascii", "replace")[:STL_HEAD].ljust(STL_HEAD) + content[STL_HEAD:]


def _ply(solids: Mapping[str, Any], note: str) -> bytes:
    import trimesh

    whole = trimesh.util.concatenate(list(solids.values()))
    content: bytes = whole.export(file_type="ply", include_attributes=False)
    head, body = content.split(b"\n", 1)
    return head + b"\ncomment " + note.encode("ascii", "replace") + b"\n" + body


def _obj(solids: Mapping[str, Any], note: str) -> bytes:
    """OBJ with one named object a part."""
    text = io.StringIO()
    text.write(f"# {note}\n")
    first = 1
    for name, solid in solids.items():
        text.write(f"o {'_'.join(name.split())}\n")
        np.savetxt(text, solid.vertices, fmt="v %.9g %.9g %.9g")
        np.savetxt(text, solid.faces + first, fmt="f %d %d %d")
        first += len(solid.vertices)
    return text.getvalue().encode()


def _no_form(path: Path, forms: Sequence[str]) -> OutputError:
    return OutputError(
        f'the ending "{path.suffix}" names no format that can be written here',
        remedy=f"let the name end in {', '.join(forms)}",
        file=path,
    )


def _nothing(path: Path, found: str) -> OutputError:
    return OutputError(found, remedy="plan the case again", file=path)
