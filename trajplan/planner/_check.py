"""Axes that somebody else drew, or moved by hand: worked out and judged as they stand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import make_bone
from trajplan.checks import Finding, Verdict
from trajplan.errors import AxesFileError, CatalogueError
from trajplan.files import axes_table
from trajplan.fracture import nearest_zone
from trajplan.implants import find_screw
from trajplan.planner._assess import assess, work_out
from trajplan.planner._outlook import outlook
from trajplan.planner._plan import Plan
from trajplan.planner._plate_check import in_holes
from trajplan.planner._plate_plan import Pick, plates_of
from trajplan.planner._plating import plating_of
from trajplan.planner._self_crossing import contradicts, crossing_faces
from trajplan.planner._setup import set_up
from trajplan.planner._wires import keep_wires
from trajplan.trajectory import Axes, Technique

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.files import AxesLike, AxesTable, Case, WireRecord
    from trajplan.implants import Screw
    from trajplan.planner._plate_check import InHoles
    from trajplan.planner._plates import PlannedPlate
    from trajplan.planner._plating import Plating
    from trajplan.planner._setup import BoneMaker, Setup
    from trajplan.trajectory import Trajectories

__all__ = ["check_axes", "judge_axes"]


def check_axes(
    case: Case,
    axes: AxesLike,
    *,
    bone: object | None = None,
    make: BoneMaker = make_bone,
) -> Plan:
    """Judge axes that somebody else drew, one by one and against one another.

    Parameters
    ----------
    case : Case
        The case; its kinds and technique are those of the table's rows instead.
    axes : AxesTable, path, columns or pair of (n, 3) arrays
        The lines: a table of axes, read or as a file; columns by name, as of a data frame, of
        which `id`, `kind` and `technique` may be left out; or two arrays of points, on the head's
        side and towards the tip. Coordinates are in the case's unit.
    bone : trimesh.Trimesh, pyvista.PolyData, Surface or (vertices, faces), optional
        The bone in memory, in the case's unit; the case's own mesh is then not read.
    make : callable
        Makes the bone, see `set_up`.

    Returns
    -------
    Plan
        One screw a row, in the order of the table, but for rows that run through the hole of a
        plate and do not cross the fracture: findings tell of those.

    Raises
    ------
    InputError
        If the case cannot be set up, the lines are wrong, or one names an unknown screw.
    """
    table = axes_table(axes, case)
    return judge_axes(set_up(case, bone=bone, make=make), table, plates=True)


def judge_axes(
    setup: Setup,
    table: AxesTable,
    *,
    placement: bool = True,
    wires: Sequence[WireRecord] = (),
    part_of: AxesTable | None = None,
    plates: bool = False,
) -> Plan:
    """Judge axes in a case that is set up already.

    Parameters
    ----------
    setup : Setup
        The case; its kinds and technique are those of the table's rows instead.
    table : AxesTable
        The axes, in mm.
    placement : bool
        Whether placement error is worked out, which takes far longer than all the rest.
    wires : sequence of WireRecord
        Wires of a plan, judged where they lie.
    part_of : AxesTable, optional
        The table that these rows are a part of, where it is judged block by block.
    plates : bool
        Whether the plates of the case are laid beside the axes, and judged.

    Returns
    -------
    Plan
        One screw a row, in the order of the table, but for rows that run through the hole of a
        plate and do not cross the fracture: findings tell of those.

    Raises
    ------
    InputError
        If a row names an unknown screw, or a wire is of an unknown kind.
    """
    whole = table if part_of is None else part_of
    names = list(dict.fromkeys(whole.kinds))
    setup = setup.with_kinds([_screw_of(setup, whole, name) for name in names])
    kind = np.array([names.index(name) for name in table.kinds], dtype=np.int64)
    partial = np.array([setup.kinds[k].partial for k in kind], dtype=np.bool_)
    lag = np.where(partial, int(Technique.PARTIAL), int(Technique.GLIDING))
    position = np.array([word == "position" for word in table.techniques], dtype=np.bool_)
    axes = Axes.between(table.start, table.end)
    screws = work_out(
        setup,
        axes,
        kind,
        nearest_zone(setup.bone, setup.around.zones, axes.origin, axes.direction),
        np.where(position, int(Technique.POSITION), lag),
    )
    few = len(whole.ids) <= PAIRS_UP_TO
    plating = plating_of(setup, through=False) if plates and few else None
    holes = None if plating is None else in_holes(setup, plating, screws, table.ids)
    ids = table.ids
    if holes is not None:  # a screw of a plate is judged in its hole, and as no lag screw
        screws = holes.screws.take(np.array(holes.beside, dtype=np.int64))
        ids = tuple(table.ids[row] for row in holes.beside)
    view = outlook(setup, screws, ids, together=few, placement=placement)
    return Plan(
        setup=setup,
        assessment=assess(setup, screws, ids, pairs=few, view=view),
        score=np.full(len(ids), np.nan),
        alternatives=(),
        tally=(),
        notes=(
            *(() if few else (_pairs_left_out(len(whole.ids)),)),
            *crossing_faces(setup, doubt=contradicts(screws.corridors)),
            *(() if holes is None else holes.findings),
        ),
        wires=keep_wires(setup, wires, screws) if wires else None,
        outlook=view,
        plates=_plates(setup, plating, holes, screws, ids) if plating and holes else (),
    )


def _plates(
    setup: Setup, plating: Plating, holes: InHoles, some: Trajectories, ids: tuple[str, ...]
) -> tuple[PlannedPlate, ...]:
    """Plates of the case, laid beside axes that somebody else drew, and round those in them."""
    at = {holes.beside.index(row): where for row, where in holes.at.items()}
    every, plating = replace(plating, at=at).with_lags(some)
    n = len(some)
    pick = Pick(every, np.arange(n), np.full(n, np.nan), np.zeros((n, n)), [], plating)
    return plates_of(setup, pick, ids, some)


def _screw_of(setup: Setup, table: AxesTable, name: str) -> Screw:
    try:
        return find_screw(setup.catalogue, name)
    except CatalogueError as error:
        row = table.rows[table.kinds.index(name)]
        raise AxesFileError(
            error.found, remedy=error.remedy, file=table.file, where=f"row {row}"
        ) from None


#: More axes than this are a list to be judged one by one, not screws of one bone: pairs
#: would be half a million findings for a thousand rows.
PAIRS_UP_TO = 20


def _pairs_left_out(count: int) -> Finding:
    return Finding(
        rule="screw_gap",
        subject="plan",
        verdict=Verdict.UNKNOWN,
        measured=None,
        limit=None,
        unit="mm",
        why=f"{count} axes are more than one bone's screws: they were not checked against one "
        f"another, nor against plates of the case; give {PAIRS_UP_TO} or fewer in a table to have "
        "that done.",
        source="geometry",
    )
