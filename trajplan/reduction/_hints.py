"""Hints: pairs of points that somebody says belong together, as starts and as a check."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial.transform import Rotation

from trajplan.reduction._coarse import Starts, by_shaft, turned
from trajplan.reduction._samples import inverse, moved

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Floats
    from trajplan.reduction._match import Prior
    from trajplan.reduction._matcher import Matcher
    from trajplan.reduction._types import Hint, Pose, Settings

__all__ = ["hint_doubts", "hint_starts"]

#: mm: a rough hint may miss by so much (a finger's breadth); beyond, it and the fit contradict.
ROUGH = 12.0
#: degrees: turns tried round the one that three hints or more give.
ROUND_GIVEN = 20.0


def hint_starts(
    ready: Matcher, settings: Settings, prior: Prior
) -> Callable[[int, dict[int, Floats]], Starts | None]:
    """Starts that hints give, as a function of a piece and of the poses of those placed."""

    def starts(number: int, placed: dict[int, Floats]) -> Starts | None:
        links = _links(ready, settings.hints, number, placed)
        if not links:
            return None
        goals, sources = (np.array(side) for side in zip(*links, strict=True))
        if len(links) >= 3:
            start, _ = Rotation.align_vectors(goals - goals.mean(0), sources - sources.mean(0))
            turns = turned(ROUND_GIVEN) @ start.as_matrix()
        else:
            ends = [by_shaft(ready.samples[k], ready.samples[number]) for k in placed]
            turns = np.concatenate([turned(prior.turn), *ends])
        source, goal = sources.mean(axis=0), goals.mean(axis=0)
        return Starts(turns, goal - turns @ source, 0.5)

    return starts


def _links(
    ready: Matcher, hints: Sequence[Hint], number: int, placed: dict[int, Floats]
) -> list[tuple[Floats, Floats]]:
    """Goal and source of each hint between a piece and one that is placed."""
    back = inverse(ready.frame)
    links = []
    for hint in hints:
        for mine, other in ((0, 1), (1, 0)):
            if hint.fragments[mine] == number and hint.fragments[other] in placed:
                points = moved(back, np.stack([hint.points[mine], hint.points[other]]))
                goal = moved(placed[hint.fragments[other]], points[1:])[0]
                links.append((goal, points[0]))
    return links


def hint_doubts(hints: Sequence[Hint], poses: Sequence[Pose], names: Sequence[str]) -> list[str]:
    """Hints that the reduction does not keep, one sentence each."""
    said = []
    for hint in hints:
        ends = [
            poses[number].points(point)[0]
            for number, point in zip(hint.fragments, hint.points, strict=True)
        ]
        way = float(np.linalg.norm(ends[0] - ends[1]))
        if way > ROUGH:
            first, second = (names[number] for number in hint.fragments)
            said.append(
                f"The points that were said to belong together on {first} and {second} are "
                f"{way:.0f} mm apart."
            )
    return said
