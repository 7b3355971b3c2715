"""Everything that is written from one plan, and whether it can be written at all."""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING

from trajplan.errors import OutputError
from trajplan.files import make_folder, write_axes, write_bytes_atomic
from trajplan.show._drill.draft import drillable
from trajplan.show._exports.export import (
    axes_table,
    export_drills,
    export_plates,
    export_scene,
    export_screws,
)
from trajplan.show._items.plate import every_screw, screw_title, solid_of
from trajplan.show._picture.plan_scene import plan_scene
from trajplan.show._sections.draw import draw_section
from trajplan.show._sections.plate import plate_section, plate_section_bytes
from trajplan.show._sections.section import sections

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.files import PlanFile
    from trajplan.planner import Setup
    from trajplan.units import Unit

__all__ = ["export_sections", "need_place", "write_exports"]


def need_place(file: Path | None, *endings: str) -> None:
    """Refuse, before any work is done, what cannot be written.

    Parameters
    ----------
    file : Path or None
        The file; None: it is not asked for.
    *endings : str
        Endings that its name may have, such as ``.pdf``; none: any.

    Raises
    ------
    OutputError
        If its folder is missing or closed, it is a folder itself, or its name ends otherwise.
    """
    if file is None:
        return
    if endings and file.suffix.lower() not in endings:
        raise OutputError(
            f'the ending "{file.suffix}" names no format that can be written here',
            remedy=f"let its name end in {', '.join(endings)}",
            file=file,
        )
    if not file.parent.is_dir():
        raise OutputError(
            f"{file.parent} is no folder", remedy="make it first, or name another", file=file
        )
    if file.is_dir():
        raise OutputError("this is a folder, not a file", remedy="name a file inside it", file=file)
    if not os.access(file.parent, os.W_OK | os.X_OK):
        raise OutputError(
            f"{file.parent} cannot be written to", remedy="name another folder", file=file
        )


def write_exports(
    setup: Setup,
    plan: PlanFile,
    *,
    unit: Unit = "mm",
    screws: Path | None = None,
    plates: Path | None = None,
    drills: Path | None = None,
    scene: Path | None = None,
    axes: Path | None = None,
    section_folder: Path | None = None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write those exports of a plan that are asked for.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the screws, the plates and the drill holes. A scene is in metres by its format,
        a table of axes in the unit of the case, in which a check reads it.
    screws, plates, drills : Path, optional
        Meshes of the screws, of the plates and of the holes: ``.stl``, ``.ply`` or ``.obj``.
    scene : Path, optional
        The whole scene with names and colours: ``.glb``.
    axes : Path, optional
        Table of the axes that a check reads back: ``.csv``.
    section_folder : Path, optional
        Folder for the section drawings.

    Returns
    -------
    files : tuple of Path
        What was written.
    notes : tuple of str
        One sentence for each thing that could not be, and for screws that are not to be drilled.

    Raises
    ------
    OutputError
        If a file cannot be written, or there is nothing to write into it.
    """
    notes: list[str] = []
    if screws is not None:
        notes += export_screws(plan, setup.catalogue, screws, unit)
    if plates is not None:
        export_plates(plan, plates, unit)
    if drills is not None:
        notes += export_drills(plan, drills, unit)
    if scene is not None:
        export_scene(plan_scene(setup, plan), scene)
    if axes is not None:
        write_axes(axes, axes_table(plan), setup.case.unit)
    files = [file for file in (screws, plates, drills, scene, axes) if file is not None]
    if section_folder is not None:
        files += export_sections(setup, plan, section_folder)
    ready = {screw.id for screw in drillable(plan)}
    failing = [screw.id for screw in every_screw(plan) if screw.id not in ready]
    if failing:
        notes.append(f"{', '.join(failing)}: not to be drilled as planned, see the plan's findings")
    return tuple(files), tuple(notes)


def export_sections(setup: Setup, plan: PlanFile, folder: Path) -> tuple[Path, ...]:
    """Draw the sections through every placed screw, and along every plate, as SVG files.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    folder : Path
        Made where it is missing.

    Returns
    -------
    tuple of Path
        Two a screw: along the bone, and turned by 90 degrees; one a plate, along it.

    Raises
    ------
    OutputError
        If the folder cannot be made or written to.
    """
    make_folder(folder, "--sections")
    files, plates = [], [solid_of(plate) for plate in plan.plates]
    for name, record in zip(_names(plan), every_screw(plan), strict=True):
        made = sections(setup, record, plates, screw_title(plan, record))
        for turn, section in zip(("along", "turned"), made, strict=False):
            files.append(folder / f"{name}-{turn}.svg")
            draw_section(section, files[-1])
    for number, plate in enumerate(plan.plates, start=1):
        files.append(folder / f"plate-{number}.svg")
        write_bytes_atomic(files[-1], plate_section_bytes(plate_section(setup, plan, plate), "svg"))
    return tuple(files)


def _names(plan: PlanFile) -> list[str]:
    """Ids of the screws as parts of file names; numbers where a table gives one that cannot be."""
    names = [screw.id.replace(" ", "-") for screw in every_screw(plan)]
    plain = all(re.fullmatch(r"[A-Za-z0-9_-][A-Za-z0-9_.-]*", name) for name in names)
    if plain and len(set(names)) == len(names):
        return names
    return [f"line-{number}" for number in range(1, len(names) + 1)]
