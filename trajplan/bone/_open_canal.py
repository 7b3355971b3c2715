"""Where along a shaft its canal is modelled; one that opens at an end is no shell of its own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._audit_words import NO_CANAL
from trajplan.bone._enclosed import Gap, gaps
from trajplan.bone._span_tools import containing
from trajplan.bone._spans import line_spans
from trajplan.geometry import frames

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.bone._bone import Bone
    from trajplan.bone._types import Audit

__all__ = ["canal_at", "look_for_canal"]

#: Places along the shaft, as shares of its length, where a canal is looked for, and how many
#: of them must be walled-in air: a canal that opens at an end runs through most of a shaft.
PLACES, FOUND = np.linspace(0.1, 0.9, 9), 3

#: Said in place of the audit's own sentence.
OPEN_CANAL = "the canal opens at an end of the model: it is told from air by the bone round it"


def look_for_canal(bone: Bone) -> Audit:
    """Look along the shaft for a canal that the shells do not show.

    Parameters
    ----------
    bone : Bone
        A bone whose audit knows of no canal.

    Returns
    -------
    Audit
        The bone's own, or one that knows of the canal and says that it opens at an end.
    """
    shaft = bone.shaft
    if shaft is None or not shaft.found:
        return bone.audit
    if canal_at(bone, shaft.low + PLACES * shaft.length).sum() < FOUND:
        return bone.audit
    cautions = tuple(text for text in bone.audit.cautions if text != NO_CANAL)
    return replace(bone.audit, canal=True, cautions=(*cautions, OPEN_CANAL))


def canal_at(bone: Bone, heights: Floats) -> Bools:
    """Whether the shaft's axis lies in a modelled canal, height by height.

    Parameters
    ----------
    bone : Bone
        A bone.
    heights : (n,) float array, mm
        Along the shaft's axis from its point; NaN is no height.

    Returns
    -------
    (n,) bool array
        False all over where the bone has no shaft, and where the axis leaves a bent one.
    """
    found = np.zeros(len(heights), dtype=np.bool_)
    shaft, known = bone.shaft, np.flatnonzero(np.isfinite(heights))
    if shaft is None or not shaft.found or len(known) == 0:
        return found
    places = shaft.point + heights[known, None] * shaft.direction
    across = np.broadcast_to(frames(shaft.direction[None])[0, 0], places.shape)
    spans, here = line_spans(bone, places, across), np.zeros(len(known))
    inside = containing(spans.outer, here) >= 0
    found[known] = inside & (containing(spans.solid, here) < 0)  # a closed canal
    open_air = np.flatnonzero(~inside)
    slit = np.zeros(len(open_air), dtype=np.bool_)
    found[known[open_air]] = gaps(bone, places[open_air], slit=slit) == Gap.CANAL
    return found
