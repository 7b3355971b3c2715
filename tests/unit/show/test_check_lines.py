"""A long check in print: counted by verdict and by rule, the failing lines first."""

import re
from types import SimpleNamespace

from trajplan.show._terminal.lines import LineCount


def line(name, **verdicts):
    findings = [SimpleNamespace(rule=rule, verdict=word) for rule, word in verdicts.items()]
    return SimpleNamespace(
        id=name, kind="HA4.5", technique="lag", length=30.0, hold="bicortical", gauge=28.2,
        proud_tip=1.8, tilt=3.0, findings=findings,
    )  # fmt: skip


LINES = [
    line("A", tilt="pass", purchase="pass"),
    line("B", tilt="caution", purchase="fail"),
    line("C", tilt="fail", purchase="fail"),
    line("D", tilt="unknown", entry_angle="note"),
    line("E", tilt="caution", purchase="pass"),
    line("F", entry_angle="note"),
]


def text(most=None, lines=LINES):
    count = LineCount(most)
    for one in lines:
        count.take(one)
    return count.text()


def test_lines_are_counted_by_their_worst_verdict():
    assert text().splitlines()[0] == "6 lines: 2 fail, 1 caution, 1 unknown, 2 pass."


def test_rules_are_counted_by_verdict_the_gravest_first():
    found = re.findall(r"^(\w+) +(\d) +(\d) +(\d)$", text(), re.MULTILINE)
    assert found == [("purchase", "2", "0", "0"), ("tilt", "1", "2", "1")]


def test_lines_that_fail_come_first_with_the_rules_that_fail():
    rows = re.findall(r"^([A-F]) .*?(fail|caution|unknown|pass) *(.*)$", text(), re.MULTILINE)
    assert [row[0] for row in rows] == ["B", "C", "E", "D", "A", "F"]
    assert rows[0][2] == "purchase"
    assert rows[1][2] == "tilt, purchase"
    assert rows[4][2] == ""


def test_the_rest_is_counted_unless_all_are_asked_for():
    assert "... and 4 more: --all prints them." in text(most=2)
    assert re.findall(r"^([A-F]) ", text(most=2), re.MULTILINE) == ["B", "C"]
    assert "--all" not in text()
