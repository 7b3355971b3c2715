"""Every caution of the audit names what mends it."""

import math

import pytest

from trajplan.bone._audit_words import NO_CANAL, Counts, cautions_of

CLEAN = Counts(**(dict.fromkeys(Counts._fields, 0) | {"bodies": 1, "files": 1, "thin": math.inf}))
WRONG = {name: 2 for name in Counts._fields if name not in ("files", "hollows")}
WRONG |= {"thin": 0.1, "step": 0.5}
#: What can be done: a repair, a key of the case, or work on the mesh itself.
REMEDIES = (
    *('repair "', 'repairs "', "bone.body", "bone.cortex"),
    *("export", "mend the", "check that", "move the bone", "drop one", "in a file of its own"),
)


@pytest.mark.parametrize(("name", "count"), WRONG.items())
def test_each_is_said_with_its_remedy(name, count):
    before = cautions_of(CLEAN, closed=True)
    said = [
        text
        for closed in (True, False)
        for text in cautions_of(CLEAN._replace(**{name: count}), closed=closed)
        if text not in before
    ]
    assert said
    for text in said:
        assert any(remedy in text for remedy in REMEDIES), text


def test_a_bone_without_a_canal_names_the_key_that_gives_its_wall():
    assert NO_CANAL in cautions_of(CLEAN, closed=True)
    assert "bone.cortex" in NO_CANAL
