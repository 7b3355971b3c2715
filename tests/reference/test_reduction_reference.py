"""Reduction against an independent library, and beside published errors.

Published, automatic reduction of displaced fragments (read as abstracts):

- Buschbaum et al. 2014, IJCARS, doi 10.1007/s11548-014-1011-2, fracture lines, 9 models:
  1.2 +- 0.9 mm, 2.6 +- 2.8 degrees.
- Okada et al. 2009, IEEE TBME 56:749, fracture lines and other side: 6.0 +- 0.8 degrees.
- Dagnino et al. 2017, IJCARS, doi 10.1007/s11548-017-1602-9, 4 cadaver femora, achieved:
  1.2 +- 0.3 mm, 2 +- 1 degrees.
"""

import sys
from pathlib import Path

import numpy as np
import trimesh
from displaced import lying, oblique

from trajplan.reduction import Fragment, Matcher, Settings, reduce_fragments
from trajplan.reduction._fine import turned_by

sys.path.insert(0, str(Path(__file__).parents[2] / "scripts"))

from bench_reduce import errors
from reduce_breaks import break_bone

#: mm: voxel of an image with half the faces, where nothing rests on its fineness.
COARSE = 1.1
#: mm and degrees: mean and one standard deviation of Buschbaum et al.
PUBLISHED = (1.2 + 0.9, 2.6 + 2.8)


def test_an_independent_icp_finds_the_pieces_at_the_same_place():
    """`trimesh.registration.icp` lays the outer wall of either piece on the unbroken shaft."""
    _, moves, matcher, reduction = oblique()
    shaft = trimesh.Trimesh(*lying("shaft"), process=False)
    places = []
    for number, samples in enumerate(matcher.samples):
        wall = samples.moved(matcher.frame)
        # near where it belongs, a few millimetres off: the witness is no search
        start = np.linalg.inv(moves[number])
        start[:3, 3] += [0.5, -0.5, 0.5]
        points = wall.points[wall.wall][::2]
        matrix, _, _ = trimesh.registration.icp(
            points, shaft, initial=start, threshold=1e-9, max_iterations=60, scale=False,
            reflection=False,
        )  # fmt: skip
        places.append(matrix)
    witness = np.linalg.inv(places[0]) @ places[1]
    ours = reduction.poses[1].matrix
    middle = matcher.samples[1].moved(matcher.frame).break_middle
    way = (witness - ours) @ np.append(middle, 1.0)
    turn = turned_by(witness @ np.linalg.inv(ours))
    axis = np.array([0.0, 0.0, 1.0])
    across = way[:3] - (way[:3] @ axis) * axis
    assert np.linalg.norm(across) < 0.8  # along the shaft a smooth wall says little
    assert turn < 2.0


def test_errors_are_no_greater_than_published():
    """Noise of 0.2 mm, edges lost, up to 40 degrees and 40 mm; one case of many."""
    broken = break_bone("humerus", "transverse", 1)
    fragments = [Fragment(str(k), p.vertices, p.faces) for k, p in enumerate(broken.pieces)]
    reduction = reduce_fragments(fragments, Settings(fixed=0), None, Matcher.of(fragments))
    ((shift, turn, *_),) = errors(broken, reduction)
    assert shift < PUBLISHED[0]
    assert turn < PUBLISHED[1]
    assert reduction.sure


def test_a_mirrored_piece_is_never_sure():
    broken = break_bone("tibia", "oblique", 3, voxel=COARSE)
    first, second = broken.pieces
    flipped = Fragment("mirrored", second.vertices * [1.0, -1.0, 1.0], second.faces[:, ::-1])
    pieces = [Fragment("first", first.vertices, first.faces), flipped]
    assert not reduce_fragments(pieces).sure


def test_the_piece_of_another_bone_is_never_sure():
    broken = [break_bone(bone, "oblique", 3, voxel=COARSE).pieces for bone in ("tibia", "humerus")]
    pieces = [
        Fragment(name, parts[k].vertices, parts[k].faces)
        for k, (name, parts) in enumerate(zip(("tibia", "humerus"), broken, strict=True))
    ]
    assert not reduce_fragments(pieces).sure
