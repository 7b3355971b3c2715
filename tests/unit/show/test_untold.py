"""A measure of forgiving that cannot be told is said so, wherever it is shown."""

import pytest

from trajplan.show import plan_text
from trajplan.show._report.card import screw_groups
from trajplan.show._window.aside import _forgiven


@pytest.mark.parametrize(
    ("tilt", "shift", "text", "card", "beside"),
    [
        (6.54, 1.5, "6.5 deg 1.50", "tilt 6.5°, shift 1.50 mm", "6.5° or 1.5 mm"),
        (None, 1.5, "? deg 1.50", "tilt cannot be told, shift 1.50 mm", "?° or 1.5 mm"),
        (6.54, None, "6.5 deg ?", "tilt 6.5°, shift cannot be told", "6.5° or ? mm"),
    ],
)
def test_forgiving(record, plan, tilt, shift, text, card, beside):
    screw = record(forgiving={"tilt": tilt, "shift": shift})
    assert text in " ".join(plan_text(plan(screw)).split())
    rows = [row for groups in screw_groups(screw) for group in groups for row in group.rows]
    assert [row.value for row in rows if row.field == "forgiving"] == [card]
    assert _forgiven(screw) == beside
