"""Whether a plan is still the plan of these meshes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.errors import PlanFileError

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.files import PlanFile
    from trajplan.planner._setup import Setup

__all__ = ["same_inputs"]


def same_inputs(setup: Setup, plan: PlanFile, file: Path) -> None:
    """Refuse a plan whose case, meshes or catalogue changed since it was made.

    Parameters
    ----------
    setup : Setup
        The case as it is now.
    plan : PlanFile
        The plan as it was written.
    file : Path
        The plan's file, for the error.

    Raises
    ------
    PlanFileError
        If a sha256 differs, of case, mesh, reduction or catalogue file.
    """
    changed = []
    if setup.case.sha256 != plan.case.sha256:
        changed.append(plan.case.name)
    now = [(use.role, use.surface.name, use.surface.sha256) for use in setup.meshes]
    then = [(mesh.role, mesh.name, mesh.sha256) for mesh in plan.meshes]
    own = [(file.name, file.sha256) for file in setup.catalogue.files]
    changed += [file.name for file in plan.catalogues if (file.name, file.sha256) not in own]
    before = None if plan.reduction is None else plan.reduction.digest
    if before != (None if setup.reduction is None else setup.reduction.digest):
        changed.append("the reduction of the fragments")
    field = setup.settings.field
    seen = None if field is None else field.source.sha256
    if seen != (None if plan.ct is None else plan.ct.sha256):
        changed.append("the CT" if plan.ct is None else plan.ct.name)
    changed += [name for role, name, digest in then if (role, name, digest) not in now]
    if changed:
        raise PlanFileError(
            f"{', '.join(dict.fromkeys(changed))} changed since this was planned",
            remedy="plan the case again before you trust the numbers",
            file=file,
        )
