"""Volumes as text for a terminal, and as a script reads them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._terminal.json import plain
from trajplan.show._terminal.table import bullets, table
from trajplan.volume import LEAST_HU, Ct, label_bodies

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.volume import LabelBody, LabelMap

__all__ = ["volume_json", "volume_text"]


def volume_text(found: Ct | LabelMap) -> str:
    """A volume for a person at a terminal.

    Parameters
    ----------
    found : Ct or LabelMap
        The volume.

    Returns
    -------
    str
    """
    grid, source = found.grid, found.source
    size, spacing = " x ".join(map(str, grid.size)), " x ".join(f"{e:.3g}" for e in grid.spacing)
    first = ", ".join(f"{at:.1f}" for at in grid.matrix[:3, 3])
    ends = [f"{grid.side(axis, 0)} to {grid.side(axis, 1)}" for axis in range(3)]
    rows = [
        ("what", "CT" if isinstance(found, Ct) else "label map"),
        ("read from", source.form),
        ("voxels", size),
        ("voxel mm", spacing),
        ("first voxel LPS mm", first),
        ("axes", "; ".join(ends)),
        ("axes turn", "left-handed" if grid.left_handed else "right-handed"),
    ]
    if isinstance(found, Ct):
        low, high = _range(found)
        rows.append(("values HU", f"{low:g} to {high:g}"))
        rows.append(("not measured", f"{_unmeasured(found):.1%} of the voxels"))
        rows.append(("tube voltage", f"{source.kilovolts:g} kV" if source.kilovolts else "unknown"))
    lines = "\n".join(f"{key:20s}{value}" for key, value in rows)
    said = found.cautions + (found.doubts if isinstance(found, Ct) else ())
    parts = [source.name, lines, bullets(said) if said else ""]
    if not isinstance(found, Ct):
        parts.append(_bodies_text(label_bodies(found)))
    return "\n".join(part for part in parts if part)


def volume_json(found: Ct | LabelMap) -> dict[str, Any]:
    """A volume as a script reads it.

    Parameters
    ----------
    found : Ct or LabelMap
        The volume.

    Returns
    -------
    dict
    """
    grid = found.grid
    told = {
        "what": "CT" if isinstance(found, Ct) else "label map",
        **plain(found.source),
        "size": list(grid.size),
        "spacing": grid.spacing.tolist(),
        "matrix": grid.matrix.tolist(),
        "left_handed": grid.left_handed,
        "cautions": list(found.cautions),
    }
    if isinstance(found, Ct):
        return {
            **told,
            "values": list(_range(found)),
            "not_measured": _unmeasured(found),
            "doubts": list(found.doubts),
        }
    return {**told, "labels": plain(label_bodies(found))}


def _range(found: Ct) -> tuple[float, float]:
    """Least and greatest value that was measured; padding is none."""
    low = min(_least(part) for part in found.values)
    return low, max(float(np.nanmax(part)) for part in found.values)


def _unmeasured(found: Ct) -> float:
    """Share of the voxels that hold no data."""
    return 1.0 - sum(int((part >= LEAST_HU).sum()) for part in found.values) / found.values.size


def _least(part: NDArray[Any]) -> float:
    measured = part[part >= LEAST_HU]
    return float(measured.min()) if measured.size else np.inf


def _bodies_text(bodies: tuple[LabelBody, ...]) -> str:
    head = ("label", "name", "volume cm³", "middle LPS mm", "pieces", "cut off at")
    rows = [
        (
            str(body.label),
            body.name,
            f"{body.volume / 1e3:.2f}",
            ", ".join(f"{at:.1f}" for at in body.middle),
            _pieces(body),
            ", ".join(body.cut) or "-",
        )
        for body in bodies
    ]
    return "Labels:\n" + table(head, rows)


def _pieces(body: LabelBody) -> str:
    count = len(body.pieces)
    return "1" if count == 1 else f"{count}, largest {body.pieces[0] / body.voxels:.1%}"
