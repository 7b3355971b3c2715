"""Dirty meshes without repair: spans are right, or they are marked as not known."""

from functools import cache

import dirt
import igl
import numpy as np
import pytest
import specimens
from lines import grazing, unit

from trajplan.arrays import offsets_of, rows_of
from trajplan.bone import Spans, as_surface, covered, line_spans, make_bone, read_surface

LINES = 3000
#: mm of a line that may be taken for bone, or for none, wrongly and in silence.
TOLERANCE = 0.05


def femur():
    surface = read_surface(specimens.real_bone("r_femur.stl"), "m")
    return surface.vertices, surface.faces


BONES = {
    "femur": femur,
    "shaft with a canal": lambda: specimens.tube(sides=32),
    "hollow with a waist": lambda: specimens.joined(
        specimens.cylinder(20.0, 60.0),
        specimens.flipped(specimens.lathe((14.0, 3.0, 14.0), (10.0, 30.0, 50.0), 12)),
    ),
    "shaft open from end to end": lambda: specimens.pipe(sides=32),
}
DIRT = {
    "dropped": dirt.dropped,
    "many dropped": lambda mesh: dirt.dropped(mesh, 0.05),
    "turned": dirt.turned_over,
    "many turned": lambda mesh: dirt.turned_over(mesh, 0.3),
    "repeated": dirt.repeated,
    "all repeated": lambda mesh: dirt.repeated(mesh, 1.0),
    "slivers": dirt.with_slivers,
    "unmerged": dirt.unmerged,
    "doubled": dirt.doubled,
    "slid": dirt.slid,
    "strays": dirt.with_strays,
    "soiled": dirt.soiled,
    "dropped and turned": lambda mesh: dirt.turned_over(dirt.dropped(mesh)),
    "doubled, then dropped": lambda mesh: dirt.dropped(dirt.doubled(mesh)),
    "repeated, turned, unmerged": lambda mesh: dirt.unmerged(
        dirt.turned_over(dirt.repeated(mesh, 0.3))
    ),
}


def through(mesh, count=LINES, seed=5):
    """Lines through random points of the bounding box, from 300 mm before."""
    rng = np.random.default_rng(seed)
    direction = unit(rng.normal(size=(count, 3)))
    target = rng.uniform(mesh[0].min(axis=0), mesh[0].max(axis=0), (count, 3))
    return target - 300.0 * direction, direction


@cache
def clean(name):
    mesh = BONES[name]()
    origin, direction = through(mesh)
    bone = make_bone(as_surface(mesh))
    found = line_spans(bone, origin, direction)
    assert found.solid.known.all()
    return mesh, origin, direction, found, grazing(bone, origin, direction, found.solid)


def length(*parts):
    """Length of each line in the union of some spans."""
    row = np.concatenate([rows_of(spans.offsets)[which] for spans, which in parts])
    start, end = (
        np.concatenate([getattr(spans, name)[which] for spans, which in parts])
        for name in ("start", "end")
    )
    order = np.lexsort((start, row))
    some = np.ones(len(row), dtype=bool)
    union = Spans(
        offsets_of(np.bincount(row, minlength=LINES)), start[order], end[order],
        np.zeros(len(row), np.int64), some, some, some,
    )  # fmt: skip
    return covered(union, np.full(LINES, -1e5), np.full(LINES, 1e5))


def tally(truth, found):
    """Lines that are wrong in silence, lines in doubt."""
    every, known = slice(None), found.known
    taken_for_bone = length((truth, every), (found, known)) - length((truth, every))
    missed = length((truth, every), (found, every)) - length((found, every))
    doubt = length((found, every)) - length((found, known))
    wrong = np.maximum(taken_for_bone, missed) > TOLERANCE
    return wrong, (doubt > TOLERANCE) & ~wrong


