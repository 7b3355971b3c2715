"""The plan as a table, one row a screw, for a spreadsheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from trajplan.files._csv import csv_lines
from trajplan.files._output import writing
from trajplan.files._records import TOLD, worst_word

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.files._plan import PlanFile
    from trajplan.files._records import ScrewRecord

__all__ = ["SCREW_COLUMNS", "screw_rows", "write_plan_csv"]

VECTORS = ("entry", "exit", "direction")
#: Forces in N, torques in N·m, pressure in MPa.
RANGES = (
    *("holding", "preload", "squeeze", "shear"),
    *("stripping_torque", "breaking_torque", "head_pressure"),
)
HOLES = ("gliding_hole", "shank_hole", "thread_hole", "tap")

#: Columns of a table of screws.
SCREW_COLUMNS = (
    *(
        "id",
        "kind",
        "technique",
        "hold",
        "zone",
        "length",
        "thread_length",
        "gauge",
        "washer",
        "verdict",
        *TOLD,
    ),
    *(f"{name}_{axis}" for name in VECTORS for axis in "xyz"),
    *(f"{name}_{part}" for name in HOLES for part in ("diameter", "from", "to")),
    *("countersink_diameter", "countersink_depth", "thread_from", "thread_to"),
    *("fracture_depth_min", "fracture_depth_axis", "fracture_depth_max"),
    *(f"{side}_cortex_{part}" for side in ("near", "far") for part in ("thickness", "basis")),
    *("seat", "proud_tip", "purchase", "thread_turns", "tilt", "entry_angle", "rim_contact"),
    *(f"{name}_{end}" for name in RANGES for end in ("low", "estimate", "high")),
    *("head_area", "intervals", "unknown_intervals", "leaves_bone", "score"),
    "cautions_of_plan",
)


def write_plan_csv(path: str | Path, plan: PlanFile) -> None:
    """Write one row a screw, lengths in mm and angles in degrees.

    A cell is empty where there is nothing to say. `verdict` is the worst of the screw's own
    findings; the columns after it name the rules that fail, ask for caution or cannot tell.
    The plan's cautions stand in the last column of every row, so that a row copied elsewhere
    carries them along. Text that a spreadsheet would take for a formula begins with an apostrophe.

    Parameters
    ----------
    path : str or Path
        The file; its folder must exist.
    plan : PlanFile
        What to write.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    with writing(Path(path)) as stream:
        stream.writelines(line.encode() for line in csv_lines(SCREW_COLUMNS, screw_rows(plan)))


def screw_rows(plan: PlanFile) -> Iterator[dict[str, Any]]:
    """Rows of the table of screws, one by one.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Yields
    ------
    dict
        Column -> cell, None where there is nothing to say; keys that are no column too.
    """
    cautions = " ".join(plan.cautions)
    return ({**_row(screw), "cautions_of_plan": cautions} for screw in plan.screws)


def _row(screw: ScrewRecord) -> dict[str, Any]:
    data = screw.model_dump(mode="json", by_alias=True)
    rules: dict[str, Any] = {
        word: " ".join(f.rule for f in screw.findings if f.verdict == word) for word in TOLD
    }
    verdict = worst_word(screw.findings, nothing="unknown")
    return {**dict(_cells(data)), **rules, "verdict": verdict}


def _cells(data: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in data.items():
        if isinstance(value, dict):
            yield from ((f"{key}_{part}", cell) for part, cell in value.items())
        elif key in VECTORS and value is not None:
            yield from ((f"{key}_{axis}", cell) for axis, cell in zip("xyz", value, strict=True))
        elif key.endswith("intervals"):
            yield key, " ".join(f"{start:g}..{end:g}" for start, end in value)
        else:
            yield key, value
