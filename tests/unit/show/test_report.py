"""The report: numbers of the plan and no others, outside text as text, pictures in place."""

import base64
import hashlib
import io
import json
import re
from itertools import combinations

import numpy as np
import pypdf
import pytest
from page import read_page
from PIL import Image
from shaft_case import MESHES

from trajplan.cautions import CAUTIONS
from trajplan.errors import OutputError
from trajplan.files import read_case
from trajplan.planner import plan_case, plan_record
from trajplan.show import need_place, plan_scene, report_html, write_report, write_report_pdf
from trajplan.show._items.palette import COLOURS, NO_CONTACT
from trajplan.show._items.pressure import pressure_scale
from trajplan.show._picture.draw import pressure_table
from trajplan.show._picture.first import one_sentence
from trajplan.show._report.card import amount
from trajplan.show._report.overlay import bar_box
from trajplan.show._report.pictures import SIZE, report_pictures
from trajplan.show._report.pressure import judged_lags, pressing_of, pressure_key, pressure_tints
from trajplan.show._report.tables import implants, instruments
from trajplan.show._report.turntable import FACES, turntable_model
from trajplan.show._report.views import down_the_axis, standard_directions, stretch

EVIL = '<script>alert("1")</script>&amp;'


@pytest.fixture(scope="module")
def planned():
    """The demonstration bone, planned with few candidates."""
    case = read_case(MESHES / "shaft.toml", {"screws": {"candidates": 300}})
    plan = plan_case(case)
    assert len(plan_record(plan).screws) == 2
    return plan.setup, plan_record(plan)


@pytest.fixture(scope="module")
def pictures(planned):
    setup, record = planned
    return report_pictures(setup, plan_scene(setup, record), record)


@pytest.fixture(scope="module")
def html(planned):
    return report_html(*planned)


@pytest.fixture
def drawn(monkeypatch, pictures):
    """Spare what takes long and what a test does not look at: pictures and drawings."""
    monkeypatch.setattr("trajplan.show._report.report.report_pictures", lambda *_: pictures)
    monkeypatch.setattr("trajplan.show._report.report.section_drawings", lambda *_: ())


@pytest.fixture(scope="module")
def tree(html):
    return read_page(html)


@pytest.fixture
def evil(planned, drawn):
    """The same plan with every name that a user gives turned into markup."""
    setup, record = planned
    screws = tuple(s.model_copy(update={"id": f"{s.id}{EVIL}"}) for s in record.screws)
    meshes = tuple(m.model_copy(update={"name": EVIL, "cautions": (EVIL,)}) for m in record.meshes)
    case = record.case.model_copy(update={"name": EVIL})
    findings = tuple(f.model_copy(update={"why": EVIL}) for f in record.findings)
    changes = {
        "title": EVIL, "frame": EVIL, "screws": screws, "meshes": meshes, "case": case,
        "assumptions": (EVIL,), "cautions": (EVIL,), "findings": findings,
    }  # fmt: skip
    return report_html(setup, record.model_copy(update=changes))


def test_cards_hold_the_numbers_of_the_plan(planned, tree):
    for screw in planned[1].screws:
        card = tree.one("section", data_screw=screw.id)
        gliding, thread = screw.gliding_hole, screw.thread_hole
        expected = {
            "kind": f"{screw.kind} \N{MULTIPLICATION SIGN} {screw.length:.0f} mm",
            "technique": f"{screw.technique} screw",
            "tilt": f"{screw.tilt:.1f}°",
            "gauge": f"{screw.gauge:.1f} mm",
            "length": f"{screw.length:.0f} mm",
            "proud_tip": f"{screw.proud_tip:.1f} mm",
            "gliding_hole": f"Ø 4.5 mm, 0.0 to {gliding.end:.1f} mm",
            "thread_hole": f"Ø 3.2 mm, {thread.start:.1f} to {thread.end:.1f} mm",
            "purchase": f"{screw.purchase:.1f} mm",
            "thread_turns": f"{screw.thread_turns:.1f}",
            "holding": f"{screw.holding.low:.0f} to {screw.holding.high:.0f} N",
            "near_cortex": f"{screw.near_cortex.thickness:.1f} mm (modelled)",
            "entry": ", ".join(f"{v:.1f}" for v in screw.entry),
            "direction": ", ".join(f"{v:.4f}" for v in screw.direction),
        }
        told = {name: card.all("td", data_field=name)[0].text for name in expected}
        assert told == expected