@pytest.mark.parametrize("kind", DIRT)
@pytest.mark.parametrize("name", BONES)
def test_never_wrong_in_silence(name, kind):
    """Against the clean bone; a line that grazes it sees a shift of 0.01 mm as any length."""
    mesh, origin, direction, truth, graze = clean(name)
    found = line_spans(make_bone(as_surface(DIRT[kind](mesh))), origin, direction)
    met = np.diff(truth.solid.offsets) > 0
    for part in ("solid", "outer"):
        wrong, doubt = tally(getattr(truth, part), getattr(found, part))
        assert not (wrong & ~graze).any(), part
        assert doubt.sum() < 0.3 * met.sum(), part


@pytest.mark.parametrize("kind", ["turned", "repeated", "unmerged", "doubled", "slid", "strays"])
def test_dirt_that_leaves_no_hole_leaves_no_doubt(kind):
    mesh, origin, direction, *_ = clean("shaft with a canal")
    found = line_spans(make_bone(as_surface(DIRT[kind](mesh))), origin, direction)
    assert found.solid.known.all()


@pytest.mark.parametrize("kind", ["dropped", "soiled"])
def test_a_canal_is_found_though_the_surface_is_open(kind):
    mesh, *_ = clean("shaft with a canal")
    shells = make_bone(as_surface(DIRT[kind](mesh))).shells
    assert max(shells.nesting.tolist()) == 1
    assert shells.body[0] == shells.body[1]


def test_bodies_that_run_through_one_another():
    """Bone where either is, each body with spans of its own; where they share more than
    fragments pressed into one another do, nobody vouches for it.
    """
    one, other = specimens.sphere(10.0, 3), specimens.sphere(8.0, 3, (9.0, 2.0, 1.0))
    both = specimens.joined(one, other)
    origin, direction = through(both)
    truth = [line_spans(make_bone(as_surface(m)), origin, direction).solid for m in (one, other)]
    found = line_spans(make_bone(as_surface(both)), origin, direction).solid
    np.testing.assert_allclose(
        length((found, slice(None))), length(*((t, slice(None)) for t in truth)), atol=1e-8
    )
    met = [np.diff(t.offsets) > 0 for t in truth]
    untold = np.zeros(len(origin), dtype=bool)
    untold[np.repeat(np.arange(len(origin)), np.diff(found.offsets))[~found.known]] = True
    assert untold.any()
    assert not (untold & ~(met[0] & met[1])).any()  # only where a line meets both


@pytest.mark.parametrize("soil", [lambda mesh: mesh, dirt.turned_over, dirt.dropped, dirt.unmerged])
def test_surface_that_runs_through_itself(soil):
    """A sphere with rough vertices: bone by the exact winding number, or not known.

    Winding number by `igl.winding_number` (sum of solid angles, Jacobson et al. 2013,
    doi:10.1145/2461912.2461916). Pockets that are turned inside out are nobody's to tell.
    """
    vertices, faces = specimens.sphere(20.0, 3)
    rough = vertices + np.random.default_rng(1).normal(0.0, 4.0, vertices.shape), faces
    origin, direction = through(rough)
    found = line_spans(make_bone(as_surface(soil(rough))), origin, direction).solid
    depth = 300.0 + np.random.default_rng(2).uniform(-10.0, 10.0, LINES)
    number = np.ravel(igl.winding_number(*rough, origin + depth[:, None] * direction)).round()
    row = rows_of(found.offsets)
    covers = (found.start <= depth[row]) & (depth[row] <= found.end)
    inside = np.bincount(row, covers, LINES) > 0
    doubt = np.bincount(row, covers & ~found.known, LINES) > 0
    assert (number > 1).sum() > 10
    told = ~doubt & (number >= 0)
    assert told.mean() > 0.9
    np.testing.assert_array_equal(inside[told], number[told] > 0)


