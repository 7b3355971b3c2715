"""Bending sheet and its page at 1 : 1: order, angles by closed forms, true lengths on paper.

Sources: chord and sagitta of an arc (any handbook of geometry); ISO 216 for the paper; the
formula of the overbend as `trajplan.mechanics` states it; pypdf reads the page's size.
"""

import io
import re

import numpy as np
import pypdf
import pytest
from matplotlib.patches import Polygon

from trajplan.errors import OutputError
from trajplan.implants import Plate
from trajplan.mechanics import Range, overbend, plate_section, shaft_section
from trajplan.show import bending_sheet, bending_sheet_text, plain, template_bytes, write_templates
from trajplan.show._bending.sheet import overbend_angle
from trajplan.show._bending.template import MARGIN, paper_of, template_figure
from trajplan.show._items.plate_flat import outline, unrolled
from trajplan.show._items.plate_solid import plate_of

BENDS, TWISTS = [0.0, 4.0, -2.0, 0.0, 3.0], [0.0, 0.0, 5.0, -3.0, 0.0]


@pytest.fixture
def bends(plate_record, plan):
    def build(*args, **changes):
        record = plate_record(*args, **changes)
        made = plan(plates=(record,))
        return record, bending_sheet(made).plates[0]

    return build


def test_flatwise_then_twist_then_overbend(bends):
    _, made = bends(BENDS, TWISTS)
    actions = [step.action for step in made.steps]
    assert actions == [
        "Find the ends", "Bend", "Bend", "Bend", "Check", "Twist", "Twist", "Check", "Overbend",
    ]  # fmt: skip
    assert [step.number for step in made.steps] == list(range(1, 10))
    texts = [step.text for step in made.steps]
    assert "Holes 2 to 3" in texts[1]
    assert "down 4" in texts[1]
    assert "up 2" in texts[2]
    assert "clockwise 5" in texts[5]
    assert "anticlockwise 3" in texts[6]
    assert "1.3 mm off the bone (0.9 to 1.7 mm)" in texts[-1]
    assert "holes 3 to 4, over the fracture" in texts[-1]


def test_hole_1_is_told_by_the_side_of_the_body(bends, plate_record, plan):
    record = plate_record()
    for frame, words in (
        ("LPS", "points I."),
        ("RAS", "points I."),
        ("", "points \N{MINUS SIGN}z."),
    ):
        made = bending_sheet(plan(plates=(record,)).model_copy(update={"frame": frame}))
        assert words in made.plates[0].steps[0].text


def test_a_straight_plate_needs_no_bend(bends):
    _, made = bends(work="protect", overbend=None)
    assert [step.action for step in made.steps] == ["Find the ends", "No contour"]


def test_an_overbend_that_cannot_be_told_is_said_so(bends):
    _, made = bends(overbend=None, overbend_why="The force is not known.")
    assert made.steps[-1].text.startswith("UNKNOWN")
    assert made.steps[-1].text.endswith("The force is not known.")


def test_no_steps_for_a_plate_that_fails(bends, plan):
    failing = {
        "rule": "plate_bend", "subject": "plate 1", "verdict": "fail",
        "measured": 20.0, "limit": 15.0, "unit": "degrees", "why": "Too much.", "source": "x",
    }  # fmt: skip
    record, made = bends(BENDS, findings=(failing,))
    assert made.steps == ()
    assert "NOT TO BE BENT" in made.heading
    broken = plan(plates=(record,))
    with pytest.raises(OutputError, match="no plate that may be bent"):
        write_templates(broken, bending_sheet(broken), "none.pdf")


def test_the_angle_is_that_of_the_overbend_that_was_worked_out(catalogue):
    plate = catalogue.plates["Narrow4.5"]
    assert isinstance(plate, Plate)
    length, force = plate.length(8), np.array([1000.0])
    found = overbend(
        plate_section(plate), shaft_section(25.0, 15.0, 17000.0), Range(force, force, force),
        between=25.0, length=length,
    )  # fmt: skip
    angle = overbend_angle(float(found.stand_off.estimate[0]), length)
    assert angle == pytest.approx(float(found.angle.estimate[0]))