@pytest.mark.usefixtures("drawn")
def test_a_kind_that_is_not_offered_stands_below_the_options(planned):
    setup, record = planned
    left = record.findings[0].model_copy(update={"rule": "kind_left_out", "why": "Of HB6.5 none."})
    told = report_html(setup, record.model_copy(update={"findings": (*record.findings, left)}))
    assert "Of HB6.5 none." in told.split("Other numbers and kinds")[1].split("Next best")[0]


def test_every_finding_stands_with_its_limit_and_source(planned, tree):
    record = planned[1]
    groups = [(tree.one("section", data_screw=s.id), s.findings) for s in record.screws]
    groups.append((tree.one("section", id="together"), record.findings))
    for section, findings in groups:
        rows = section.one("table", class_="stack findings").one("tbody").all("tr")
        told = {
            (r.all("td")[2].text, r.all("td")[5].text): r.all("td")[0].text.split()[-1]
            for r in rows
        }
        assert told == {
            (f.rule.replace("_", " "), f"{f.why} {f.source}"): f.verdict.upper() for f in findings
        }


def test_verdict_cautions_and_assumptions_stand_at_the_head(planned, html, tree):
    record = planned[1]
    assert tree.one("h1").text == record.title
    assert record.verdict.upper() in tree.one("header").text
    cautions = tree.one("aside").text
    assert all(caution in cautions for caution in (*CAUTIONS, *record.cautions))
    assert html.index("<span>" + CAUTIONS[0]) < html.index("Drill table")
    assert html.index(" ".join(CAUTIONS)) < html.index("@bottom-right")  # on each page of paper
    case = tree.one("section", id="case").text
    assert all(" ".join(line.split()) in case for line in record.assumptions)


def test_origin_names_hashes_seed_and_changed_limits(planned, tree):
    record = planned[1]
    origin = tree.one("section", id="origin").text
    for digest in (record.case.sha256, *(mesh.sha256 for mesh in record.meshes)):
        assert re.fullmatch("[0-9a-f]{64}", digest)
        assert digest in origin
    rows = tree.one("section", id="origin").all("tbody")[-1].all("tr")
    assert len(rows) == len(record.limits)


def test_a_changed_limit_is_marked(planned, drawn):
    setup, record = planned
    first = record.limits[0].model_copy(update={"changed": True, "value": 0.123})
    page = read_page(
        report_html(setup, record.model_copy(update={"limits": (first, *record.limits[1:])}))
    )
    row = page.one("tr", class_="changed")
    assert "(changed)" in row.text
    assert "0.123" in row.text


def test_drill_steps_stand_on_the_page(planned, tree):
    from trajplan.show import drill_sheet

    sheet = drill_sheet(planned[1], planned[0].catalogue)
    told = tree.one("section", id="drilling").text
    for part in sheet.screws:
        assert part.heading in told
        assert all(" ".join(step.text.split()) in told for step in part.steps)


def test_outside_text_stays_text(evil):
    page = read_page(evil)
    assert page.one("h1").text == EVIL
    assert page.one("title").text.startswith(EVIL)
    scripts = page.all("script")
    assert [s.attributes.get("type") for s in scripts] == ["application/json", None]
    assert "alert" not in scripts[1].text
    named = [name for e in page.all() for name in e.attributes]
    assert not [name for name in named if name.startswith("on")]
    assert EVIL in page.one("section", id="origin").text
    assert (
        page.one("section", data_screw=f"screw 1{EVIL}")
        .one("h2")
        .text.startswith(f"screw 1{EVIL}:")
    )


