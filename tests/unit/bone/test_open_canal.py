"""A canal that opens at an end is told from air, and its absence is told too."""

import pytest
from builders import bone_of
from specimens import cylinder, open_box, pipe, sphere, tube

from trajplan.bone._audit_words import NO_CANAL
from trajplan.bone._open_canal import OPEN_CANAL


def test_open_pipe_has_a_canal():
    audit = bone_of(pipe()).audit
    assert audit.canal
    assert OPEN_CANAL in audit.cautions
    assert NO_CANAL not in audit.cautions


@pytest.mark.parametrize("mesh", [cylinder(), sphere(), open_box(40.0)])
def test_solid_and_shaftless_bones_have_none(mesh):
    audit = bone_of(mesh).audit
    assert not audit.canal
    assert NO_CANAL in audit.cautions


def test_closed_canal_is_no_open_one():
    audit = bone_of(tube()).audit
    assert audit.canal
    assert OPEN_CANAL not in audit.cautions
