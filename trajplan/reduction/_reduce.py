"""The way from fragments as they lie to a reduction."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import CaseError
from trajplan.reduction._assemble import assemble, beside, dressed, settle
from trajplan.reduction._certainty import Certainty, certainty, covered
from trajplan.reduction._fine import Fit, Weights, apart
from trajplan.reduction._hints import hint_doubts, hint_starts
from trajplan.reduction._limits import doubts_of, line_doubts, turn_is_known
from trajplan.reduction._match import Prior
from trajplan.reduction._matcher import Matcher, measure
from trajplan.reduction._samples import inverse
from trajplan.reduction._template import Compared, compare
from trajplan.reduction._template_starts import template_starts
from trajplan.reduction._types import Origin, Pose, Reduction, Rival, Settings

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Floats
    from trajplan.reduction._assemble import Way
    from trajplan.reduction._coarse import Starts
    from trajplan.reduction._types import Fragment, PairFit, Progress

__all__ = ["reduce_fragments"]

#: Ways that are settled and compared at the end.
LAST = 2
FOUND: Origin = "found"
#: mm: lever that weighs a turn against a shift where rivals are compared, half a shaft's width.
ARM = 10.0
#: Samples of each break and wall by which it is told how sure a pose is: waves of noise and of
#: lost bone are some millimetres long, so that more samples are no more witnesses.
CERTAIN = 900
#: Last fit of a piece, at the end of all: from where it is.
LAST_FIT = Weights(rounds=14, reach=(2.0, 1.5))


def reduce_fragments(
    fragments: Sequence[Fragment],
    settings: Settings | None = None,
    progress: Progress | None = None,
    matcher: Matcher | None = None,
) -> Reduction:
    """Find the movements that bring fragments together, and tell how sure they are.

    Parameters
    ----------
    fragments : sequence of Fragment
        Two to six, as they lie.
    settings : Settings, optional
        What the user says.
    progress : callable, optional
        Told what is being done, and the share done.
    matcher : Matcher, optional
        Of the same fragments, where it is there already.

    Returns
    -------
    Reduction
        Where no fit is found within the limits, nothing is moved, and `doubts` says so.

    Raises
    ------
    CaseError
        If there are too few or too many fragments, two are the same, or `settings` name a
        fragment that is not there.
    DegenerateError
        If a fragment has no area.
    """
    settings = settings or Settings()
    _refuse_numbers(len(fragments), settings)
    told = progress or (lambda _what, _share: None)
    told("reading the broken surfaces", 0.0)
    ready = matcher or Matcher.of(fragments)
    ways = _ways(ready, settings, lambda what, share: told(what, 0.1 + 0.7 * share))
    fixed = ready.by_size[0] if settings.fixed is None else settings.fixed
    names = tuple(fragment.name for fragment in fragments)
    if not ways:
        return _nothing(ready, fixed, names)
    told("telling how sure it is", 0.85)
    best = ways[0]
    poses = _of_case(ready, best, fixed)
    sure = _certainties(ready, best)
    pairs = tuple(_filled(fit, best, sure) for fit in measure(ready, poses))
    against = Compared()
    if settings.template is not None:
        told("laying it on the template", 0.9)
        against = compare(ready, best.poses, settings.template)
        pairs = tuple(_with_template(fit, against, ready) for fit in pairs)
    met = covered(dressed(ready.samples, best.poses), [best.poses[k] for k in range(len(names))])
    doubts = [
        *(sentence for fit in pairs for sentence in doubts_of(fit, names)),
        *_lonely(pairs, names),
        *line_doubts(met, names),
        *hint_doubts(settings.hints, poses, names),
        *(against.doubts() if settings.template is not None else ()),
    ]
    told("done", 1.0)
    return Reduction(
        names=names,
        fixed=fixed,
        poses=poses,
        pairs=pairs,
        origins=_found(len(names)),
        sure=not doubts,
        covered=met,
        doubts=tuple(doubts),
        rivals=tuple(_rival(ready, way, best, fixed) for way in ways[1:]),
        template_misfit=against.misfit,
        template_short=against.short,
        template_turn=against.turn,
    )


def _refuse_numbers(count: int, settings: Settings) -> None:
    named = [
        *([] if settings.fixed is None else [settings.fixed]),
        *settings.order,
        *(number for hint in settings.hints for number in hint.fragments),
    ]
    wrong = [number for number in named if not 0 <= number < count]
    if wrong:
        raise CaseError(
            f"fragment {wrong[0] + 1} is named, but there are {count}",
            remedy="count the fragments from 1 in the order of their meshes",
        )
    if settings.order and sorted(settings.order) != list(range(count)):
        raise CaseError(
            "the order does not name every fragment once",
            remedy="name each fragment once, or leave the order out",
        )


def _ways(ready: Matcher, settings: Settings, told: Progress) -> list[Way]:
    """The best ways, settled, best first, in the frame of the largest fragment."""
    order = settings.order or ready.by_size
    prior = Prior(settings.most_turn, settings.most_shift)
    names = [fragment.name for fragment in ready.fragments]
    ways = assemble(ready.samples, order, prior, _given(ready, settings, prior), told, names)
    settled = [settle(ready.samples, way, order[0]) for way in ways[:LAST]]
    rated = [replace(way, value=_value(ready, way)) for way in settled]
    return sorted(rated, key=lambda way: -way.value)


def _given(
    ready: Matcher, settings: Settings, prior: Prior
) -> Callable[[int, dict[int, Floats]], list[Starts]]:
    """Starts from hints and from a template, as a function of a piece and what is placed."""
    sources = [hint_starts(ready, settings, prior)]
    if settings.template is not None:
        sources.append(template_starts(ready, settings.template))

    def starts(number: int, placed: dict[int, Floats]) -> list[Starts]:
        found = [source(number, placed) for source in sources]
        return [one for one in found if one is not None]

    return starts


def _value(ready: Matcher, way: Way) -> float:
    """Sum of the scores of all pieces against the rest."""
    samples = dressed(ready.samples, way.poses)
    return sum(
        beside(samples, way.poses, number).score(way.poses[number]).value
        for number in list(way.poses)[1:]
    )


def _of_case(ready: Matcher, way: Way, fixed: int) -> tuple[Pose, ...]:
    """Poses of the case, with the fixed fragment still."""
    back = inverse(way.poses[fixed])
    return tuple(
        Pose.still() if number == fixed else Pose(ready.outer(back @ way.poses[number]))
        for number in range(len(ready.fragments))
    )


def _rival(ready: Matcher, way: Way, best: Way, fixed: int) -> Rival:
    """Another way, and how far it lies behind and away from the best."""
    ways = []
    for number, pose in best.poses.items():
        back = way.poses[fixed] @ inverse(best.poses[fixed]) @ pose
        ways.append(apart(way.poses[number], back, ready.samples[number].break_middle))
    numbers = list(best.poses)
    sizes = [np.linalg.norm(way[3:]) + ARM * np.linalg.norm(way[:3]) for way in ways]
    most = int(np.argmax(sizes))
    return Rival(
        poses=_of_case(ready, way, fixed),
        score=max(0.0, way.value) / max(best.value, 1e-9),
        fragment=numbers[most],
        shift=float(np.linalg.norm(ways[most][3:])),
        turn=float(np.degrees(np.linalg.norm(ways[most][:3]))),
    )


def _certainties(ready: Matcher, way: Way) -> dict[int, Certainty]:
    """How sure each piece is against all others."""
    sure = {}
    samples = dressed(ready.samples, way.poses)
    for number in list(way.poses)[1:]:
        pair = beside(samples, way.poses, number).thinned(CERTAIN)
        pose = way.poses[number]
        fit = Fit.of(pair, pose, LAST_FIT)
        sure[number] = Certainty() if fit is None else certainty(pair, replace(fit, pose=pose))
    return sure


def _filled(fit: PairFit, way: Way, sure: dict[int, Certainty]) -> PairFit:
    """A pair's fit with the certainty of the piece of the two that was placed last."""
    order = list(way.poses)
    number = max(fit.first, fit.second, key=order.index)
    one = sure[number]
    filled = replace(
        fit,
        rival=way.rival.get(number, float("nan")),
        steady_shift=one.steady_shift,
        steady_turn=one.steady_turn,
        agree_shift=one.agree_shift,
        agree_turn=one.agree_turn,
        slides=one.slides,
    )
    return replace(filled, turn_known=turn_is_known(filled))


def _with_template(fit: PairFit, against: Compared, ready: Matcher) -> PairFit:
    """What the template settles between the two main fragments."""
    if {fit.first, fit.second} != set(ready.by_size[:2]):
        return fit
    return replace(
        fit,
        length_known=against.length_agrees,
        turn_known=fit.turn_known or against.turn_agrees,
    )


def _lonely(pairs: Sequence[PairFit], names: Sequence[str]) -> list[str]:
    """Fragments that meet no other."""
    met = {number for fit in pairs for number in (fit.first, fit.second)}
    return [f"{name} meets no other fragment." for k, name in enumerate(names) if k not in met]


def _found(count: int) -> tuple[Origin, ...]:
    return tuple([FOUND] * count)


def _nothing(ready: Matcher, fixed: int, names: tuple[str, ...]) -> Reduction:
    poses = (Pose.still(),) * len(names)
    return Reduction(
        names=names, fixed=fixed, poses=poses, pairs=measure(ready, poses),
        origins=_found(len(names)), sure=False,
        doubts=("No fit was found within the limits of turn and shift; nothing was moved.",),
    )  # fmt: skip
