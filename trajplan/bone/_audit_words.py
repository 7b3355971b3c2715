"""What an audit says in words."""

from __future__ import annotations

from typing import NamedTuple

from trajplan.bone._copies import COPY_DISTANCE
from trajplan.bone._nesting import CANAL_SHARE
from trajplan.bone._weld import NEAR

__all__ = ["FLAT_SHEET", "NO_CANAL", "Counts", "cautions_of"]

#: Said where neither a hollow nor an open canal is found.
NO_CANAL = "no canal is modelled: how thick the cortex is only the case can say, by bone.cortex"

#: A closed piece thinner than this on the average, mm, is a sheet with two sides and no bone
#: (assumption: a tenth of what segmentations resolve).
FLAT_SHEET = 0.05
#: mm; a coarser step of the file's own coordinates is cautioned: half of it, at either end of a
#: depth, is no longer lost beside the tenths that segmentations resolve (assumption).
COARSE_STEP = 0.01
#: A wall thinner than this on the average, mm, is doubted: it may be one surface stored
#: twice. Segmentations resolve about as much (common practice).
THIN_WALL = 0.5


class Counts(NamedTuple):
    """What the cautions speak of."""

    open_edges: int
    cracked: int
    crowded_edges: int
    unwound: int
    inverted: int
    degenerate: int
    repeated: int
    touching: int
    bodies: int
    files: int
    hollows: int
    pores: int
    copies: int
    thin: float
    loose: int
    poking: int
    step: float
    sheets: int


def _many(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def cautions_of(counts: Counts, *, closed: bool) -> tuple[str, ...]:
    """Sentences on what was found; none for a clean mesh.

    Parameters
    ----------
    counts : Counts
        What was counted.
    closed : bool
        Whether all shells are closed.

    Returns
    -------
    tuple of str
    """
    return tuple(_coarseness(counts) + _flaws(counts, closed=closed) + _structure(counts))


def _coarseness(counts: Counts) -> list[str]:
    """Sentence on how finely the file places its corners."""
    if counts.step < COARSE_STEP:
        return []
    said = (
        f"so far from the origin the file keeps coordinates in steps of {counts.step:.2g} mm, and "
        "depths err by as much: move the bone near to the origin before it is exported"
    )
    return [said]


def _flaws(counts: Counts, *, closed: bool) -> list[str]:
    """Sentences on what is wrong with the triangles."""
    found = []
    if counts.copies:
        pieces = _many(counts.copies, "piece lies", "pieces lie")
        found.append(
            f"{pieces} within {COPY_DISTANCE:g} mm of another one all over: the surface is stored "
            'twice and counts once; the repair "duplicate" drops the copy'
        )
    if counts.cracked:
        corners = _many(counts.cracked, "vertex lies", "vertices lie")
        found.append(
            f"{corners} within {NEAR:g} mm of another one along open edges, so the surface has "
            'cracks; the repair "merge" joins them'
        )
    if counts.open_edges:
        edges = _many(counts.open_edges, "open edge", "open edges")
        found.append(
            f"{edges}: the surface is not closed, so inside and outside are estimated near the "
            'gaps; the repair "holes" closes small ones'
        )
    if counts.crowded_edges:
        edges = _many(counts.crowded_edges, "edge", "edges")
        meaning = "bodies touch there and were told apart by their normals"
        if not closed:
            meaning = "where bodies touch and where they end may be read wrongly there"
        found.append(
            f"{edges} with three faces or more: {meaning}; save each body in a file of its own, or "
            'try the repairs "duplicate" and "winding"'
        )
    if counts.unwound:
        pieces = _many(counts.unwound, "piece has", "pieces have")
        found.append(
            f"{pieces} faces that disagree on which side is out: no volume is given, and "
            'inside and outside are decided without the normals; the repair "winding" turns them'
        )
    if counts.inverted:
        pieces = _many(counts.inverted, "closed piece has", "closed pieces have")
        found.append(
            f"{pieces} normals that point into the bone: it is read as solid all the same, but "
            "mirroring a mesh does this too; check that the bone is of the side, left or right, "
            "that is operated on"
        )
    if counts.degenerate:
        faces = _many(counts.degenerate, "face has", "faces have")
        found.append(f'{faces} no area; the repair "degenerate" drops what has none')
    if counts.repeated:
        faces = _many(counts.repeated, "face lies", "faces lie")
        found.append(f'{faces} on another one; the repair "duplicate" drops the copies')
    return found


def _structure(counts: Counts) -> list[str]:
    """Sentences on what the pieces are taken for."""
    found = []
    if counts.touching:
        faces = _many(counts.touching, "whole face", "whole faces")
        found.append(
            f"bodies touch in {faces}: each is kept as a body of its own; where one is another "
            "bone, take the right ones with bone.body"
        )
    if counts.bodies > counts.files:
        where = "" if counts.files == 1 else f" in {counts.files} files"
        remedy = "take the right ones with bone.body"
        if counts.files > 1:
            remedy = 'leave it out of its file, or drop a small one with the repair "stray"'
        found.append(
            f"{counts.bodies} separate bodies{where}: each is taken for a fragment of its own; if "
            f"one is another bone, or a stray piece, {remedy}"
        )
    if counts.sheets:
        pieces = _many(counts.sheets, "closed piece is", "closed pieces are")
        found.append(
            f"{pieces} thinner than {FLAT_SHEET:g} mm on the average: a sheet that encloses "
            "nothing, and no closed bone; export the bone's surface again"
        )
    if counts.pores:
        hollows = _many(counts.pores, "hollow holds", "hollows hold")
        found.append(
            f"{hollows} less than {100 * CANAL_SHARE:g} % of the bone: pores or stray pieces, "
            'not taken for a canal; the repair "stray" drops small pieces'
        )
    if counts.thin < THIN_WALL:
        found.append(
            f"the wall round a hollow is {counts.thin:.2g} mm thick on the average, which is too "
            "thin for bone: if the surface is stored twice, drop one of the two"
        )
    if counts.poking:
        hollows = _many(counts.poking, "hollow comes", "hollows come")
        found.append(
            f"{hollows} through the wall of the bone round it: lines there cannot be told; mend "
            "the segmentation of the canal, or of the thin cortex, there"
        )
    if counts.loose:
        pieces = _many(counts.loose, "open piece lies", "open pieces lie")
        found.append(
            f"{pieces} inside another one and is not taken for a canal: close it "
            'with the repair "holes", or drop it with "stray"'
        )
    if counts.hollows == counts.pores:
        found.append(NO_CANAL)
    return found
