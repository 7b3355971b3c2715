"""Turn a reduction into its file record, and into the case that plans it."""

from __future__ import annotations

import hashlib
import os
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTIONS
from trajplan.checks import trusted
from trajplan.files import (
    CaseRecord,
    DisplacementRecord,
    FragmentRecord,
    JointFitRecord,
    PairFitRecord,
    ProgramRecord,
    ReductionFile,
    RivalRecord,
    SlidesRecord,
    TemplateRecord,
    stl_bytes,
)
from trajplan.outside import real_path
from trajplan.planner._joints import moved_joint, nearest_fragment
from trajplan.planner._record import program_version
from trajplan.planner._screw_record import finding_record
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats
    from trajplan.files import Case
    from trajplan.planner._reduce import Reduced
    from trajplan.reduction import Displacement, JointFit, PairFit

__all__ = ["CASE_FILE", "REDUCTION_FILE", "reduced_files", "reduction_record"]

#: Names of the record and of the case beside it.
REDUCTION_FILE = "reduction.json"
CASE_FILE = "case.toml"


def reduced_files(reduced: Reduced, folder: Path) -> tuple[dict[str, bytes], dict[str, Any]]:
    """Meshes of the reduced fragments, and the case that plans them.

    Parameters
    ----------
    reduced : Reduced
        The reduction.
    folder : Path
        Where they are to be written: paths of the case start there.

    Returns
    -------
    meshes : dict of str to bytes
        File names, and STL in the case's unit; the fragments first, in their order.
    case : dict
        Tables of the case.
    """
    unit = reduced.case.unit
    names = _mesh_names([part.name for part in reduced.fragments])
    meshes = {
        name: stl_bytes(pose.points(part.vertices)[part.faces], unit)
        for name, part, pose in zip(names, reduced.fragments, reduced.poses, strict=True)
    }
    data: dict[str, Any] = reduced.case.model_dump(mode="json", by_alias=True, exclude_unset=True)
    data.pop("reduction", None)
    bone = {k: v for k, v in data["bone"].items() if k in ("cortex", "place")}
    data["bone"] = {"fragments": names, "reduction": REDUCTION_FILE, **bone}
    data["title"] = f"{reduced.case.title or reduced.case.file.stem}, reduced"
    data["catalogue"] = [_from(folder, reduced.case, path) for path in reduced.case.catalogue]
    for avoid in data.get("avoid", ()):
        avoid["mesh"] = _from(folder, reduced.case, avoid["mesh"])
    for number, joint in enumerate(data.get("joint", ()), start=1):
        _move_joint(joint, number, reduced, meshes)
    return meshes, {key: value for key, value in data.items() if value not in ({}, [])}


def _move_joint(
    joint: dict[str, Any], number: int, reduced: Reduced, meshes: dict[str, bytes]
) -> None:
    """Move a joint along with the fragments that carry it."""
    scale = MM_PER_UNIT[reduced.case.unit]
    if "points" in joint:
        points = scale * np.array(joint["points"], dtype=np.float64)
        owner = nearest_fragment(points, reduced.fragments)
        for row, fragment in enumerate(owner.tolist()):
            points[row] = reduced.poses[fragment].points(points[row][None])[0]
        joint["points"] = (points / scale).tolist()
        return
    name = f"joint_{number}_reduced.stl"
    moved = moved_joint(reduced.joints[number - 1], reduced.fragments, reduced.poses)
    meshes[name] = stl_bytes(moved, reduced.case.unit)
    joint.pop("group", None)
    joint["mesh"] = name


def _mesh_names(names: Sequence[str]) -> list[str]:
    """A file name for each fragment, all different."""
    stems = [re.sub(r"\W+", "_", Path(name).stem) or "fragment" for name in names]
    twice = len(set(stems)) < len(stems)
    return [
        f"{stem}_{number}_reduced.stl" if twice else f"{stem}_reduced.stl"
        for number, stem in enumerate(stems, start=1)
    ]