@pytest.mark.parametrize("name", ["html", "evil"])
def test_the_page_asks_for_nothing(request, name):
    page = read_page(request.getfixturevalue(name))
    addresses = [
        value
        for e in page.all()
        for key, value in e.attributes.items()
        if key in ("href", "src", "xlink:href", "action", "data", "poster", "srcset")
    ]
    assert len(addresses) > 15
    assert all(a.startswith(("#", "data:")) for a in addresses)
    styles = " ".join(e.text for e in page.all("style")) + " ".join(
        e.attributes.get("style", "") for e in page.all()
    )
    assert "@import" not in styles
    assert not re.findall(r"url\((?!#)", styles)


def test_the_policy_allows_the_one_script_and_no_request(tree):
    meta = next(m for m in tree.all("meta") if m.attributes.get("http-equiv"))
    rules = dict(rule.split(None, 1) for rule in meta.attributes["content"].split("; "))
    script = "".join(tree.all("script")[1].children)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data:"
    assert rules["script-src"] == f"'sha256-{digest}'"


def test_a_drawing_leaves_its_comments_and_rules_behind():
    from trajplan.show._report.sections import for_a_page

    text = (
        "<?xml version='1.0'?><!DOCTYPE svg><svg><metadata><x/></metadata><style>*{a:b}</style>"
        '<!-- <script>\n --><g id="a1" style="fill: url(#b)"/><use xlink:href="#a1"/>'
        '<path d="M 12.34567 1.23456" transform="scale(0.015625)"/></svg>'
    )
    assert for_a_page(text, "s-") == (
        '<svg><g id="s-a1" style="fill: url(#s-b)"/><use xlink:href="#s-a1"/>'
        '<path d="M 12.34 1.23456" transform="scale(0.015625)"/></svg>'
    )


def test_names_inside_drawings_are_each_used_once(tree):
    names = [e.attributes["id"] for e in tree.all() if "id" in e.attributes]
    assert len(names) == len(set(names))
    uses = {
        value[1:]
        for e in tree.all()
        for key, value in e.attributes.items()
        if key in ("href", "xlink:href") and value.startswith("#")
    }
    assert uses <= set(names)


def test_the_same_plan_gives_the_same_page(planned, html, pictures):
    setup, record = planned
    pressed = plan_scene(setup, record, pressing_of(judged_lags(setup, record)))
    again = [picture.data for picture in every(pictures)]
    assert all(data in html for data in again)
    model = json.loads("".join(read_page(html).one("script", id="turntable-model").children))
    assert json.loads(json.dumps(turntable_model(pressed, record))) == model


@pytest.mark.parametrize("screws", ["none", "one that misses the bone"])
def test_a_plan_without_a_placed_screw(planned, screws):
    setup, record = planned
    bare = {"exit", "entry", "length", "seat", "gauge", "gliding_hole", "thread_hole", "thread"}
    missing = record.screws[0].model_copy(update=dict.fromkeys(bare) | {"intervals": ()})
    kept = () if screws == "none" else (missing,)
    page = read_page(report_html(setup, record.model_copy(update={"screws": kept})))
    assert len(page.all("canvas")) == 1
    if kept:
        assert "misses the bone" in page.one("section", data_screw="screw 1").text
    else:
        assert "The plan holds no screw." in page.one("header").text


# ---- words ----


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (27.71, "mm", 1, "27.7 mm"),
        (6.64, "°", 1, "6.6°"),
        (-0.04, "mm", 1, "0.0 mm"),
        (-0.06, "mm", 1, "-0.1 mm"),
        (4.0, "", 0, "4"),
        (None, "mm", 1, "cannot be told"),
    ],
)
def test_amounts(value, unit, digits, text):
    assert amount(value, unit, digits) == text


def finding(verdict, rule="tilt"):
    from trajplan.files import FindingRecord

    return FindingRecord(
        rule=rule,
        subject="screw 1",
        verdict=verdict,
        unit="mm",
        why=f"{rule} {verdict}",
        source="x",
    )


