"""Text on what comes of a plan when hands err."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.show._terminal.table import WIDTH, table
from trajplan.show._words.numbers import percent
from trajplan.tolerance import HARM, SPARE

if TYPE_CHECKING:
    from trajplan.files import OddsRecord, PlacementRecord

__all__ = ["by_hand_text", "hand_rows", "hands_text", "odds_text", "parts_text"]

WAY_NAMES = {
    "free hand": "free hand",
    "sleeve": "sleeve or aiming arm",
    "guide": "guide that fits the bone",
}
ERROR_NAMES = {
    "entry": "as taken, entry without error",
    "direction": "as taken, direction without error",
    "plunge": "as taken, drill without plunge",
}

#: A share below this is 0 % to a reader.
SELDOM = 0.005
KEPT = "Every rule is kept in more than 99 % of the tries."


def by_hand_text(placement: PlacementRecord | None) -> str:
    """The chances of a screw by hand, in a cell of a table: harm, less than planned.

    Parameters
    ----------
    placement : PlacementRecord or None
        Of the screw.

    Returns
    -------
    str
    """
    if placement is None:
        return "-"
    return f"{percent(placement.harm.chance)}, {percent(placement.less.chance)}"


def odds_text(odds: OddsRecord) -> str:
    """A chance with its interval, in per cent.

    Parameters
    ----------
    odds : OddsRecord
        The chance.

    Returns
    -------
    str
    """
    if odds.chance is None or odds.low is None or odds.high is None:
        return "cannot be told"
    ends = f"{100 * odds.low:.0f} to {100 * odds.high:.0f}"
    return f"{100 * odds.chance:.0f} % ({ends})"


def hand_rows(placement: PlacementRecord) -> list[tuple[str, str, str]]:
    """Ways of drilling, and the way taken without each error: name, harm, less than planned.

    Parameters
    ----------
    placement : PlacementRecord
        Of a plan.

    Returns
    -------
    list of (str, str, str)
        The way taken first, alone where nothing needs mending.
    """
    rows = [(WAY_NAMES[seen.way], seen.harm, seen.less) for seen in placement.ways]
    rows += [(ERROR_NAMES[seen.error], seen.harm, seen.less) for seen in placement.without]
    return [(name, odds_text(harm), odds_text(less)) for name, harm, less in rows]


def parts_text(placement: PlacementRecord) -> str:
    """What the tries of hands come to, rule by rule.

    Parameters
    ----------
    placement : PlacementRecord
        Of a plan, or of a screw.

    Returns
    -------
    str
        Each rule that tries failed, with its share of them: those that do harm, those that leave
        less than was planned, and those that only use up room to spare. One try may fail several.
        Shares that round to nothing are left out. Empty where nothing was tried.
    """
    if placement.harm.chance is None:
        return ""
    failed = [seen for seen in placement.rules if (seen.chance or 0.0) >= SELDOM]
    told = (
        ("harm by", [seen for seen in failed if seen.rule in HARM]),
        ("less than planned by", [seen for seen in failed if seen.rule not in HARM | SPARE]),
        ("no loss, room to spare used up", [seen for seen in failed if seen.rule in SPARE]),
    )
    parts = [
        f"{what}: "
        + ", ".join(
            f"{seen.rule} {percent(seen.chance)}"
            for seen in sorted(some, key=lambda seen: -(seen.chance or 0.0))
        )
        for what, some in told
        if some
    ]
    return f"Of the tries, {'; '.join(parts)}." if parts else KEPT


def hands_text(placement: PlacementRecord) -> str:
    """What comes of drilling the plan in each way, and what the tries of the way taken fail.

    Parameters
    ----------
    placement : PlacementRecord
        Of a plan.

    Returns
    -------
    str
    """
    head = ("drilled", "tries that do harm", "less than planned")
    unknown, parts = placement.unknown, parts_text(placement)
    doubt = f"\n{percent(unknown)} of the tries cannot be told." if unknown > 0.0 else ""
    by_rule = f"\n{textwrap.fill(parts, WIDTH)}" if parts else ""
    return table(head, hand_rows(placement)) + by_rule + doubt
