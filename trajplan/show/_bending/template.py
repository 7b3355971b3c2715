"""A page at 1 : 1 that a plate is held against while it is bent."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import OutputError
from trajplan.files import write_bytes_atomic
from trajplan.show._items.palette import COLOURS
from trajplan.show._items.plate_flat import outline, unrolled
from trajplan.show._items.plate_solid import plate_of
from trajplan.show._sections.paper import FONT, wrap

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from trajplan.arrays import Floats
    from trajplan.files import PlanFile, PlateRecord
    from trajplan.show._bending.sheet import BendingSheet, PlateBends
    from trajplan.show._items.plate_solid import BentPlate

__all__ = ["paper_of", "template_bytes", "template_figure", "write_templates"]

#: mm, papers in landscape that a page may have (ISO 216).
PAPERS = {"A4": (297.0, 210.0), "A3": (420.0, 297.0), "A2": (594.0, 420.0)}
#: mm of paper round everything, which printers leave white.
MARGIN = 12.0
#: mm, the bar by which a print is checked.
BAR = 50.0
#: mm, room for the heads of the rows below the plate.
ROW_HEAD = 20.0
#: Points: sizes of text.
TITLE, WORDS, SMALL, CAUTION = 13.0, 9.0, 7.5, 6.5
#: mm: from one line of words to the next.
LEADING = 4.6
INK, RED = "#111111", COLOURS["fracture"]
CLOCKWISE, ANTICLOCKWISE = (
    "\N{CLOCKWISE OPEN CIRCLE ARROW}",
    "\N{ANTICLOCKWISE OPEN CIRCLE ARROW}",
)
RC = {"svg.hashsalt": "trajplan", "svg.fonttype": "path", "pdf.fonttype": 42, "font.family": FONT}


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """What one page is drawn from."""

    axes: Axes
    width: float  # mm of paper
    height: float
    left: float  # mm from the paper's left to the plate's first end
    record: PlateRecord
    bent: BentPlate
    bends: PlateBends


def write_templates(plan: PlanFile, sheet: BendingSheet, path: Path) -> None:
    """Write the page of every plate that may be bent as planned.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    sheet : BendingSheet
        Its bends.
    path : Path
        The file: ``.pdf``, one page a plate; or ``.svg``, for one plate.

    Raises
    ------
    OutputError
        If there is no such plate, an SVG is to hold several, or the file cannot be written.
    """
    plates = [
        (record, bends)
        for record, bends in zip(plan.plates, sheet.plates, strict=True)
        if bends.steps
    ]
    if not plates:
        raise OutputError(
            "the plan has no plate that may be bent as planned",
            remedy="see the plan's findings, or plan a [[plate]]",
            file=path,
        )
    form = path.suffix.lower()[1:]
    if form == "svg" and len(plates) > 1:
        raise OutputError(
            f"an SVG holds one page, and the plan has {len(plates)} plates",
            remedy="let the name end in .pdf",
            file=path,
        )
    write_bytes_atomic(path, template_bytes(plates, f"{sheet.title}. {sheet.side}.", form))


def template_bytes(
    plates: Sequence[tuple[PlateRecord, PlateBends]], title: str, form: str
) -> bytes:
    """Draw the page of every plate, as the content of a file.

    Parameters
    ----------
    plates : sequence of (PlateRecord, PlateBends)
        One or more.
    title : str
        Of the plan.
    form : {"pdf", "svg", "png"}
        A PDF has a page for each; the others hold the first.

    Returns
    -------
    bytes
        The same for the same plates. Lengths on paper are true where it is printed unscaled.
    """
    import matplotlib.style
    from matplotlib.backends.backend_pdf import PdfPages

    stream = io.BytesIO()
    with matplotlib.style.context(["default", RC]):
        if form == "pdf":
            with PdfPages(stream, metadata={"CreationDate": None}) as pages:
                for record, bends in plates:
                    pages.savefig(template_figure(record, bends, title))
        else:
            empty = {"Date": None} if form == "svg" else {"Software": None}
            figure = template_figure(*plates[0], title)
            figure.savefig(stream, format=form, metadata=empty)
    return stream.getvalue()


def template_figure(record: PlateRecord, bends: PlateBends, title: str) -> Figure:
    """Draw the page of one plate on a figure of the paper's size.

    Parameters
    ----------
    record : PlateRecord
        The plate.
    bends : PlateBends
        Its bends.
    title : str
        Of the plan.

    Returns
    -------
    matplotlib.figure.Figure
        Axes in mm of paper, from its lower left corner.
    """
    from matplotlib.figure import Figure

    width, height = PAPERS[paper_of(record)]
    figure = Figure(figsize=(width / 25.4, height / 25.4), dpi=150, facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0.0, width), ylim=(0.0, height))
    axes.axis("off")
    left = (width - record.size.length) / 2.0
    sheet = _Sheet(axes, width, height, left, record, plate_of(record), bends)
    top = _head(sheet, title)
    rise = float(np.ptp(unrolled(sheet.bent)[:, 1])) + record.size.thickness
    top = _side(sheet, top - 15.0 - rise)
    top = _above(sheet, top - 14.0)
    _turns(sheet, top - 13.0)
    _foot(sheet)
    return figure


def paper_of(record: PlateRecord) -> str:
    """Smallest paper, in landscape, that holds a plate at 1 : 1.

    Parameters
    ----------
    record : PlateRecord
        The plate.

    Returns
    -------
    str
        Such as "A4".
    """
    wide = record.size.length + 2.0 * MARGIN
    return next((name for name, size in PAPERS.items() if wide <= size[0]), [*PAPERS][-1])


def _head(sheet: _Sheet, title: str) -> float:
    """Title, what to do before use, and the bar that proves the print; answers its lower end."""
    y = sheet.height - MARGIN - 3.0
    _write(
        sheet, MARGIN, y, f"Bending template 1 : 1.  {sheet.bends.heading}", TITLE, weight="bold"
    )
    _write(sheet, MARGIN, y - 6.0, title, WORDS)
    said = (
        "Print without scaling (100 %). Measure the bar: where it is not 50 mm long, do not use "
        "this page."
    )
    _write(sheet, MARGIN, y - 13.0, said, WORDS, weight="bold")
    right = sheet.width - MARGIN
    x = np.array([right - BAR, right])
    for step in range(5):
        colour = INK if step % 2 == 0 else "white"
        part = x[0] + np.array([step, step + 1.0]) * BAR / 5.0
        _fill(sheet, np.array([[part[0], y - 14], [part[1], y - 14], [part[1], y - 11.5],
                               [part[0], y - 11.5]]), facecolor=colour)  # fmt: skip
    _write(sheet, right - BAR / 2.0, y - 10.0, "50 mm", WORDS, ha="center", weight="bold")
    return y - 16.0


def _side(sheet: _Sheet, low: float) -> float:
    """Profile of the bent plate; answers how far down it reaches."""
    line = unrolled(sheet.bent)
    thick = sheet.record.size.thickness
    start = np.array([sheet.left, low - line[:, 1].min()])
    under = start + line
    over = under + thick * _normals(line)
    _fill(sheet, np.vstack([under, over[::-1]]), facecolor="#e4e8eb", linewidth=0.6)
    sheet.axes.plot(*under.T, color=INK, linewidth=2.2, solid_capstyle="butt")
    top = float(over[:, 1].max())
    words = "From the side, before any twist: the thick line is the side of the bone."
    _write(sheet, MARGIN, top + 9.0, words, WORDS, weight="bold")
    normal = _normals(line)
    for number, at in enumerate(sheet.bent.hole, start=1):
        ends = np.stack([under[at] - 2.0 * normal[at], over[at] + 2.0 * normal[at]])
        sheet.axes.plot(*ends.T, color=INK, linewidth=0.5)
        x, y = over[at] + 3.2 * normal[at]
        _write(sheet, x, y, f"{number}", SMALL, ha="center")
    nodes = sheet.bent.nodes
    for bridge in sheet.bends.bridges:
        place = np.array([np.interp(bridge.at, nodes, under[:, i]) for i in range(2)])
        if round(bridge.flatwise):
            _write(sheet, place[0], place[1] - 4.5, f"{bridge.bend_words}\N{DEGREE SIGN}", SMALL,
                   ha="center")  # fmt: skip
    return _overbent(sheet, under, low)


def _overbent(sheet: _Sheet, under: Floats, low: float) -> float:
    """Line of the underside with the overbend on top, resting on its ends too."""
    bends = sheet.bends
    at = next((b.at for b in bends.bridges if b.over), sheet.record.size.length / 2.0)
    if bends.overbend is None or bends.stand_off is None:
        return low - 8.0
    lean = np.radians(bends.overbend)
    nodes = sheet.bent.nodes
    bend = np.interp(at, nodes, under[:, 0])
    raised = np.minimum(
        (under[:, 0] - under[0, 0]) * (under[-1, 0] - bend),
        (under[-1, 0] - under[:, 0]) * (bend - under[0, 0]),
    ) * lean / (under[-1, 0] - under[0, 0])  # fmt: skip
    sheet.axes.plot(under[:, 0], under[:, 1] + raised, color=RED, linewidth=1.1, linestyle="--")
    words = (
        f"Broken line: underside after the overbend, its middle {bends.stand_off[1]:.1f} mm higher "
        f"({bends.stand_off[0]:.1f} to {bends.stand_off[2]:.1f}). Make it last."
    )
    _write(sheet, MARGIN, low - 11.0, words, WORDS, color=RED)
    return low - 13.0


def _above(sheet: _Sheet, top: float) -> float:
    """The plate from above, straight, with the places of the bends and their table."""
    width = sheet.record.size.width
    words = "From above, before any bend: where each bend is made, and what each hole takes."
    _write(sheet, MARGIN, top, words, WORDS, weight="bold")
    middle = top - 5.0 - width / 2.0
    edge, holes = outline(sheet.bent)
    shift = np.array([sheet.left, middle])
    _fill(sheet, shift + edge, facecolor=COLOURS["plate"], linewidth=0.8)
    for rim in holes:
        _fill(sheet, shift + rim, facecolor="white", linewidth=0.6)
    places = sheet.bent.nodes[sheet.bent.hole]
    for number, (at, hole) in enumerate(zip(places, sheet.record.hole, strict=True), start=1):
        _write(sheet, sheet.left + at, middle - 1.0, f"{number}", SMALL, ha="center")
        if hole.use != "neutral":
            y = middle - width / 2.0 - 3.6
            _write(sheet, sheet.left + at, y, hole.use, SMALL, ha="center")
    y = middle - width / 2.0 - 9.0
    for bridge in sheet.bends.bridges:
        x = sheet.left + bridge.at
        ink = RED if bridge.over else INK
        ends = np.array([[x, x], [middle + width / 2.0 + 1.5, middle - width / 2.0 - 5.0]])
        sheet.axes.plot(*ends, color=ink, linewidth=0.7, linestyle=(0, (3, 2)))
        for step, text in enumerate(_cells(sheet, bridge.at)):
            _write(sheet, x, y - 3.6 * step, text, SMALL, ha="center", color=ink)
    for step, text in enumerate(("mm from end", "bend\N{DEGREE SIGN}", "twist\N{DEGREE SIGN}")):
        if sheet.left > MARGIN + ROW_HEAD:
            _write(sheet, sheet.left - ROW_HEAD, y - 3.6 * step, text, SMALL)
    return y - 3.6 * 3 - 1.0


def _cells(sheet: _Sheet, at: float) -> Iterator[str]:
    """What is written below the place of a bend."""
    bridge = next(b for b in sheet.bends.bridges if b.at == at)
    yield f"{bridge.at:.0f}"
    yield bridge.bend_words if round(bridge.flatwise) else "\N{EN DASH}"
    arrow = CLOCKWISE if bridge.twist > 0.0 else ANTICLOCKWISE
    yield f"{arrow} {abs(bridge.twist):.0f}" if round(bridge.twist) else "\N{EN DASH}"


def _turns(sheet: _Sheet, top: float) -> None:
    """How the plate is turned at each hole, seen from the first end."""
    size = sheet.record.size
    words = (
        "Twist, seen from hole 1 along the plate, top side up, hole 1 level: the plate's end-on "
        "outline at each hole, in degrees (+ clockwise)."
    )
    _write(sheet, MARGIN, top, words, WORDS, weight="bold")
    middle = top - 6.0 - size.width / 2.0
    turn = np.concatenate([[0.0], np.cumsum([b.twist for b in sheet.bends.bridges])])
    box = np.array([[-1, 0], [1, 0], [1, 2], [-1, 2]]) * [size.width / 2.0, size.thickness / 2.0]
    for at, angle in zip(sheet.bent.nodes[sheet.bent.hole], turn, strict=True):
        lean = np.radians(-angle)  # on paper, plus is anticlockwise
        rotation = np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
        place = np.array([sheet.left + at, middle])
        _fill(sheet, place + box @ rotation, facecolor=COLOURS["plate"], linewidth=0.6)
        under = place + box[:2] @ rotation
        sheet.axes.plot(*under.T, color=INK, linewidth=2.0, solid_capstyle="butt")
        y = middle - size.width / 2.0 - 3.5
        _write(sheet, place[0], y, f"{angle:+.0f}" if round(angle) else "0", SMALL, ha="center")


def _foot(sheet: _Sheet) -> None:
    said = (
        "Corners, holes and undersides are drawn plain; compare the plate with the one on the "
        f"tray before the first bend. {CAUTION_TEXT}"
    )
    lines = wrap(said, CAUTION, sheet.width - 2.0 * MARGIN)
    for step, text in enumerate(reversed(lines)):
        _write(sheet, MARGIN, MARGIN - 4.0 + 3.2 * step, text, CAUTION)


def _normals(line: Floats) -> Floats:
    """Unit normals of a line in the plane, upwards, (k, 2)."""
    along = np.gradient(line, axis=0)
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    return np.stack([-along[:, 1], along[:, 0]], axis=1)


def _fill(sheet: _Sheet, corners: Floats, **style: Any) -> None:  # noqa: ANN401 - properties of matplotlib
    from matplotlib.patches import Polygon

    sheet.axes.add_patch(Polygon(corners, closed=True, **{"edgecolor": INK, **style}))


def _write(sheet: _Sheet, x: float, y: float, text: str, size: float, **style: Any) -> None:  # noqa: ANN401 - text properties of matplotlib
    """Write text as it is: a dollar sign starts no formula."""
    style = {"color": INK, "zorder": 9, "parse_math": False, **style}
    sheet.axes.text(x, y, text, fontsize=size, **style)