def test_the_verdict_is_one_sentence(plan):
    told = [finding("fail"), finding("caution"), finding("caution", "tip"), finding("unknown")]
    assert one_sentence(plan(findings=told, verdict="fail")) == (
        "1 finding fails: settle this before the plan is used; 2 findings ask for a decision; "
        "1 question cannot be told from the input."
    )
    twice = [finding("fail"), finding("fail").model_copy(update={"subject": "screw 2"})]
    assert one_sentence(plan(findings=twice, verdict="fail")) == (
        "2 findings fail: settle them before the plan is used."
    )
    assert one_sentence(plan(findings=[finding("pass")])) == "No rule failed."
    assert "fails" in one_sentence(plan(verdict="fail"))


def test_screws_that_fail_are_marked_among_implants_and_drills(plan, record, catalogue):
    made = plan(record(), record("screw 2", z=16.0, findings=(finding("fail"),)), verdict="fail")
    for line in (*implants(made, catalogue), *instruments(made)):
        assert line.subjects == "screw 1, screw 2 (not to be drilled as planned)"


def test_implants_are_counted_by_kind_length_and_washer(plan, record, catalogue):
    kinds = plan(
        record("screw 1"), record("screw 2"), record("screw 3", length=30.0),
        record("screw 4", length=None),
        record("screw 5", kind="HB6.5", length=45.0, washer="13.0"),
    )  # fmt: skip
    told = [(line.count, line.name, line.subjects) for line in implants(kinds, catalogue)]
    assert told == [
        (2, "HA4.5 \N{MULTIPLICATION SIGN} 28 mm", "screw 1, screw 2"),
        (1, "HA4.5 \N{MULTIPLICATION SIGN} 30 mm", "screw 3"),
        (1, "HB6.5 \N{MULTIPLICATION SIGN} 45 mm", "screw 5"),
        (1, "washer 13.0", "screw 5"),
    ]


def test_instruments_come_once_a_size_and_use(plan, record):
    thread = {"diameter": 3.2, "from": 14.0, "to": 28.0}
    both = plan(
        record("screw 1", thread_hole=thread),
        record("screw 2", gliding_hole=None, thread_hole=thread, tap=thread | {"diameter": 4.5}),
    )
    told = [(line.name, line.facts, line.subjects) for line in instruments(both)]
    assert told == [
        ("drill 4.5 mm", "gliding hole", "screw 1"),
        ("drill 3.2 mm", "thread hole", "screw 1, screw 2"),
        ("tap 4.5 mm", "thread", "screw 2"),
    ]


# ---- views and pictures ----


@pytest.mark.parametrize("frame", ["LPS", "RAS", "", "scanner"])
def test_standard_directions_are_square_and_right_handed(frame, bone, record):
    sides = standard_directions(frame, bone.vertices, [record()])
    toward = np.array([side.toward for side in sides])
    assert toward @ toward.T == pytest.approx(np.eye(3), abs=1e-12)
    for side in sides:
        assert side.toward @ side.up == pytest.approx(0, abs=1e-12)
        assert np.linalg.norm(side.up) == pytest.approx(1)


def test_sides_of_the_body_follow_the_frame(bone, record):
    # LPS: x to the patient's left, y to the back (DICOM PS3.3 C.7.6.2.1.1); RAS: the opposite.
    up = record(direction=(0.0, 0.0, -1.0))  # its head is above
    for frame, sign in (("LPS", 1.0), ("RAS", -1.0), ("lph", 1.0)):
        sides = {s.name: s.toward for s in standard_directions(frame, bone.vertices, [up])}
        assert list(sides) == ["from the front", "from the left", "from above"]
        assert sides["from the front"] == pytest.approx([0.0, -sign, 0.0])
        assert sides["from the left"] == pytest.approx([sign, 0.0, 0.0])
        assert sides["from above"] == pytest.approx([0.0, 0.0, 1.0])
    turned = {s.name: s.toward for s in standard_directions("ASR", bone.vertices, [up])}
    assert turned["from the front"] == pytest.approx([1.0, 0.0, 0.0])
    assert turned["from above"] == pytest.approx([0.0, 1.0, 0.0])