def _from(folder: Path, case: Case, path: str) -> str:
    """A path of the case, seen from another folder."""
    return Path(os.path.relpath(real_path(case.resolve(path)), real_path(folder))).as_posix()


def reduction_record(
    reduced: Reduced, meshes: dict[str, bytes], *, created: datetime | None = None
) -> ReductionFile:
    """Turn a reduction into the record that its file holds.

    Parameters
    ----------
    reduced : Reduced
        The reduction.
    meshes : dict of str to bytes
        Of `reduced_files`.
    created : datetime, optional
        Time to write down; now by default.

    Returns
    -------
    ReductionFile
    """
    case, solved = reduced.case, reduced.reduction
    now = datetime.now(UTC) if created is None else created
    lying = {one.fragment: one for one in reduced.lying}
    written = list(meshes.items())[: len(reduced.fragments)]
    template = reduced.template
    return ReductionFile(
        created=now.isoformat(timespec="seconds"),
        program=ProgramRecord(name="trajplan", version=program_version()),
        title=case.title,
        frame=case.frame,
        case_unit=case.unit,
        cautions=CAUTIONS,
        case=CaseRecord(name=case.file.name, sha256=case.sha256),
        fragments=tuple(
            FragmentRecord(
                name=part.name,
                sha256=reduced.surfaces[number].sha256,
                faces=len(part.faces),
                reduced=name,
                reduced_sha256=hashlib.sha256(content).hexdigest(),
                fixed=number == solved.fixed,
                origin=solved.origins[number],
                matrix=_rows(solved.poses[number].matrix),
                displacement=_displacement(lying[number]) if number in lying else None,
            )
            for number, (part, (name, content)) in enumerate(
                zip(reduced.fragments, written, strict=True)
            )
        ),
        pairs=tuple(_pair(fit, solved.names) for fit in solved.pairs),
        joints=(
            *(_joint(fit, solved.names, "as it lies") for fit in reduced.joints_lying),
            *(_joint(fit, solved.names, "reduced") for fit in reduced.joints_reduced),
        ),
        template=None
        if template is None
        else TemplateRecord(
            name=template.name,
            sha256=template.sha256,
            mirror=case.reduction.mirror,
            misfit=solved.template_misfit,
            short=solved.template_short,
            turn=solved.template_turn,
        ),
        rivals=tuple(
            RivalRecord(
                score=rival.score,
                fragment=solved.names[rival.fragment],
                shift=rival.shift,
                turn=rival.turn,
                matrices=tuple(_rows(pose.matrix) for pose in rival.poses),
            )
            for rival in solved.rivals
        ),
        trusted=trusted(reduced.findings),
        doubts=solved.doubts,
        findings=tuple(finding_record(finding) for finding in reduced.findings),
        verdict=reduced.verdict.word,
    )


def _rows(matrix: Floats) -> Any:  # noqa: ANN401 - pydantic checks the rows
    return tuple(tuple(row) for row in matrix.tolist())


def _displacement(lying: Displacement) -> DisplacementRecord:
    names = DisplacementRecord.model_fields
    return DisplacementRecord(**{name: getattr(lying, name) for name in names})


def _pair(fit: PairFit, names: Sequence[str]) -> PairFitRecord:
    told = {
        name: getattr(fit, name)
        for name in PairFitRecord.model_fields
        if name not in ("fragments", "slides")
    }
    slides = {name: getattr(fit.slides, name) for name in SlidesRecord.model_fields}
    return PairFitRecord(
        fragments=(names[fit.first], names[fit.second]), slides=SlidesRecord(**slides), **told
    )


def _joint(fit: JointFit, names: Sequence[str], when: str) -> JointFitRecord:
    told = {
        name: getattr(fit, name)
        for name in JointFitRecord.model_fields
        if name not in ("fragments", "when")
    }
    pair = names[fit.fragments[0]], names[fit.fragments[1]]
    return JointFitRecord.model_validate({"fragments": pair, "when": when, **told})
