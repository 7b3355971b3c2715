"""All rules at once: rows kept, misses, and nothing unknown shown as a pass."""

import re
from dataclasses import replace

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, level, obstacle, screws_in, slab, words
from specimens import box

from trajplan.bone import shaft_axis
from trajplan.checks import (
    LIMIT_NOTES,
    Approach,
    Limits,
    Surroundings,
    Verdict,
    named_by,
    pair_names,
    pair_rulings,
    screw_rulings,
)

LIMITS = Limits()
AROUND = Surroundings(
    slab(), (level(slab(), 8.0),), (obstacle(box((20, 0, 1), (30, 9, 9))),),
    Approach(np.array([0.0, 0.0, 1.0]), 60.0), shaft=shaft_axis(slab().surface),
)  # fmt: skip


@pytest.mark.parametrize("x", [[], [0.0], [0.0, 90.0, 5.0, -90.0, 17.0]])
def test_one_row_a_screw(x):
    for ruling in screw_rulings(in_slab(x=x), LIMITS, AROUND):
        assert len(ruling.verdict) == len(ruling.measured) == len(ruling.limit) == len(x)


def test_a_miss_makes_one_finding():
    found = [
        f for r in screw_rulings(in_slab(x=[90]), LIMITS, AROUND) for f in r.findings(["screw 1"])
    ]
    assert [(f.rule, f.verdict) for f in found] == [("meets_bone", Verdict.FAIL)]


def test_every_verdict_has_its_sentence():
    """A sentence for each verdict that any screw may get, with its numbers filled in."""
    screws = in_slab(x=[0, 5, 18, 39.9], angle=12, cortex=4.0)
    for ruling in screw_rulings(screws, LIMITS, AROUND):
        for finding in ruling.findings("abcd"):
            assert finding.why.endswith(".")
            assert "{" not in finding.why
            assert finding.source


def test_deciding_gives_the_verdicts_of_measuring():
    screws = in_slab(x=np.linspace(-39, 39, 30), angle=10)
    measured = screw_rulings(screws, LIMITS, AROUND)
    decided = screw_rulings(screws, LIMITS, AROUND, measure=False)
    assert [words(r) for r in decided] == [words(r) for r in measured]


def test_pairs_are_named_in_order():
    rulings, subjects = (
        pair_rulings(in_slab(x=[0, 12, 24]), LIMITS),
        pair_names(["screw 1", "screw 2", "screw 3"]),
    )
    assert subjects == ["screw 1 + screw 2", "screw 1 + screw 3", "screw 2 + screw 3"]
    assert [len(r.verdict) for r in rulings] == [3, 3]
    assert rulings[0].measured == pytest.approx([4, 16, 4])
    assert pair_names(["screw 1"]) == []


#: Rules whose answer rests on where the bone begins and ends along the axis.
REST_ON_THE_WALLS = {
    "purchase", "tip_past", "wall_breach", "leaves_bone", "cortex_known", "inside_known",
}  # fmt: skip


@pytest.mark.parametrize("missing", [[8, 9], [10, 11]], ids=["far wall", "near wall"])
def test_what_rests_on_a_hole_of_the_mesh_is_never_a_pass(missing):
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    bone = bone_of((vertices, np.delete(faces, missing, axis=0)))
    screws = screws_in(
        bone, [[0, 0, 9]], [[0, 0, -1]], zones=level(slab(), 8.0), cortex=6.0
    )  # an assumed cortex does not make up for it
    said = {r.rule: words(r)[0] for r in screw_rulings(screws, LIMITS, AROUND)}
    assert {rule: said[rule] for rule in REST_ON_THE_WALLS} == dict.fromkeys(
        REST_ON_THE_WALLS, "unknown"
    )


def test_every_limit_has_its_note():
    from dataclasses import fields

    assert list(LIMIT_NOTES) == [f.name for f in fields(Limits)]
    assert all(note.source and note.meaning for note in LIMIT_NOTES.values())


def test_a_subject_names_its_screws():
    ids = {"A", "C", "A + B", "+"}
    assert named_by("A", ids) == {"A"}
    assert named_by("A + C", ids) == {"A", "C"}
    assert named_by("A + B + C", ids) == {"A + B", "C"}
    assert named_by("A + +", ids) == {"A", "+"}
    assert named_by("plan", ids) == named_by("B + C", ids) == named_by("A+C", ids) == set()


def test_no_sentence_tells_of_a_distance_below_zero():
    """Screws through an obstacle, through each other, across the fracture and short of the wall."""
    through = (
        obstacle(box((-6, -9, -30), (6, 9, -12)), role="avoid"),
        obstacle(box((-9, -9, -1), (9, 9, 40))),
    )
    around = replace(AROUND, obstacles=through)
    shallow = changed(in_slab(x=[0, 3, 39.0], cortex=4.0), tip=[26.0, 18.0, 15.0])
    shallow = changed(shallow, "seats", seat=[0.0, 12.0, 0.0])
    shallow = changed(shallow, bite_from=[2.0, 2.0, 2.0])
    shallow = replace(shallow, bicortical=np.array([True, False, True]))
    rulings = screw_rulings(shallow, LIMITS, around)
    pairs = pair_rulings(shallow, LIMITS)
    found = [f for r in rulings for f in r.findings("abc")]
    found += [f for r in pairs for f in r.findings(pair_names("abc"))]
    negative = {f.rule for f in found if f.measured is not None and f.measured < 0.0}
    assert negative >= {
        "avoid_clearance", "joint_clearance", "head_on_joint", "guide_way", "screw_gap",
        "thread_across", "head_support", "tip_past", "tip_short",
    }  # fmt: skip
    for finding in found:
        assert not re.search(r"(?<![\w.])-\d", finding.why), finding.why