def test_the_side_of_the_heads_is_shown(bone, record):
    from_right = record()  # runs along +x, so that its head is at -x: the patient's right
    names = [s.name for s in standard_directions("LPS", bone.vertices, [from_right])]
    assert names[1] == "from the right"


def test_without_a_frame_views_follow_the_bone(bone, record):
    sides = {s.name: s for s in standard_directions("", bone.vertices, [record()])}
    assert np.abs(sides["along the bone"].toward) == pytest.approx([0, 0, 1], abs=1e-6)
    assert np.abs(sides["across the bone"].up) == pytest.approx([0, 0, 1], abs=1e-6)


@pytest.mark.parametrize("direction", [(1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.6, 0.0, -0.8)])
def test_down_the_axis_looks_from_head_to_tip(bone, record, direction):
    view = down_the_axis(record(direction=direction), bone.vertices)
    assert view.toward == pytest.approx(-np.array(direction))
    assert view.up @ view.toward == pytest.approx(0, abs=1e-12)


def test_stretch_holds_each_screw_and_no_unplaced_one(plan, record):
    both = plan(record(), record("screw 2", z=16.0), record("screw 3", entry=None, exit=None))
    for name in ("screw 1", "screw 2", None):
        points = stretch(both, name)
        for screw in both.screws[:2]:
            inside = [(points.min(0) <= p).all() and (p <= points.max(0)).all()
                      for p in (screw.entry, screw.exit)]  # fmt: skip
            assert all(inside) or name not in (None, screw.id)
    assert len(stretch(both, "screw 3")) == 0


