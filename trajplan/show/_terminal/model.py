"""Meshes made of labels, as text for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._terminal.table import bullets, table

if TYPE_CHECKING:
    from trajplan.files import LabelRecord, ModelFile

__all__ = ["model_text"]

HEAD = (
    "label",
    "name",
    "mesh",
    "volume cm³",
    "off voxels",
    "faces",
    "crumbs",
    "cut off at",
    "on CT",
)


def model_text(record: ModelFile) -> str:
    """A model for a person at a terminal.

    Parameters
    ----------
    record : ModelFile
        Its record.

    Returns
    -------
    str
    """
    made, labels, count = record.meshing, record.labels, len(record.meshes)
    voxel = " x ".join(f"{edge:.3g}" for edge in labels.spacing)
    how = (
        f"Voxels of {voxel} mm. Expected error of the surface {made.error_mean:.2f} mm on average, "
        f"{made.error_95:.2f} mm at 95 of 100 places. On CT: share of the surface with something "
        "denser inside than outside."
    )
    parts = [
        f"{labels.name}: {count} closed mesh{'es' * (count != 1)} in LPS, mm",
        table(HEAD, [_row(mesh) for mesh in record.meshes]),
        bullets([how, *record.cautions]),
    ]
    return "\n\n".join(parts)


def _row(mesh: LabelRecord) -> tuple[str, ...]:
    return (
        str(mesh.label),
        mesh.name,
        mesh.mesh,
        f"{mesh.volume / 1e3:.2f}",
        f"{mesh.volume / mesh.voxels - 1.0:+.1%}",
        f"{mesh.faces:,}",
        str(mesh.crumbs),
        ", ".join(mesh.cut) or "-",
        "-" if mesh.on_ct is None else f"{mesh.on_ct:.0%}",
    )
