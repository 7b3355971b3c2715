"""From a label map to meshes and to a case that is ready to be filled in."""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import as_surface, check_limb
from trajplan.cautions import CAUTIONS
from trajplan.errors import InputError, VolumeError
from trajplan.files import (
    LabelRecord,
    MeshingRecord,
    ModelFile,
    ProgramRecord,
    VolumeRecord,
    stl_bytes,
    toml_text,
)
from trajplan.outside import real_path
from trajplan.planner._record import program_version
from trajplan.volume import (
    MESHING,
    apart_pieces,
    check_surface,
    label_bodies,
    label_mesh,
    on_the_grid,
    read_ct,
    read_labels,
    share_on_bone,
    touching,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from trajplan.arrays import Vec3s
    from trajplan.bone import Surface
    from trajplan.volume import Ct, LabelBody, LabelMap, LabelMesh, Pieces

__all__ = ["MODEL_FILE", "Model", "make_model", "model_case", "model_files", "model_record"]

#: Name of the record.
MODEL_FILE = "model.json"
#: Labels that are meshed without being named: a map of a whole trunk holds a hundred.
UNASKED = 8
#: A slice thicker than this, mm, or than so many times a pixel's edge shows no thin wall (measured:
#: walls below two voxels fall into holes).
THICK_SLICE, LONG_VOXEL = 1.0, 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """Meshes of labels."""

    labels: LabelMap  # as read
    ct: Ct | None
    pieces: Pieces
    meshes: tuple[LabelMesh, ...]
    bodies: Mapping[int, LabelBody]  # of each label of `pieces`
    on_ct: tuple[float, ...]  # of each mesh; NaN: no CT
    cautions: tuple[str, ...]

    def surfaces(self) -> tuple[Surface, ...]:
        """The meshes as surfaces.

        Returns
        -------
        tuple of Surface
        """
        return tuple(
            as_surface((mesh.vertices, mesh.faces), "mm", mesh.name) for mesh in self.meshes
        )


def make_model(
    path: Path,
    ct_path: Path | None = None,
    wanted: Mapping[int, str] | None = None,
    *,
    split: bool = False,
    progress: Callable[[str, float], None] | None = None,
) -> Model:
    """Make a closed mesh of each label.

    Parameters
    ----------
    path : Path
        Label map.
    ct_path : Path, optional
        The CT that was segmented.
    wanted : mapping of int to str, optional
        Labels, and names for them, empty: as the map names them. By default all.
    split : bool
        Make each piece of a label a mesh of its own.
    progress : callable, optional
        Told what is being done, and the share that is done.

    Returns
    -------
    Model

    Raises
    ------
    InputError
        If a volume cannot be read or placed, a label is missing or in several pieces, or the
        labels do not lie on the bone of the CT.
    """
    tell = progress or (lambda _what, _share: None)
    tell("reading labels", 0.0)
    labels = read_labels(path)
    pieces = _named(apart_pieces(labels, _chosen(labels, wanted), split=split), wanted or {})
    ct, said = None, list(labels.cautions)
    if ct_path is not None:
        tell("reading the CT", 0.1)
        ct = read_ct(ct_path)
        said += [*ct.cautions, *ct.doubts, *on_the_grid(labels, ct)]
    bodies = {body.label: body for body in label_bodies(pieces.labels)}
    meshes: list[LabelMesh] = []
    on_ct: list[float] = []
    for number, label in enumerate(pieces.labels.counts):
        tell(f"meshing {pieces.labels.name(label)}", 0.4 + 0.5 * number / len(bodies))
        mesh = label_mesh(pieces.labels, label)
        surface = as_surface((mesh.vertices, mesh.faces), "mm", mesh.name)
        said += check_limb(surface, "mm")
        meshes.append(mesh)
        on_ct.append(np.nan if ct is None else share_on_bone(ct, *_middles(mesh)))
    if ct is not None:
        every = [np.concatenate(part) for part in zip(*map(_middles, meshes), strict=True)]
        said += check_surface(ct, labels.source.name, *every)
    said += _said(pieces, bodies)
    tell("meshed", 1.0)
    return Model(labels, ct, pieces, tuple(meshes), bodies, tuple(on_ct), tuple(said))


def _chosen(labels: LabelMap, wanted: Mapping[int, str] | None) -> Sequence[int]:
    if wanted:
        return list(wanted)
    if len(labels.counts) > UNASKED:
        raise VolumeError(
            f"there are {len(labels.counts)} labels",
            remedy="name those that are fragments of the bone with --label, such as --label "
            f"{next(iter(labels.counts))} (`trajplan inspect` lists them)",
            file=labels.source.name,
        )
    return list(labels.counts)


def _named(pieces: Pieces, wanted: Mapping[int, str]) -> Pieces:
    """Give the labels the names that were asked for, all different."""
    names = dict(pieces.labels.names)
    for label, origin in pieces.origin.items():
        if wanted.get(origin):
            names[label] = names[label].replace(pieces.labels.name(origin), "") or ""
            names[label] = (wanted[origin] + names[label]).strip()
    stems = [_stem(name) for name in names.values()]
    twice = next((stem for stem in stems if stems.count(stem) > 1), None)
    if twice is not None:
        raise InputError(
            f'two labels are called "{twice}"', remedy="name them apart: --label 1=upper"
        )
    return replace(pieces, labels=replace(pieces.labels, names=names))


def _stem(name: str) -> str:
    return re.sub(r"\W+", "_", name).strip("_") or "label"


def _middles(mesh: LabelMesh) -> tuple[Vec3s, Vec3s]:
    """Middle and outward normal of each face."""
    corners = mesh.vertices[mesh.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    whole = length > 0.0
    return corners[whole].mean(axis=1), normal[whole] / length[whole, None]


def _said(pieces: Pieces, bodies: Mapping[int, LabelBody]) -> list[str]:
    """What a surgeon must know of the labels."""
    labels, said = pieces.labels, []
    for label, crumbs in pieces.crumbs.items():
        count = f"{crumbs.count} crumb{'s' * (crumbs.count != 1)}"
        said.append(
            f"{count} of {labels.name(label)}, {crumbs.volume:.1f} mm³ in all, the largest "
            f"{crumbs.largest:.1f} mm³, {'were' if crumbs.count > 1 else 'was'} left out."
        )
    said += [
        f"{body.name} is cut off at the {' and the '.join(body.cut)} of the volume, and closed "
        "there by a flat face: the bone goes on beyond it, and no screw may end there."
        for body in bodies.values()
        if body.cut
    ]
    said += [
        f"{labels.name(first)} and {labels.name(second)} touch: the gap between them may be "
        f"anything up to a voxel, {labels.grid.spacing.max():.2f} mm."
        for first, second in touching(labels)
    ]
    spacing = labels.grid.spacing
    if spacing.max() > THICK_SLICE or spacing.max() > LONG_VOXEL * spacing.min():
        said.append(
            f"Voxels of {' x '.join(f'{edge:.2f}' for edge in spacing)} mm are coarse: a wall "
            f"thinner than {2.0 * spacing.max():.1f} mm cannot be told."
        )
    return said


def model_files(model: Model) -> dict[str, bytes]:
    """Meshes of a model, in mm.

    Parameters
    ----------
    model : Model
        The model.

    Returns
    -------
    dict of str to bytes
        File names, and STL.
    """
    return {
        f"{_stem(mesh.name)}.stl": stl_bytes(mesh.vertices[mesh.faces]) for mesh in model.meshes
    }


def model_case(model: Model, meshes: Sequence[str], folder: Path, ct_path: Path | None) -> str:
    """A case for the meshes, ready to be filled in.

    Parameters
    ----------
    model : Model
        The model.
    meshes : sequence of str
        File names of its meshes.
    folder : Path
        Where the case is to be written.
    ct_path : Path or None
        The CT.

    Returns
    -------
    str
        TOML. With several meshes it can be planned as it is; the fracture of a single one is left
        to be named.
    """
    fragments = len(meshes) > 1
    bone: dict[str, object] = {"fragments": list(meshes)} if fragments else {"mesh": meshes[0]}
    if ct_path is not None:
        bone["ct"] = Path(os.path.relpath(real_path(ct_path), real_path(folder))).as_posix()
    head = {"title": f"Model of {model.labels.source.name}", "unit": "mm", "frame": "LPS"}
    text = toml_text({**head, "bone": bone})
    text += "\n[fracture]\n"
    if fragments:
        text += "between = true  # the facing surfaces of the fragments\n"
    else:
        text += (
            "# One label is a whole bone, and says nothing of a fracture. Name it in one way:\n"
            "# plane = { point = [0, 0, 0], normal = [0, 0, 1] }\n"
            "# points = [[0, 0, 0], [1, 0, 0], [0, 1, 0]]\n"
        )
    text += (
        "\n[screws]  # fill in what is planned\n"
        'count = 2\nkinds = ["HA4.5"]\ntechnique = "lag"\n'
        "# approach = { direction = [1, 0, 0], cone = 60 }  # side that it is reached from\n"
        '\n# [[joint]]  # joint surfaces that screws stay clear of\n# name = "joint"\n'
        '# mesh = "joint.stl"\n\n# [[avoid]]  # structures that screws stay clear of\n'
        '# name = "nerve"\n# mesh = "nerve.stl"\n'
    )
    return text


def model_record(
    model: Model, meshes: Mapping[str, bytes], *, created: datetime | None = None
) -> ModelFile:
    """Turn a model into its record.

    Parameters
    ----------
    model : Model
        The model.
    meshes : mapping of str to bytes
        Of `model_files`.
    created : datetime, optional
        Time to write down; now by default.

    Returns
    -------
    ModelFile
    """
    now = datetime.now(UTC) if created is None else created
    edge = float(model.labels.grid.spacing.max())
    rows = zip(model.meshes, model.on_ct, meshes.items(), strict=True)
    return ModelFile(
        created=now.isoformat(timespec="seconds"),
        program=ProgramRecord(name="trajplan", version=program_version()),
        labels=_volume(model.labels),
        ct=None if model.ct is None else _volume(model.ct),
        meshing=MeshingRecord(
            rounds=MESHING.rounds,
            pass_band=MESHING.pass_band,
            simplified=MESHING.simplified * float(model.labels.grid.spacing.min()),
            error_mean=MESHING.error_mean * edge,
            error_95=MESHING.error_95 * edge,
        ),
        meshes=tuple(_label(model, *row) for row in rows),
        cautions=(*CAUTIONS, *model.cautions),
    )


def _volume(volume: Ct | LabelMap) -> VolumeRecord:
    source, grid = volume.source, volume.grid
    return VolumeRecord(
        name=source.name,
        sha256=source.sha256,
        form=source.form,
        size=grid.size,
        spacing=tuple(grid.spacing.tolist()),
        left_handed=grid.left_handed,
        cautions=volume.cautions,
    )


def _label(model: Model, mesh: LabelMesh, share: float, file: tuple[str, bytes]) -> LabelRecord:
    name, content = file
    crumbs = model.pieces.crumbs.get(mesh.label)
    return LabelRecord(
        label=model.pieces.origin[mesh.label],
        name=mesh.name,
        mesh=name,
        sha256=hashlib.sha256(content).hexdigest(),
        faces=len(mesh.faces),
        volume=mesh.volume,
        voxels=mesh.voxels,
        crumbs=0 if crumbs is None else crumbs.count,
        crumbs_volume=0.0 if crumbs is None else crumbs.volume,
        cut=model.bodies[mesh.label].cut,
        on_ct=None if np.isnan(share) else share,
    )