def test_pictures_show_the_screws_where_the_words_say(planned, pictures):
    assert list(pictures.own) == [screw.id for screw in planned[1].screws]
    side, down = pictures.own["screw 1"]
    pixels = np.asarray(Image.open(io.BytesIO(base64.b64decode(down.data.split(",")[1]))))
    assert pixels.shape == (SIZE[1], SIZE[0], 3)
    head = np.array([int(COLOURS["head"][i : i + 2], 16) for i in (1, 3, 5)])
    # A quarter of the head's radius beside the axis, clear of the axis' own line.
    spot = pixels[SIZE[1] // 2 + 12, SIZE[0] // 2 + 12].astype(float)
    assert spot @ head / np.linalg.norm(spot) / np.linalg.norm(head) > 0.97
    assert "screw 1" in [mark.text for mark in side.marks]
    assert (pixels.std(axis=(0, 1)) > 10).all()
    for picture in every(pictures):
        assert len(picture.cross.cross.arms) >= 2
        assert 0 < picture.bar <= 0.3 * SIZE[0]
        assert all(0 <= mark.x <= SIZE[0] and 0 <= mark.y <= SIZE[1] for mark in picture.marks)


def every(pictures):
    own = (picture for row in pictures.own.values() for picture in row)
    return [*pictures.first, *pictures.whole, *pictures.shadows, *own]


def test_pictures_are_not_all_the_same(pictures):
    assert len({p.data for p in every(pictures)}) == len(every(pictures)) == 2 + 3 + 2 + 2 * 2


def test_no_word_over_a_picture_lies_over_another(pictures):
    for picture in every(pictures):
        boxes = [mark.box for mark in picture.marks]
        boxes += [picture.cross.box, bar_box(picture.bar, picture.height, picture.letter)]
        assert not [pair for pair in combinations(boxes, 2) if pair[0].meets(pair[1])]


def test_an_image_intensifier_shows_edge_and_metal_alone(pictures):
    """Grey: the metal dark, the rest of the picture white but for the edge of the bone."""
    for picture in pictures.shadows:
        pixels = np.asarray(Image.open(io.BytesIO(base64.b64decode(picture.data.split(",")[1]))))
        bright = pixels.astype(float).mean(axis=2)
        assert 0.002 < (bright < 90).mean() < 0.2  # the screws
        assert (bright > 245).mean() > 0.8


# ---- the model that turns ----


def numbers(text, kind):
    return np.frombuffer(base64.b64decode(text), dtype=kind)


def test_the_model_is_the_scene(planned):
    setup, record = planned
    items = plan_scene(setup, record)
    model = turntable_model(items, record)
    json.dumps(model, allow_nan=False)
    solids = [item for item in items if item.faces is not None]
    assert len(model["meshes"]) == len(solids)
    for mesh, item in zip(model["meshes"], solids, strict=True):
        points = numbers(mesh["points"], "<u2").reshape(-1, 3) * mesh["step"] + mesh["low"]
        faces = numbers(mesh["faces"], "<u4" if mesh["wide"] else "<u2").reshape(-1, 3)
        normals = numbers(mesh["normals"], "<i1").reshape(-1, 3)
        assert len(normals) == len(points) > faces.max()
        assert len(faces) == len(item.faces)
        near = points[faces].min(axis=(0, 1)), points[faces].max(axis=(0, 1))
        used = item.points[item.faces]
        assert near[0] == pytest.approx(used.min(axis=(0, 1)), abs=0.01)
        assert near[1] == pytest.approx(used.max(axis=(0, 1)), abs=0.01)
    assert {line["layer"] for line in model["lines"]} == {"fracture", "screws", "entry and exit"}
    assert [v["name"] for v in model["views"]][-2:] == ["down screw 1", "down screw 2"]


def test_a_large_surface_is_simplified_and_stays_in_place(planned):
    import trimesh

    from trajplan.show._items.item import solid_item

    ball = trimesh.creation.icosphere(6, 30.0)
    assert len(ball.faces) > 4 * FACES
    item = solid_item("ball", "bone", (ball.vertices, ball.faces))
    (mesh,) = turntable_model([item], planned[1].model_copy(update={"screws": ()}))["meshes"]
    points = numbers(mesh["points"], "<u2").reshape(-1, 3) * mesh["step"] + mesh["low"]
    assert len(mesh["faces"]) < 1.2 * FACES * 3 * 2 * 4 / 3  # base64 of three 2-byte numbers
    assert np.linalg.norm(points, axis=1) == pytest.approx(30.0, abs=0.05)


@pytest.fixture(scope="module")
def pressed(planned):
    """The scene with the contact pressure that the plan's screws make."""
    setup, record = planned
    return plan_scene(setup, record, pressing_of(judged_lags(setup, record)))


def test_the_model_has_the_pressure_of_the_plan_in_the_colours_of_the_viewer(planned, pressed):
    (item,) = (item for item in pressed if item.values is not None)
    contact = planned[1].contact
    assert item.values.max() == pytest.approx(contact.peak, rel=0.05)  # means of three corners
    meshes = [mesh for mesh in turntable_model(pressed, planned[1])["meshes"] if mesh["tints"]]
    (mesh,) = meshes
    assert mesh["layer"] == "fracture"
    assert mesh["opacity"] == 1.0
    tints = numbers(mesh["tints"], "<u1").reshape(-1, 3)
    assert len(tints) == len(item.faces) == len(numbers(mesh["faces"], "<u2")) / 3
    table = pressure_table(pressure_scale(pressed))  # pyvista's own, as the viewer draws
    some = np.linspace(0, len(tints) - 1, 200).astype(int)
    for value, tint in zip(item.values[some], tints[some], strict=True):
        seen = table.map_value(value if value > 0.0 else -1.0, opacity=False)
        assert np.abs(255 * np.array(seen) - tint).max() < 4


def test_where_nothing_presses_the_colour_is_that_of_no_contact():
    tints = pressure_tints(np.array([0.0, 1e-6, 2.0]), 2.0)
    assert "#{:02x}{:02x}{:02x}".format(*tints[0]) == NO_CONTACT
    assert np.abs(tints[0].astype(int) - tints[1]).max() > 100  # pressed, however little


def test_the_key_of_pressure_ends_where_the_scale_does(planned, pressed, tree):
    key = pressure_key(pressed)
    assert key.highest == pressure_scale(pressed) >= planned[1].contact.peak
    assert len(set(key.band)) == len(key.band)
    said = tree.one("p", class_="pressure")
    assert said.text.endswith(f"an estimate: 0 {key.highest:g} MPa; no contact")
    assert all(colour in said.one(class_="band").attributes["style"] for colour in key.band)


def test_no_pressure_no_key(planned, drawn, monkeypatch):
    assert pressure_key(plan_scene(*planned)) is None
    monkeypatch.setattr("trajplan.show._report.report.judged_lags", lambda *_: None)
    page = read_page(report_html(*planned))
    assert not page.all("p", class_="pressure")


def test_fragments_are_layers_of_their_own(planned, bone):
    from trajplan.show._items.item import solid_item

    part = (bone.vertices, bone.faces)
    items = [solid_item(name, "bone", part) for name in ("upper.stl", "lower.stl")]
    assert turntable_model(items, planned[1])["layers"] == ["upper.stl", "lower.stl"]
    assert turntable_model(items[:1], planned[1])["layers"] == ["bone"]


# ---- PDF and places ----


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_pdf_has_the_size_of_the_paper(tmp_path, paper, size):
    write_report_pdf("<p>word</p>", tmp_path / "page.pdf", paper)
    (page,) = pypdf.PdfReader(tmp_path / "page.pdf").pages
    # ISO 216 A4; ANSI/ASME Y14.1 size A, 8.5 by 11 inches.
    assert np.array(page.mediabox[2:], dtype=float) * 25.4 / 72 == pytest.approx(size, abs=0.5)


def test_pdf_pages_carry_everything(planned, html, tmp_path):
    write_report_pdf(html, tmp_path / "report.pdf")
    pages = pypdf.PdfReader(tmp_path / "report.pdf").pages
    texts = [" ".join(page.extract_text().split()) for page in pages]
    assert 5 <= len(texts) <= 10  # two screws
    assert all(" ".join(CAUTIONS) in text for text in texts)
    assert all(text.count(CAUTIONS[0]) == 1 for text in texts)  # once on each page
    whole = " ".join(texts)
    assert planned[1].title in texts[0]
    for word in ("Along the surgeon's line of sight", "Drill table", "What needs a decision"):
        assert word in texts[0]  # one page answers the room
        assert word not in " ".join(texts[1:])
    heads = ["Pictures", "Findings", "screw 1: ", "Drill sheet", "Forces", "Case", "Sources"]
    order = [whole.index(f" {head}", len(texts[0])) for head in heads]
    assert order == sorted(order)
    for screw in planned[1].screws:
        assert f"{screw.gauge:.1f} mm" in whole
    assert "Drag to turn" not in whole


def test_pdf_fetches_nothing(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("word of another file")
    page = f'<link rel="attachment" href="{secret.as_uri()}"><p>page</p>'
    write_report_pdf(page, tmp_path / "page.pdf")
    assert pypdf.PdfReader(tmp_path / "page.pdf").attachments == {}


def test_pdf_without_its_library_says_what_to_install(html, tmp_path, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(OutputError, match=r"pip install -e '\.\[pdf\]'"):
        write_report_pdf(html, tmp_path / "report.pdf")
    assert list(tmp_path.iterdir()) == []


def test_the_page_is_small_and_written_whole(html, tmp_path):
    file = tmp_path / "report.html"
    write_report(html, file)
    assert file.read_text(encoding="utf-8") == html
    assert file.stat().st_size < 15e6


def test_places_are_refused_before_work(tmp_path):
    (tmp_path / "there.html").mkdir()
    need_place(None, ".html")
    need_place(tmp_path / "page.HTML", ".html")
    for name, said in (
        ("page.txt", "let its name end in .html"),
        ("nowhere/page.html", "is no folder"),
        ("there.html", "this is a folder"),
    ):
        with pytest.raises(OutputError, match=said):
            need_place(tmp_path / name, ".html")