def test_ridge_of_bone_that_lost_its_faces_is_not_known():
    """The waist of a hollow, two flat pieces missing: a line crosses the ridge but no cap.

    The middle of its way through the hollow is far from the ridge, where the winding number
    has no doubt.
    """
    hollow = specimens.lathe((14.0, 3.0, 14.0), (10.0, 30.0, 90.0), 12)
    middles = hollow[0][hollow[1]].mean(axis=1)
    angle = np.degrees(np.arctan2(middles[:, 1], middles[:, 0]))
    flat = np.isin(middles[:, 2], [10.0, 90.0])
    missing = (angle > 0.0) & (angle < 30.0) & ~flat
    assert missing.sum() == 4
    wall = specimens.cylinder(20.0, 100.0)
    bone = make_bone(as_surface(specimens.joined(wall, (hollow[0], hollow[1][~missing]))))
    radius, sector = 3.5, np.radians(15.0)
    origin = np.array([[radius * np.cos(sector), radius * np.sin(sector), -50.0]])
    found = line_spans(bone, origin, np.array([[0.0, 0.0, 1.0]])).solid
    # the flat pieces lie cos(15 degrees) of the corners' radius off the axis
    below, above = ((radius / np.cos(sector) - 3.0) / 11.0 * height for height in (20.0, 60.0))
    ridge = (found.start <= 80.0 - below + 1e-9) & (found.end >= 80.0 + above - 1e-9)
    assert found.known[ridge].tolist() == [False]
    assert found.known[found.end < 61.0].all()


def test_pocket_turned_inside_out_is_not_known():
    """One closed shell whose second half is inverted: the level is -1 there."""
    near, far = specimens.cube(10.0), specimens.flipped(specimens.cube(6.0, (20.0, 0.0, 0.0)))
    bone = make_bone(as_surface(specimens.joined(near, far)))
    one = bone.shells.__class__(
        of_face=np.zeros(24, np.int64),
        **{
            name: getattr(bone.shells, name)[:1]
            for name in ("closed", "wound", "outward", "nesting", "body", "volume")
        },
    )
    bone = bone.__class__(bone.surface, one, bone.audit, bone.normals, bone.caster, bone.winding)
    found = line_spans(bone, np.array([[-50.0, 0.3, 0.2]]), np.array([[1.0, 0.0, 0.0]])).solid
    np.testing.assert_allclose(found.start, [45.0, 67.0])
    assert found.known.tolist() == [True, False]


# --- what the audit says --------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("unmerged", "636 vertices lie within 0.001 mm of another one along open edges"),
        ("doubled", "2 pieces lie within 0.05 mm of another one all over"),
        ("slid", "2 pieces lie within 0.05 mm of another one all over"),
        ("doubled, then dropped", "2 pieces lie within 0.05 mm of another one all over"),
    ],
)
def test_audit_names_the_repair(kind, said):
    mesh, *_ = clean("shaft with a canal")
    found = make_bone(as_surface(DIRT[kind](mesh))).audit
    (caution,) = (text for text in found.cautions if text.startswith(said))
    assert '; the repair "' in caution
    assert found.bodies == 1


def test_doubled_surface_counts_once():
    mesh, *_ = clean("shaft with a canal")
    once, twice = (make_bone(as_surface(m)).audit for m in (mesh, dirt.doubled(mesh)))
    assert (twice.bodies, twice.hollows, twice.inverted) == (1, 1, 0)
    assert twice.volume == pytest.approx(once.volume)


def test_pore_is_no_canal():
    found = make_bone(as_surface(specimens.joined(specimens.cube(50), specimens.cube(10)))).audit
    assert (found.hollows, found.canal) == (1, False)
    assert any("1 hollow holds less than 1 % of the bone" in text for text in found.cautions)
    found = make_bone(as_surface(specimens.joined(specimens.cube(50), specimens.cube(11)))).audit
    assert found.canal


@pytest.mark.parametrize(("apart", "doubted"), [(0.2, True), (0.8, False)])
def test_wall_too_thin_for_bone_is_doubted(apart, doubted):
    """Two surfaces too far apart to be one stored twice."""
    found = make_bone(as_surface(dirt.doubled(specimens.sphere(20.0, 3), apart))).audit
    assert any("too thin for bone" in text for text in found.cautions) is doubted
