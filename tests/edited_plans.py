"""A checked plan of two lag screws through a tube, ready to be edited."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

import numpy as np
from builders import case_of
from specimens import tube

from trajplan.files import AxesTable
from trajplan.planner import check_axes, plan_record, set_up
from trajplan.show import Session

MESH = tube(sides=32)
THEN = datetime(2026, 1, 2, tzinfo=UTC)
#: Along the fracture normal, 30 degrees off the shaft of the tube, and a little off it.
NORMAL = np.array([0.5, 0.0, 0.8660254037844386])
AIM = np.array([0.9, 0.0, 0.4358898943540674])


def axes(points=((0.0, 0.0, 42.0), (0.0, 3.0, 58.0)), direction=AIM, kinds=None, techniques=None):
    """Lines through points."""
    points = np.array(points)
    n = len(points)
    return AxesTable(
        ids=tuple(f"screw {i + 1}" for i in range(n)),
        kinds=tuple(kinds or ["HA4.5"] * n),
        techniques=tuple(techniques or ["lag"] * n),
        start=points - 40.0 * direction,
        end=points + 40.0 * direction,
        rows=tuple(range(2, n + 2)),
    )


def record_of(table, case):
    """What a fresh check of axes comes to."""
    return plan_record(check_axes(case, table, bone=MESH), created=THEN)


@cache
def _opened():
    session = session_of(placement={"draws": 50})
    return session.setup, session.record


def few_draws():
    """A session of two screws, whose setup is shared: no session changes it."""
    return Session(*_opened())


def session_of(table=None, **changes):
    """Open a session on the check of a table, scores written in as a planner would."""
    case = case_of(**changes)
    record = record_of(axes() if table is None else table, case)
    scored = tuple(screw.model_copy(update={"score": 0.8}) for screw in record.screws)
    return Session(set_up(case, bone=MESH), record.model_copy(update={"screws": scored}))
