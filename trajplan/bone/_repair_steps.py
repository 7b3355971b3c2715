"""The single steps of a repair; each changes a draft and says what it did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._caps import boundary_loops
from trajplan.bone._edges import edge_table
from trajplan.bone._heights import MIN_HEIGHT, heights_and_areas
from trajplan.bone._orient import copies_of_faces, oriented
from trajplan.bone._shells import find_shells
from trajplan.bone._types import Surface
from trajplan.bone._weld import NEAR, weld

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Ints, Vec3s

__all__ = [
    "Draft",
    "drop_copies",
    "drop_flat",
    "drop_strays",
    "fill_holes",
    "merge_near",
    "turn_faces",
]

#: A body with less than this share of the largest one's area is a stray piece: some 60 mm²
#: beside a thigh bone, which is a crumb of 3 mm; fragments that take a screw are larger.
STRAY_SHARE = 0.001
#: Faces, or other things, that a sentence names before it only counts.
NAMED = 5


@dataclass(slots=True, eq=False)
class Draft:
    """A surface while it is being repaired."""

    vertices: Vec3s  # (v, 3) mm
    faces: Ints  # (f, 3)
    number: Ints  # (f,) from 1, as handed in; 0 for a face that was added
    like: Surface  # what was handed in

    def surface(self) -> Surface:
        """Surface as it stands, without groups."""
        like = self.like
        return Surface(
            self.vertices, self.faces, {}, like.name, like.sha256, like.merged, like.step
        )

    def drop(self, gone: Bools) -> str:
        """Drop faces, and name them."""
        named = _named(self.number[gone])
        self.faces, self.number = self.faces[~gone], self.number[~gone]
        return named

    def open_edges(self) -> int:
        """Edges with one face."""
        return int((edge_table(self.faces).counts() == 1).sum())


def merge_near(draft: Draft) -> str:
    """Make vertices one that lie within `NEAR`."""
    stands = weld(draft.vertices, np.unique(draft.faces))
    joined = stands[draft.faces]
    touched = (joined != draft.faces).any(axis=1)
    if not touched.any():
        return f"no two vertices lie within {NEAR:g} mm of one another"
    count = int((stands != np.arange(len(stands))).sum())
    draft.faces = joined
    return (
        f"{_many(count, 'vertex was', 'vertices were')} joined with another one within "
        f"{NEAR:g} mm, at {_named(draft.number[touched])}"
    )


def drop_flat(draft: Draft) -> str:
    """Drop faces of no area."""
    flat = heights_and_areas(draft.vertices, draft.faces)[0] <= MIN_HEIGHT
    if not flat.any():
        return "no face is without area"
    before = draft.open_edges()
    said = f"{_many(int(flat.sum()), 'face', 'faces')} of no area dropped: {draft.drop(flat)}"
    opened = draft.open_edges() - before
    return said + (f"; {opened} more edges are open now" if opened > 0 else "")


def drop_copies(draft: Draft) -> str:
    """Drop faces on faces of the same piece, and pieces on pieces."""
    shells = find_shells(draft.surface())
    # the piece, as a fourth corner, tells copies from faces in which two pieces touch
    again = copies_of_faces(np.column_stack([draft.faces, -1 - shells.of_face]))
    whole = shells.copies()[shells.of_face]
    if not (again | whole).any():
        return "no face lies on another one of the same piece"
    said = []
    if whole.any():
        pieces = _many(int(shells.copies().sum()), "piece", "pieces")
        said.append(f"{pieces} stored twice dropped: {_named(draft.number[whole])}")
    single = again & ~whole
    if single.any():
        faces = _many(int(single.sum()), "face", "faces")
        said.append(f"{faces} on another one dropped: {_named(draft.number[single])}")
    draft.drop(again | whole)
    return "; ".join(said)


def drop_strays(draft: Draft) -> str:
    """Drop bodies that are much smaller than the largest."""
    shells = find_shells(draft.surface())
    body = shells.body[shells.of_face]
    area = np.bincount(body, heights_and_areas(draft.vertices, draft.faces)[1])
    small = area < STRAY_SHARE * area.max()
    if not small.any():
        return "no body is much smaller than the largest"
    bodies = _many(int(small.sum()), "body", "bodies")
    return f"{bodies} of {area[small].sum():.3g} mm² dropped: {draft.drop(small[body])}"


def turn_faces(draft: Draft) -> str:
    """Make neighbours agree, and normals point out of the bone."""
    before = draft.faces
    draft.faces = oriented(before)
    shells = find_shells(draft.surface())
    wanted = np.where(shells.nesting % 2 == 0, 1, -1)
    over = (shells.closed & shells.wound & (shells.outward != wanted))[shells.of_face]
    draft.faces = np.where(over[:, None], draft.faces[:, ::-1], draft.faces)
    turned = _turned(before, draft.faces)
    said = f"{_many(int(turned.sum()), 'face', 'faces')} turned over: "
    said = said + _named(draft.number[turned]) if turned.any() else "no face had to be turned"
    left = int((~shells.wound).sum())
    return said + (f"; {_many(left, 'piece', 'pieces')} still disagree" if left else "")


def _turned(before: Ints, after: Ints) -> Bools:
    """Faces that run the other way round, whichever corner comes first."""
    same = np.zeros(len(before), dtype=bool)
    for shift in range(3):
        same |= (np.roll(after, shift, axis=1) == before).all(axis=1)
    return ~same


def fill_holes(draft: Draft) -> str:
    """Fill every hole."""
    loops = boundary_loops(draft.faces)
    if not loops:
        return "there is no hole"
    before = len(draft.faces)
    vertices, faces = [draft.vertices], [draft.faces]
    directed = _directed_edges(draft.faces)
    start = len(draft.vertices)
    for given in loops:
        loop = given if _runs_against(given, directed) else given[::-1]
        if len(loop) == 3:
            faces.append(loop[None])
            continue
        vertices.append(draft.vertices[loop].mean(axis=0, keepdims=True))
        faces.append(np.column_stack([loop, np.roll(loop, -1), np.full(len(loop), start)]))
        start += 1
    draft.vertices, draft.faces = np.concatenate(vertices), np.concatenate(faces)
    added = len(draft.faces) - before
    draft.number = np.append(draft.number, np.zeros(added, dtype=np.int64))
    area = heights_and_areas(draft.vertices, draft.faces[before:])[1].sum()
    widest = max(float(np.ptp(draft.vertices[loop], axis=0).max()) for loop in loops)
    return (
        f"{_many(len(loops), 'hole', 'holes')} filled with {_many(added, 'face', 'faces')}, "
        f"{area:.3g} mm² in all, the widest {widest:.3g} mm across"
    )


def _directed_edges(faces: Ints) -> set[tuple[int, int]]:
    """Edges with one face, each in the direction of its face."""
    edges = edge_table(faces)
    alone = edges.counts() == 1
    low, high, sign = edges.low[alone], edges.high[alone], edges.sign[edges.offsets[:-1][alone]]
    tail, head = np.where(sign > 0, low, high), np.where(sign > 0, high, low)
    return set(zip(tail.tolist(), head.tolist(), strict=True))


def _runs_against(loop: Ints, directed: set[tuple[int, int]]) -> bool:
    """Whether a loop runs against most of the faces along it, as the faces that fill it must."""
    sides = list(zip(loop.tolist(), np.roll(loop, -1).tolist(), strict=True))
    along = sum(side in directed for side in sides)
    against = sum((head, tail) in directed for tail, head in sides)
    return against >= along


def _named(numbers: Ints) -> str:
    """Name the first few faces and count the rest."""
    given = numbers[numbers > 0]
    names = ", ".join(str(number) for number in given[:NAMED])
    more = len(numbers) - min(len(given), NAMED)
    word = "face" if len(given) == 1 else "faces"
    if not names:
        return _many(more, "added face", "added faces")
    return f"{word} {names}" + (f" and {more} more" if more else "")


def _many(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
