"""How the fragments lie to one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Verdict, grade
from trajplan.fracture import pair_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.checks._limits import Limits
    from trajplan.fracture import PairReport

__all__ = ["fragments_overlap"]


def fragments_overlap(reports: Sequence[PairReport], limits: Limits) -> Finding | None:
    """Judge how far fragments run into one another, as no bone can.

    Parameters
    ----------
    reports : sequence of PairReport
        One for each pair of fragments that face each other.
    limits : Limits
        ``overlap`` cautions, ``overlap_most`` fails, mm.

    Returns
    -------
    Finding or None
        For the plan as a whole, on the pair that overlaps most; None where the fracture was
        not found between fragments.
    """
    if not reports:
        return None
    worst = max(reports, key=lambda report: report.overlap.depth)
    depth, who = worst.overlap.depth, pair_name(worst.fragments)
    verdict, limit = grade(
        np.array([depth]), caution_above=limits.overlap, fail_above=limits.overlap_most
    )
    word = Verdict(int(verdict[0]))
    where = "({:.1f}, {:.1f}, {:.1f})".format(*worst.overlap.where)
    lies = (
        f"{who} overlap by up to {depth:.1f} mm at {where}, {worst.overlap.volume:.0f} mm³ in all"
    )
    said = {
        Verdict.PASS: f"No two fragments overlap by more than {limits.overlap:.1f} mm.",
        Verdict.CAUTION: f"{lies}: no bone can lie like that, check the reduction.",
        Verdict.FAIL: f"{lies}: every depth past the fracture will differ once they are "
        "reduced as bone can lie; reduce them again, and plan anew.",
        Verdict.UNKNOWN: f"Whether {who} overlap cannot be told.",
    }
    return Finding(
        rule="fragments_overlap",
        subject="plan",
        verdict=word,
        measured=depth,
        limit=float(limit[0]),
        unit="mm",
        why=said[word],
        source="geometry; limits: assumption",
    )