def test_profile_of_an_even_bend_is_an_arc(plate_record):
    bent = plate_of(plate_record([6.0] * 5, [7.0] * 5))  # twisted: the profile has none of it
    line = unrolled(bent)
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    assert steps.sum() == pytest.approx(bent.nodes[-1])
    assert line[0] == pytest.approx([0.0, 0.0])
    assert line[-1, 1] == pytest.approx(0.0, abs=1e-9)
    # Its two ends lean by half of the whole bend each, 15 degrees, towards the bone.
    lean = [np.degrees(np.arctan2(*(line[i + 1] - line[i])[::-1])) for i in (0, len(line) - 2)]
    assert lean == pytest.approx([15.0, -15.0], abs=0.3)
    assert line[:, 1].max() > 2.0  # the middle stands off the line of its ends


def test_outline_has_the_plates_length_and_a_hole_for_each_screw(plate_record, catalogue):
    record = plate_record(BENDS, TWISTS)
    edge, holes = outline(plate_of(record))
    assert np.ptp(edge, axis=0) == pytest.approx([record.size.length, record.size.width])
    places = catalogue.plates["Straight3.5"].places(6)
    assert [hole[:, 0].mean() for hole in holes] == pytest.approx(places, abs=0.2)


def test_lengths_on_the_page_are_true(bends):
    record, made = bends(BENDS, TWISTS)
    figure = template_figure(record, made, "Trial")
    width, height = np.asarray(figure.get_size_inches()) * 25.4
    axes = figure.axes[0]
    assert axes.get_position().bounds == (0.0, 0.0, 1.0, 1.0)
    assert (width, height) == pytest.approx((297.0, 210.0))  # ISO 216, A4
    assert [*axes.get_xlim(), *axes.get_ylim()] == pytest.approx([0, width, 0, height])
    spans = [np.ptp(p.get_xy(), axis=0) for p in axes.patches if isinstance(p, Polygon)]
    bar = [span for span in spans if span[1] == pytest.approx(2.5)]
    assert sum(span[0] for span in bar) == pytest.approx(50.0)
    size = pytest.approx([record.size.length, record.size.width])
    assert any(span == size for span in spans)  # the plate from above


def test_everything_stands_on_the_page_and_no_word_on_another(bends):
    record, made = bends(BENDS, TWISTS)
    figure = template_figure(record, made, "Trial")
    figure.canvas.draw()
    page = figure.bbox
    boxes = [text.get_window_extent() for text in figure.axes[0].texts if text.get_text()]
    for i, box in enumerate(boxes):
        assert page.x0 <= box.x0
        assert box.x1 <= page.x1
        assert box.y0 >= page.y0
        for other in boxes[:i]:
            x = min(box.x1, other.x1) - max(box.x0, other.x0)
            y = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert min(x, y) <= 1.0


def test_paper_is_the_smallest_that_holds_the_plate(plate_record):
    for length, paper in ((297 - 2 * MARGIN, "A4"), (297 - 2 * MARGIN + 1, "A3")):
        size = plate_record().size.model_copy(update={"length": length})
        assert paper_of(plate_record().model_copy(update={"size": size})) == paper


def test_a_pdf_has_a_true_page_for_each_plate(bends, tmp_path, plan, plate_record):
    record, made = bends(BENDS, TWISTS)
    content = template_bytes([(record, made), (record, made)], "Trial", "pdf")
    assert content == template_bytes([(record, made), (record, made)], "Trial", "pdf")
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    assert len(pages) == 2
    size = [float(v) * 25.4 / 72.0 for v in pages[0].mediabox[2:]]
    assert size == pytest.approx([297.0, 210.0], abs=0.01)
    svg = template_bytes([(record, made)], "Trial", "svg").decode()
    wide = float(re.search(r'<svg[^>]*width="([0-9.]+)pt"', svg).group(1))
    assert wide * 25.4 / 72.0 == pytest.approx(297.0, abs=0.01)
    two = plan(plates=(record, plate_record(id="plate 2")))
    with pytest.raises(OutputError, match="one page"):
        write_templates(two, bending_sheet(two), tmp_path / "two.svg")


def test_text_names_every_bridge(plate_record, plan):
    sheet = bending_sheet(plan(plates=(plate_record(BENDS, TWISTS),)))
    text = bending_sheet_text(sheet)
    assert text.index("Not a medical device") < text.index("plate 1: Straight3.5")
    for bridge in ("1 to 2", "2 to 3", "3 to 4", "4 to 5", "5 to 6"):
        assert bridge in text
    assert "overbend" in text
    assert max(map(len, text.splitlines())) <= 100
    assert plain(sheet)["plates"][0]["bridges"][1]["flatwise"] == 4.0
