"""Where every number of a plan comes from, for a person at a terminal."""

from __future__ import annotations

import textwrap
from itertools import chain
from typing import TYPE_CHECKING

from trajplan.show._terminal.table import WIDTH
from trajplan.tolerance import WAYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.files import FindingRecord, PlanFile

__all__ = ["why_lines"]

#: Numbers that are no finding, and what they rest on.
NUMBERS = {
    "gauge, seat, intervals": "geometry: every crossing of the axis and its ring with the mesh, "
    "in double precision; the gauge is the deepest exit of the ring, from the seat",
    "length": "the smallest stocked length that lets the tip leave the far cortex by `tip_past` "
    "(bicortical), or the longest that stops `tip_short` before the far wall (unicortical); "
    "stocked lengths: the catalogue",
    "holes": "drill sizes: the catalogue (`trajplan screws KIND` names each source)",
    "holds": "pull-out of the thread in bone beyond the fracture: Chapman et al. 1996, J Biomech "
    "Eng 118:391, F = S pi L D (0.5 + 0.57735 d/p), constants not verified against the "
    "source; strengths: the bone "
    "class",
    "preload": "the torque of the case, or what hands use for the screw: 1.312 N m for a core of "
    "2.4 mm (Aziz et al. 2014, abstract), others as the cube of the core (assumption), 80 to 105 % "
    "of it (Fletcher et al. 2020, Cleek et al. 2007); over the torque for each newton, as for "
    "`strips`; no more than 80 % of what the thread holds, and than core and bone under the head "
    "bear",
    "strips": "holding strength times torque for each newton, p/2 pi + friction times the mean "
    "radii of thread and head (common practice); friction of screw on bone 0.2 to 0.4 (Hayes and "
    "Perren 1972 for a plate; not verified against the source; width: assumption); 80 %: "
    "Fletcher et al. 2019, Cleek "
    "et al. 2007",
    "breaks": "the core under tension and torsion, yielding throughout (von Mises), 848 to 1100 "
    "MPa, derived from the least breaking torques of ISO 6475:1989 (not verified against the "
    "source)",
    "compression, shear": "the preload along the fracture normal and across it (geometry)",
    "pressure": "the near fragment as a rigid body on an elastic foundation over all of the "
    "fracture surface that it shares with the far one, no tension (Winkler; common practice)",
    "head area": "bone under head or washer seen along the axis, from the hole to the edge, by "
    "lines on 13 circles (geometry); a round head is taken to bed into the rim of its hole "
    "(assumption)",
    "slip reserve": "Coulomb friction over the shear and twist of the screws; friction 0.3 to 0.46 "
    "(finite-element literature, not verified against the source), setting `friction` "
    "between: tan 20 degrees",
    "forgives, by hand": "the plan's own cast and rules, with entry, direction and plunge "
    "scattered as published for the way of drilling ("
    + "; ".join(f"{way.how}: {way.source}" for way in WAYS.values())
    + "; plunge: Clement et al. 2012, Ding and Marmor 2019, abstracts); gliding holes by feel, "
    "lengths by the gauge; intervals: Wilson 1927",
}


def why_lines(plan: PlanFile) -> Iterator[str]:
    """Source and limit of every finding and every number, line by line: a check may be long.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Yields
    ------
    str
        Without its line end.
    """
    yield "Where the numbers come from"
    yield from (_entry(name, text) for name, text in NUMBERS.items())
    of_screws, of_wires = ((part.findings for part in parts) for parts in (plan.screws, plan.wires))
    for told in chain([plan.findings], of_screws, of_wires):
        for subject, findings in _by_subject(told).items():
            yield f"\n{subject}"
            yield from map(_finding, findings)
    changed = [limit for limit in plan.limits if limit.changed]
    if changed:
        yield "\nLimits that the case changed"
        for limit in changed:
            yield _entry(limit.name, f"{limit.value:g} {limit.unit} in place of {limit.default:g}")


def _by_subject(findings: Iterable[FindingRecord]) -> dict[str, list[FindingRecord]]:
    found: dict[str, list[FindingRecord]] = {}
    for finding in findings:
        found.setdefault(finding.subject, []).append(finding)
    return found


def _finding(finding: FindingRecord) -> str:
    measured = "-" if finding.measured is None else f"{finding.measured:.2f} {finding.unit}".strip()
    limit = "" if finding.limit is None else f", limit {finding.limit:g}"
    return _entry(f"{finding.rule} ({finding.verdict})", f"{measured}{limit}; {finding.source}")


def _entry(name: str, text: str) -> str:
    return textwrap.fill(f"{name}: {text}", WIDTH, initial_indent="  ", subsequent_indent="      ")
