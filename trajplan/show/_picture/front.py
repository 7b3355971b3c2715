"""The first page as a picture: two views, verdict, drill table, what needs a decision."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.show._items.palette import VERDICT_COLOURS
from trajplan.show._picture.compass import compass
from trajplan.show._picture.draw import INK, draw, look, scale_bar
from trajplan.show._picture.first import DRILL_HEADS, counted, first_page, fitting
from trajplan.show._picture.labels import labels
from trajplan.show._picture.legend import entries, legend
from trajplan.show._picture.panes import CAUTIONS_WIDE, PAPER, SIZE, heading
from trajplan.show._picture.sight import close_to, sights
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.files import FindingRecord, PlanFile
    from trajplan.planner import Setup
    from trajplan.show._items.item import Item
    from trajplan.show._picture.first import FirstPage
    from trajplan.show._picture.sight import Sight

__all__ = ["front"]

#: Shares of the height: title, names of the views, views, words, key, cautions.
ROWS = (0.12, 0.03, 0.46, 0.27, 0.07, 0.05)
#: Pixels of a view, and of a pane of words.
VIEW = (SIZE[0] / 2.0, ROWS[2] * SIZE[1])
WORDS = (SIZE[0] / 2.0, ROWS[3] * SIZE[1])
#: Share of a view's width that names take up at either edge, and letters of a name there.
SHARE, LETTERS = 0.19, 14
#: Size of words as pyvista counts it, and pixels from one line to the next.
WORD, LINE = 8, 19.0
#: Letters to a line of the sentence under the title, and of a decision.
SENTENCE_WIDE, DECISION_WIDE = 128, 92
#: Letters to a line of a cell of the drill table: the first for which its columns fit their pane.
CELLS = (17, 14, 12, 10)
#: Pixels at the left of words and between columns of the drill table, and above a pane's words.
GAP, TOP = 14.0, 10.0


def front(setup: Setup, plan: PlanFile, items: Sequence[Item]) -> pv.Plotter:
    """Set the first page of a plan up, ready to be shot.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.
    items : sequence of Item
        As from `plan_scene`.

    Returns
    -------
    pyvista.Plotter
        Off screen.
    """
    import pyvista as pv

    plotter = pv.Plotter(
        off_screen=True,
        shape=(6, 2),
        groups=[(row, slice(0, 2)) for row in (0, 4, 5)],
        row_weights=list(ROWS),
        window_size=list(SIZE),
        border_color="#bbbbbb",
    )
    plotter.set_background(PAPER, all_renderers=True)
    words = first_page(plan)
    plotter.subplot(0, 0)
    _title(plotter, words)
    for column, sight in enumerate(sights(setup, plan)):
        plotter.subplot(1, column)
        heading(plotter, sight.name[:1].upper() + sight.name[1:], ROWS[1] * SIZE[1] - 4.0, 9)
        plotter.subplot(2, column)
        _view(plotter, items, sight, plan)
    plotter.subplot(3, 0)
    _table(plotter, words)
    plotter.subplot(3, 1)
    _decisions(plotter, words)
    plotter.subplot(4, 0)
    legend(plotter, entries(items), (SIZE[0], ROWS[4] * SIZE[1]))
    plotter.subplot(5, 0)
    caution = "\n".join(textwrap.wrap(CAUTION_TEXT, CAUTIONS_WIDE))
    plotter.add_text(caution, position=(14, 8), font_size=7, font="arial", color=INK)
    return plotter


def _title(plotter: pv.Plotter, words: FirstPage) -> None:
    top = ROWS[0] * SIZE[1] - TOP
    heading(plotter, textwrap.shorten(words.title, 90, placeholder=" ..."), top, 13)
    said = textwrap.shorten(words.sentence, SENTENCE_WIDE, placeholder=" ...")
    colour = VERDICT_COLOURS.get(words.verdict, INK)
    heading(plotter, f"{words.verdict.upper()}: {said}", top - 38.0, 11, colour)
    heading(plotter, words.side, top - 72.0, 9)


def _view(plotter: pv.Plotter, items: Sequence[Item], sight: Sight, plan: PlanFile) -> None:
    plotter.enable_anti_aliasing("ssaa")
    aspect = VIEW[0] / VIEW[1]
    view = close_to(items, sight, aspect, (SHARE, SHARE))
    draw(plotter, items)
    prefix = f"{plan.plates[0].id} " if len(plan.plates) == 1 else ""
    labels(plotter, items, view, VIEW, share=SHARE, most=LETTERS, prefix=prefix)
    look(plotter, view)
    scale_bar(plotter, view, aspect)
    compass(plotter, view, aspect, arms(plan.frame, plan.bearings))


def _table(plotter: pv.Plotter, words: FirstPage) -> None:
    """Columns of the drill table, each as wide as its longest cell."""
    left, top = GAP, WORDS[1] - TOP
    if not words.rows:
        heading(plotter, "The plan holds no screw.", top, WORD)
        return
    room = int((WORDS[1] - TOP) // LINE) - 1
    for cell in CELLS:
        rows = [_wrapped(row, cell) for row in (DRILL_HEADS, *words.rows)]
        shown = [k for k in range(len(rows)) if sum(len(row[0]) for row in rows[: k + 1]) <= room]
        columns = [
            [line for k in shown for line in rows[k][column]] for column in range(len(DRILL_HEADS))
        ]
        wide = [_width(plotter, lines) for lines in columns]
        if sum(wide) + GAP * (len(wide) + 1) <= WORDS[0]:
            break
    for lines, width in zip(columns, wide, strict=True):
        _column(plotter, lines, left, top)
        left += width + GAP
    more = len(rows) - len(shown) + words.more_rows
    told = f"... and {more} more: see the report" if more else "Holes: diameter to depth; mm."
    _column(plotter, [*[""] * len(columns[0]), told], GAP, top)


def _wrapped(row: Sequence[str], cell: int) -> list[list[str]]:
    """Cells of a row in lines of so many letters, all of them as many lines."""
    cells = [textwrap.wrap(text, cell) or [""] for text in row]
    high = max(len(cell) for cell in cells)
    return [[*cell, *[""] * (high - len(cell))] for cell in cells]


def _column(plotter: pv.Plotter, lines: Sequence[str], left: float, top: float) -> None:
    """Write lines one below the other, at even distances."""
    for number, text in enumerate(lines):
        if text:
            heading(plotter, text, top - LINE * number, WORD, left=left)


def _width(plotter: pv.Plotter, lines: Sequence[str]) -> float:
    """Pixels that the longest of some lines takes up, as VTK draws it."""
    wide = 0.0
    for text in set(lines):
        if text:
            actor = heading(plotter, text, 0.0, WORD)
            box = [0.0] * 4
            actor.GetBoundingBox(plotter.renderer, box)
            plotter.remove_actor(actor, render=False)
            wide = max(wide, box[1] - box[0])
    return wide


def _decisions(plotter: pv.Plotter, words: FirstPage) -> None:
    """What needs a decision, as much as fits, and a count of the rest."""
    top = WORDS[1] - TOP
    heading(plotter, "What needs a decision", top, 10)
    room = int((WORDS[1] - TOP) // LINE) - 2
    told, left = fitting(words.decisions, room, lambda finding: len(_lines(finding)))
    lines = [line for finding in told for line in _lines(finding)] or ["Nothing."]
    if left:
        lines.append(f"... and {left} more: see the report or the plan file")
    elif words.notes:
        lines.append(f"Besides {counted(words.notes, 'note')}: see the report or the plan file")
    _column(plotter, lines, GAP, top - 1.6 * LINE)


def _lines(finding: FindingRecord) -> list[str]:
    text = f"{finding.verdict.upper()}  {finding.subject}: {finding.why}"
    return textwrap.wrap(text, DECISION_WIDE, subsequent_indent="    ")
