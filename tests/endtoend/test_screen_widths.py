"""The report and the page of a batch on a telephone, a tablet and a desk, in a real browser."""

import pytest
from shaft_case import MESHES

from trajplan.cli import main

WIDTHS = (320, 360, 701, 768, 1280)
LONG = "a_rather_long_name_of_a_case_in_a_study_of_many_bones"

#: Text that ends outside the screen and not in a box of its own that scrolls.
CUT_OFF = """() => {
    const wide = document.scrollingElement.clientWidth, cut = [];
    const scrolls = (e) =>
        e && (getComputedStyle(e).overflowX === "auto" || scrolls(e.parentElement));
    for (const e of document.querySelectorAll("body *")) {
        const box = e.getBoundingClientRect();
        const out = box.right > wide + 0.5 || box.left < -0.5;
        if (box.width && out && !scrolls(e)) cut.push(e.outerHTML);
    }
    return cut.map((html) => html.slice(0, 80));
}"""
#: Sizes of all letters that are seen, as they are drawn; words of drawings are outlines.
LETTERS = """() => {
    const sizes = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const e = walk.currentNode.parentElement, box = e.getBoundingClientRect();
        if (!walk.currentNode.data.trim() || !box.width) continue;
        const svg = e.closest("svg"), size = parseFloat(getComputedStyle(e).fontSize);
        sizes.push(svg ? size * svg.clientWidth / svg.viewBox.baseVal.width : size);
    }
    return sizes;
}"""
#: Keeps where words are written on a canvas, from edge to edge.
LISTEN = """() => {
    window.written = [];
    const write = CanvasRenderingContext2D.prototype.fillText;
    CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
        const box = this.measureText(text);
        written.push([text, x - box.actualBoundingBoxLeft, x + box.actualBoundingBoxRight,
            this.canvas.width]);
        return write.call(this, text, x, y);
    };
}"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """A report with wires, and the page of a batch with long names and a case that fails."""
    folder = tmp_path_factory.mktemp("widths")
    assert main(["plan", str(MESHES / "end_wires.toml"), "--no-picture", "--out", str(folder)]) < 2
    report = folder / "report.html"
    assert main(["report", str(folder / "plan.json"), "-o", str(report)]) < 2
    rows = f"{LONG},{MESHES}/shaft.toml,\nbroken_{LONG},{MESHES}/shaft.toml,-1\n"
    (folder / "cases.csv").write_text("id,case,limits.holding\n" + rows)
    many = folder / "many"
    main(["batch", str(folder / "cases.csv"), "--workers", "1", "--out", str(many)])
    return {"report": report, "batch": many / "summary.html"}


@pytest.fixture
def opened(chromium, pages):
    """Opens a page on a screen of a width; a narrow one is a telephone's."""
    contexts = []

    def open_(name, width, scheme="light"):
        context = chromium.new_context(
            viewport={"width": width, "height": 740}, is_mobile=width < 700, color_scheme=scheme
        )
        contexts.append(context)
        tab = context.new_page()
        tab.add_init_script(f"({LISTEN})()")
        tab.goto(pages[name].as_uri())
        return tab

    yield open_
    for context in contexts:
        context.close()


def sideways(tab):
    """How much wider than the screen the page is, px."""
    return tab.evaluate(
        "() => { const e = document.scrollingElement; return e.scrollWidth - e.clientWidth; }"
    )


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["report", "batch"])
def test_no_page_is_wider_than_the_screen(opened, name, width):
    tab = opened(name, width)
    assert tab.evaluate("innerWidth") == width
    assert sideways(tab) == 0
    assert tab.evaluate(CUT_OFF) == []


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("name", ["report", "batch"])
def test_letters_can_be_read(opened, name, width):
    tab = opened(name, width)
    assert min(tab.evaluate(LETTERS)) >= 10.0


@pytest.mark.parametrize("width", [360, 1280])
def test_long_names_of_a_case_widen_nothing(opened, width):
    tab = opened("report", width)
    tab.evaluate(
        """() => document.querySelectorAll(
            "h1, h2, h3, li, a, .facts td, .findings td:nth-child(2), .files td:nth-child(2), " +
            ".steps td:last-child, .wide td"
        ).forEach((e) => { e.textContent = "x".repeat(120); })"""
    )
    assert sideways(tab) == 0


def test_a_narrow_table_says_what_each_number_is(opened):
    tab = opened("report", 360)
    row = tab.locator("#screws tbody tr").first
    assert not tab.locator("#screws thead").is_visible()
    said = row.locator("td").evaluate_all(
        "all => all.map((e) => getComputedStyle(e, '::before').content)"
    )
    names = tab.locator("#screws thead th").evaluate_all("all => all.map((e) => e.textContent)")
    assert said == [f'"{name}"' for name in names[1:]]
    below = [cell.bounding_box()["y"] for cell in row.locator("td").all()]
    assert below == sorted(set(below))


def test_a_wide_screen_shows_tables_as_tables(opened):
    tab = opened("report", 1280)
    assert tab.locator("#screws thead").is_visible()
    tops = [
        cell.bounding_box()["y"]
        for cell in tab.locator("#screws tbody tr").first.locator("td").all()
    ]
    assert len(set(tops)) == 1


@pytest.mark.parametrize("width", [360, 1280])
def test_names_over_the_model_are_whole(opened, width):
    tab = opened("report", width)
    tab.locator("canvas").scroll_into_view_if_needed()
    tab.wait_for_selector('canvas[data-state="still"]')
    written = tab.evaluate("written")
    assert {text.split("  ")[0] for text, *_ in written} >= {"screw 1", "screw 2"}
    # A wire's head may lie beside the picture, and its name with it.
    assert [w for w in written if not (w[1] >= w[3] or 0 <= w[1] < w[2] <= w[3])] == []


def test_the_page_of_a_batch_follows_a_dark_screen(opened):
    paper = "() => getComputedStyle(document.body).backgroundColor"
    light, dark = (opened("batch", 360, scheme).evaluate(paper) for scheme in ("light", "dark"))
    assert light != dark
