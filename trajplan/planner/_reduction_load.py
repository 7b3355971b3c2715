"""From the record of a reduction back to its fragments, to look at them and to move them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import PlanFileError
from trajplan.files import PairFitRecord, read_reduction
from trajplan.planner._load import case_of
from trajplan.planner._reduce import displaced_fragments, judged, template_of
from trajplan.reduction import PairFit, Pose, Reduction, Rival, Slides

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.files import ReductionFile, RivalRecord, SlidesRecord
    from trajplan.planner._reduce import Reduced

__all__ = ["load_reduction"]


def load_reduction(path: Path, case: Path | None = None) -> Reduced:
    """Read a reduction and its fragments as they lie.

    Parameters
    ----------
    path : Path
        The record, ``reduction.json``.
    case : Path, optional
        The case that it was made from, where that has moved.

    Returns
    -------
    Reduced

    Raises
    ------
    InputError
        If a file is missing, wrong, or was changed since.
    """
    record = read_reduction(path)
    known = case_of(path, case)
    surfaces, fragments = displaced_fragments(known)
    now = [surface.sha256 for surface in surfaces]
    if known.sha256 != record.case.sha256 or now != [one.sha256 for one in record.fragments]:
        raise PlanFileError(
            "the case or a fragment changed since this was reduced",
            remedy="reduce the case again",
            file=path,
        )
    return judged(known, surfaces, fragments, _reduction(record), template_of(known, surfaces))


def _reduction(record: ReductionFile) -> Reduction:
    names = [one.name for one in record.fragments]
    template = record.template
    return Reduction(
        names=tuple(names),
        fixed=next(i for i, one in enumerate(record.fragments) if one.fixed),
        poses=tuple(Pose(np.array(one.matrix)) for one in record.fragments),
        pairs=tuple(_pair(fit, names) for fit in record.pairs),
        origins=tuple(one.origin for one in record.fragments),
        sure=record.trusted,
        doubts=record.doubts,
        rivals=tuple(_rival(rival, names) for rival in record.rivals),
        template_misfit=_told(None if template is None else template.misfit),
        template_short=_told(None if template is None else template.short),
        template_turn=_told(None if template is None else template.turn),
    )


def _pair(fit: PairFitRecord, names: list[str]) -> PairFit:
    first, second = (names.index(name) for name in fit.fragments)
    return PairFit(
        first=first,
        second=second,
        gap_mean=_told(fit.gap_mean),
        gap_90=_told(fit.gap_90),
        gap_largest=_told(fit.gap_largest),
        step_mean=_told(fit.step_mean),
        step_largest=_told(fit.step_largest),
        overlap=_told(fit.overlap),
        contact=_told(fit.contact),
        inside=(_told(fit.inside[0]), _told(fit.inside[1])),
        rival=_told(fit.rival),
        steady_shift=_told(fit.steady_shift),
        steady_turn=_told(fit.steady_turn),
        agree_shift=_told(fit.agree_shift),
        agree_turn=_told(fit.agree_turn),
        slides=_slides(fit.slides),
        turn_known=fit.turn_known,
        length_known=fit.length_known,
    )


def _rival(rival: RivalRecord, names: list[str]) -> Rival:
    return Rival(
        poses=tuple(Pose(np.array(matrix)) for matrix in rival.matrices),
        score=_told(rival.score),
        fragment=names.index(rival.fragment),
        shift=_told(rival.shift),
        turn=_told(rival.turn),
    )


def _slides(slides: SlidesRecord) -> Slides:
    across, tilt = ((_told(a), _told(b)) for a, b in (slides.across, slides.tilt))
    return Slides(_told(slides.along), across, _told(slides.turn), tilt)


def _told(value: float | None) -> float:
    return math.nan if value is None else value
