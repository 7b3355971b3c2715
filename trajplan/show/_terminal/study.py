"""A study as a table and as a plot."""

from __future__ import annotations

import io
import math
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.files import csv_text, write_bytes_atomic, write_text_atomic
from trajplan.planner import StudyRow
from trajplan.show._terminal.table import table

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

__all__ = ["plot_study", "study_text", "write_study"]

#: What the settings are called on the axis of the plot.
NAMES = {
    "tilt": "tilt of all screws off the fracture normal, degrees",
    "friction": "friction between the fragments",
    "bone": "bone class",
    "kind": "screw",
    "cortex": "assumed cortex, mm",
}


def write_study(rows: Sequence[StudyRow], path: Path) -> None:
    """Write a study as CSV, one row a value; unknown stays empty, ``endless`` has no bound.

    Parameters
    ----------
    rows : sequence of StudyRow
        The study.
    path : Path
        The file; its folder must exist.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    names = [field.name for field in fields(StudyRow)]
    cells = ({name: _cell(getattr(row, name)) for name in names} for row in rows)
    write_text_atomic(path, csv_text(names, cells))


def _cell(value: Any) -> object:  # noqa: ANN401 - any field of a row
    if isinstance(value, tuple):
        return " ".join(value)
    if isinstance(value, float):
        return "" if math.isnan(value) else "endless" if math.isinf(value) else round(value, 6)
    return value


def study_text(rows: Sequence[StudyRow], what: str) -> str:
    """A study for a person at a terminal.

    Parameters
    ----------
    rows : sequence of StudyRow
        The study.
    what : str
        The setting.

    Returns
    -------
    str
    """
    head = (what, "verdict", "holds N", "compression N", "pressed %", "slip reserve", "fails")
    cells = [
        (
            str(row.value) if isinstance(row.value, str) else f"{row.value:g}",
            row.verdict,
            _shown(row.holding_low, 0) + " to " + _shown(row.holding_high, 0),
            _shown(row.force, 0),
            _shown(100.0 * row.share, 0),
            _shown(row.slip_low, 2) + " to " + _shown(row.slip_high, 2),
            " ".join(row.fails) or "-",
        )
        for row in rows
    ]
    return table(head, cells)


def _shown(value: float, digits: int) -> str:
    if math.isnan(value):
        return "?"
    return "endless" if math.isinf(value) else f"{value:.{digits}f}"


def plot_study(rows: Sequence[StudyRow], what: str, path: Path) -> None:
    """Draw a study: holding strength, slip reserve, share in contact.

    Parameters
    ----------
    rows : sequence of StudyRow
        The study.
    what : str
        The setting.
    path : Path
        PNG file; its folder must exist.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 7.6), layout="constrained")
    FigureCanvasAgg(figure)
    upper, middle, lower = figure.subplots(3, sharex=True)
    x: list[Any] = [row.value for row in rows]
    _band(upper, x, [(r.holding_low, r.holding_high) for r in rows], "#0072b2")
    upper.plot(x, [row.holding for row in rows], color="#003f63", marker="o")
    upper.set_ylabel("weakest screw holds, N")
    reserve = [(r.slip_low, r.slip_high) for r in rows]
    _band(middle, x, reserve, "#d55e00")
    _endless(middle, x, reserve)
    middle.axhline(1.0, color="#111111", linestyle="--", linewidth=1.0)
    middle.annotate(
        "below this the fragments slide",
        xy=(0.99, 1.0),
        xycoords=("axes fraction", "data"),
        xytext=(0, 6),
        textcoords="offset points",
        horizontalalignment="right",
        fontsize=8,
    )
    middle.set_ylabel("slip reserve")
    lower.plot(x, [100.0 * row.share for row in rows], color="#009e73", marker="s")
    lower.set_ylabel("pressed together, %")
    lower.set_ylim(0.0, 105.0)
    lower.set_xlabel(NAMES[what])
    figure.supxlabel(CAUTION_TEXT, fontsize=5.5, wrap=True)
    content = io.BytesIO()
    figure.savefig(content, format="png", dpi=150, metadata={"Software": None})
    write_bytes_atomic(path, content.getvalue())


#: Greatest slip reserve that a plot has room for; lines to greater ones leave it.
MOST = 10.0


def _band(axis: Any, x: list[Any], bounds: list[tuple[float, float]], colour: str) -> None:  # noqa: ANN401 - matplotlib has no types here
    low, high = np.array(bounds).T
    axis.fill_between(x, low, high, color=colour, alpha=0.25, linewidth=0, where=np.isfinite(high))
    axis.plot(x, low, color=colour)
    axis.plot(x, high, color=colour, linestyle=":")
    axis.grid(visible=True, alpha=0.3)


def _endless(axis: Any, x: list[Any], bounds: list[tuple[float, float]]) -> None:  # noqa: ANN401 - matplotlib has no types here
    """Keep great reserves from squeezing the rest, and mark those without an end."""
    ends = np.array(bounds)
    known = ends[np.isfinite(ends)]
    axis.set_ylim(0.0, 1.1 * min(MOST, max(known.max(initial=0.0), 1.5)))
    for value, high in zip(x, ends[:, 1], strict=True):
        if np.isinf(high):
            axis.annotate(
                "\N{UPWARDS ARROW} endless",
                xy=(value, 0.9),
                xycoords=axis.get_xaxis_transform(),
                horizontalalignment="center",
                fontsize=8,
            )
