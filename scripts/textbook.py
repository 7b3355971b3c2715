"""Print what the textbook teaches of common fractures beside what the program says.

    python scripts/textbook.py [NAME ...]

The situations stand in ``tests/textbook_situations.py``; ``tests/reference/textbook`` holds
each against its teaching. The table is that of `trajplan help proof`.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from textbook_situations import SITUATIONS, record, spoken


def program(name: str) -> str:
    """What the program plans and says, in one cell."""
    plan = record(name)
    screws = "; ".join(f"{screw.id} {screw.size}" for screw in plan.screws) or "no screw"
    rules = sorted({f"{rule} ({word})" for rule, word, _ in spoken(name) if word != "note"})
    return f"{plan.verdict}: {screws}. {', '.join(rules)}".rstrip()


def table(names: list[str]) -> str:
    """The table, a row a situation."""
    rows = [
        f"| {name} | {SITUATIONS[name].teaching} | {program(name)} | {SITUATIONS[name].because} |"
        for name in names or SITUATIONS
    ]
    return "\n".join(
        ["| situation | teaching | program | why it asks |", "| --- | --- | --- | --- |", *rows]
    )


if __name__ == "__main__":
    print(table(sys.argv[1:]))
