"""Which screw comes off the tray: its length, and its thread where that is partial."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.trajectory._dimensions import ROUNDING, stocked_at_least, stocked_below

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.trajectory._dimensions import Dimensions
    from trajplan.trajectory._technique import Settings

__all__ = ["blind_choice", "partial_threads", "through_length"]


def through_length(dims: Dimensions, gauge: Floats, settings: Settings) -> Floats:
    """Stocked length of screws that hold in the far cortex.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    gauge : (n,) float array, mm
        Reading of the depth gauge, from the seat; NaN where unknown.
    settings : Settings
        ``tip_past`` is wanted past the far cortex, ``tip_least`` to ``tip_most`` will do.

    Returns
    -------
    (n,) float array, mm
        The shortest that stands out by ``tip_past``; the next shorter where that one would
        stand out too far and the shorter still does; the longest stocked where none reaches.
    """
    out = dims.above_seat + gauge
    wanted = stocked_at_least(dims, out + settings.tip_past)
    shorter = stocked_below(dims, wanted)
    with np.errstate(invalid="ignore"):
        proud = wanted - out > settings.tip_most + ROUNDING
        will_do = shorter - out >= settings.tip_least - ROUNDING
    return np.where(proud & will_do, shorter, wanted)


def blind_choice(
    dims: Dimensions,
    seat: Floats,
    begin: Floats,
    room: Floats,
    ahead: Floats,
    settings: Settings,
) -> tuple[Floats, Floats]:
    """Length and thread of screws that end in bone.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    seat : (n,) float array, mm
        Depth of the seat.
    begin : (n,) float array, mm
        Depth from which a thread may bite: past the fracture, or the end of the gliding hole.
    room : (n,) float array, mm
        Depth that the tip may reach.
    ahead : (n,) float array, mm
        Depth that it may reach on a line that runs towards a joint; NaN on any other.
    settings : Settings
        ``thread_clear``, ``thread_margin`` and ``turns_soft``.

    Returns
    -------
    length, thread : (n,) float arrays, mm
        Towards a joint the longest stocked length that keeps clear of it, with its shortest
        thread, if that lies ``thread_clear`` past the fracture and holds. Else the shortest
        stocked length, with its shortest thread, whose thread lies ``thread_clear`` past the
        fracture and holds by ``turns_soft``; where there is none, the same with
        ``thread_margin``; then the best hold beyond the fracture that there is; then the
        longest that fits, and where none fits the shortest. Thread: NaN where it is full.

    Notes
    -----
    Longer is not better: in the medial malleolus partially threaded screws of 30 mm pressed
    the fracture more than those of 45 mm, whose threads lay past the dense bone (0.95 against
    0.6 kg/cm²; Parker et al. 2013, Bone Joint J 95-B:1662-1666, abstract). There the bone gets
    softer along the screw. Towards a joint it gets denser, up to the plate under the cartilage:
    screws of the femoral neck end 5 to 12 mm from the joint (Wheeless' Textbook of Orthopaedics,
    hip fractures, screw length). So the two are told apart by where the line leads.
    """
    length, thread = np.full((2, len(dims.kind)), np.nan)
    for number, kind in enumerate(dims.kinds):
        rows = np.flatnonzero(dims.kind == number)
        if not len(rows):
            continue
        tray = np.array(kind.tray)
        tip = seat[rows, None] - dims.above_seat[rows, None] + tray[:, 0]
        best = np.argmax(
            _worth(
                tip,
                tray[:, 1],
                begin[rows, None],
                room[rows, None],
                ahead[rows, None],
                kind.pitch,
                settings,
            ),
            axis=1,
        )
        known = np.isfinite(room[rows])
        length[rows] = np.where(known, tray[best, 0], np.nan)
        thread[rows] = np.where(known, tray[best, 1], np.nan)
    return length, thread


#: Steps between the orders of preference, above any length in mm.
STEP = 1e4
#: Of equal lengths the shorter thread: less than any two lengths of a tray differ by.
THREAD_SHARE = 1e-3


def _worth(
    tip: Floats,
    thread: Floats,
    begin: Floats,
    room: Floats,
    ahead: Floats,
    pitch: float,
    settings: Settings,
) -> Floats:
    """Rank every screw of a tray for every axis, the better the higher, (n, tray)."""
    beyond = np.nan_to_num(tip - begin, nan=-np.inf)
    partial = np.isfinite(thread)
    clear = np.where(partial, beyond - thread, np.inf)
    bite = np.where(partial, np.minimum(thread, beyond), beyond)
    holds = bite >= settings.turns_soft * pitch - ROUNDING
    fits = tip <= room + ROUNDING
    past = [clear >= least - ROUNDING for least in (settings.thread_clear, settings.thread_margin)]
    first = np.arange(tip.shape[1], 0.0, -1.0)  # of equals the shortest
    near_joint = tip <= ahead + ROUNDING  # NaN, no joint ahead: False
    last_resort = np.where(np.isfinite(beyond), np.minimum(beyond, clear), tip)
    return np.select(
        [
            fits & past[0] & holds & near_joint,
            fits & past[0] & holds,
            fits & past[1] & holds,
            fits & past[1] & (bite > 0.0),
            fits & (clear >= 0.0) & (bite > 0.0),
            fits,
        ],
        [
            6.0 * STEP + tip - THREAD_SHARE * np.nan_to_num(thread, nan=0.0),
            5.0 * STEP + first,
            4.0 * STEP + first,
            3.0 * STEP + bite,
            2.0 * STEP + bite,
            STEP + last_resort,
        ],
        default=first - STEP,
    )


def partial_threads(dims: Dimensions, length: Floats, room: Floats, settings: Settings) -> Floats:
    """Partial thread of screws whose length is settled by the far cortex.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    length : (n,) float array, mm
        Their lengths.
    room : (n,) float array, mm
        From the fracture to the tip.
    settings : Settings
        ``thread_margin``.

    Returns
    -------
    (n,) float array, mm
        Of the threads that come with the length the longest that clears the fracture with the
        margin, else without it, else the shortest; NaN where the thread is full.
    """
    thread = np.full(len(length), np.nan)
    for number, kind in enumerate(dims.kinds):
        rows = np.flatnonzero((dims.kind == number) & np.isfinite(length))
        if not len(rows) or not kind.partial:
            continue
        tray = np.array(kind.tray)
        comes = np.abs(tray[:, 0] - length[rows, None]) < ROUNDING
        spare = room[rows, None] - tray[:, 1]
        worth = np.select(
            [~comes, spare >= settings.thread_margin - ROUNDING, spare >= -ROUNDING],
            [-STEP, 2.0 * STEP + tray[:, 1], STEP + tray[:, 1]],
            default=-tray[:, 1],
        )
        thread[rows] = tray[np.argmax(worth, axis=1), 1]
    return thread
