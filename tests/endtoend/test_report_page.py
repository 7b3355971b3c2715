"""`report`, `export` and `drill` as a user runs them; the page in a real browser."""

import base64
import json
import shutil

import numpy as np
import pypdf
import pytest
import trimesh
from shaft_case import MESHES, write_case

from trajplan.cautions import CAUTIONS
from trajplan.cli import main

TITLE = "<script>document.title = 'taken'</script>"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with a case of three screws, its plan and its report."""
    folder = tmp_path_factory.mktemp("report")
    case = write_case(folder)
    text = case.read_text().replace("count = 2", "count = 3")
    case.write_text(f"title = {json.dumps(TITLE)}\nframe = 'LPS'\n" + text)
    plan = folder / "out" / "plan.json"
    assert main(["plan", str(case), "--no-picture", "--out", str(plan.parent)]) in (0, 1)
    page, pdf = folder / "report.html", folder / "report.pdf"
    assert main(["report", str(plan), "-o", str(page), "--pdf", str(pdf)]) in (0, 1)
    return folder


@pytest.fixture(scope="module")
def record(made):
    plan = json.loads((made / "out" / "plan.json").read_text())
    assert len(plan["screws"]) == 3
    return plan


@pytest.fixture
def page(chromium, made):
    """The report, open; every request, message and error of it is kept."""
    tab = chromium.new_page(viewport={"width": 800, "height": 600})
    tab.heard = []
    tab.on("request", lambda request: tab.heard.append(("request", request.url)))
    tab.on("console", lambda message: tab.heard.append(("console", message.text)))
    tab.on("pageerror", lambda error: tab.heard.append(("error", str(error))))
    tab.goto((made / "report.html").as_uri())
    tab.locator("canvas").scroll_into_view_if_needed()
    still(tab)
    yield tab
    tab.close()


def picture(tab):
    """Pixels of the canvas, (height, width, 4)."""
    wide, text = tab.evaluate(
        """() => {
            const c = document.querySelector("canvas");
            const d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
            let s = "";
            for (let i = 0; i < d.length; i += 8192) {
                s += String.fromCharCode(...d.subarray(i, i + 8192));
            }
            return [c.width, btoa(s)];
        }"""
    )
    return np.frombuffer(base64.b64decode(text), np.uint8).reshape(-1, wide, 4)


def still(tab):
    tab.wait_for_selector('canvas[data-state="still"]')
    return picture(tab)


def drag(tab, across, down):
    box = tab.locator("canvas").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 3
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x + across, y + down, steps=6)
    tab.mouse.up()


def test_the_page_opens_quietly_and_asks_for_nothing(page, made):
    assert page.heard == [("request", (made / "report.html").as_uri())]
    assert page.evaluate("performance.getEntriesByType('resource').length") == 0


def test_a_title_of_markup_stays_text(page):
    assert page.locator("h1").inner_text() == TITLE
    assert page.title().startswith(TITLE)


def test_the_browser_keeps_other_scripts_and_requests_out(page):
    page.evaluate(
        """() => {
            const s = document.createElement("script");
            s.textContent = "document.title = 'taken'";
            document.body.append(s);
            const i = document.createElement("img");
            i.src = "file:///nowhere.png";
            document.body.append(i);
        }"""
    )
    page.wait_for_timeout(200)
    assert page.title().startswith(TITLE)
    refused = [text for kind, text in page.heard if kind == "console"]
    assert len([t for t in refused if "Content Security Policy" in t]) == 2


def test_the_model_fills_the_canvas_with_the_colours_of_the_scene(page):
    pixels = picture(page)[..., :3].astype(int)
    drawn = (pixels < 250).any(axis=-1)
    assert 0.1 < drawn.mean() < 0.9
    green = (pixels[..., 1] > pixels[..., 0] + 40) & (pixels[..., 1] > pixels[..., 2] + 15)
    assert green.sum() > 500  # thread


@pytest.mark.parametrize("how", ["drag", "key", "button"])
def test_the_model_turns(page, how):
    before = picture(page)
    if how == "drag":
        drag(page, 120, 40)
    elif how == "key":
        page.locator("canvas").press("ArrowLeft")
    else:
        page.get_by_role("button", name="turn left").click()
    after = still(page)
    assert after.shape == before.shape
    assert (after != before).any(axis=-1).mean() > 0.02
    page.get_by_role("button", name="back to start").click()
    assert np.array_equal(still(page), before)


def test_a_full_turn_ends_where_it_began(page):
    before = picture(page)[..., :3].astype(int)
    for _ in range(24):  # steps of 15 degrees
        page.locator("canvas").press("ArrowRight")
    assert (np.abs(still(page)[..., :3].astype(int) - before) > 40).mean() < 0.002


def test_dragging_to_the_right_takes_the_near_side_to_the_right(page, record):
    page.get_by_role("button", name="down screw 1").click()  # its head is near, its tip far
    before = mass_of_heads(still(page))
    drag(page, 60, 0)
    assert mass_of_heads(still(page))[0] > before[0] + 2


def blue_of_heads(pixels):
    """Where the dark blue of heads is."""
    red, green, blue = (pixels[..., k].astype(int) for k in range(3))
    return (blue > red + 40) & (blue > green + 15)


def mass_of_heads(pixels):
    rows, columns = np.nonzero(blue_of_heads(pixels))
    return columns.mean(), rows.mean()


def test_layers_go_and_come_back(page):
    before = picture(page)
    box = page.get_by_label("screws", exact=True)
    box.uncheck()
    without = still(page)
    assert blue_of_heads(before).any()
    assert not blue_of_heads(without).any()
    box.check()
    assert np.array_equal(still(page), before)


def test_nearer_is_larger(page):
    page.get_by_role("button", name="down screw 1").click()
    far = blue_of_heads(still(page)).sum()
    page.get_by_role("button", name="nearer").click()  # lengths by 1 / 0.8; lines stay thin
    assert blue_of_heads(still(page)).sum() == pytest.approx(far / 0.8**2, rel=0.15)


def test_the_page_prints_with_a_still_picture(page, record, tmp_path):
    page.emulate_media(media="print")
    assert not page.locator("canvas").is_visible()
    assert not page.locator(".still svg").is_visible()  # it stands on the first page
    assert page.locator("#first .picture svg").first.is_visible()
    file = tmp_path / "printed.pdf"
    page.pdf(path=file, format="A4", print_background=True)
    texts = [sheet.extract_text() for sheet in pypdf.PdfReader(file).pages]
    assert 5 <= len(texts) <= 16  # three screws and wires
    assert CAUTIONS[0] in " ".join(texts[0].split())
    whole = " ".join(" ".join(texts).split())
    for screw in record["screws"]:
        assert f"{screw['gauge']:.1f} mm" in whole


def test_the_page_works_where_scripts_are_off(chromium, made):
    context = chromium.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto((made / "report.html").as_uri())
    assert tab.locator(".still svg").is_visible()
    assert not tab.locator("canvas").is_visible()
    context.close()


def test_files_are_of_a_size_to_be_sent(made, record):
    assert (made / "report.html").stat().st_size < 15e6
    pages = pypdf.PdfReader(made / "report.pdf").pages
    assert len(pages) >= 4 * len(record["screws"])
    said = "".join(pages[0].extract_text().split())  # wherever its lines are broken
    assert "".join(TITLE.split()) in said


# ---- export and drill ----


def test_exports(run, made, record, folder):
    plan = made / "out" / "plan.json"
    answer = run(
        "export", plan, "--screws", "s.stl", "--drills", "d.ply", "--unit", "cm",
        "--scene", "s.glb", "--axes", "a.csv", "--sections", "cuts",
    )  # fmt: skip
    assert answer.err == ""
    assert answer.out.startswith("Written: s.stl, d.ply, s.glb, a.csv, cuts")
    assert CAUTIONS[0] in answer.out
    ends = np.array([p for s in record["screws"] for p in (s["entry"], s["exit"])])
    low, high = trimesh.load_mesh("s.stl").bounds * 10.0  # written in cm
    assert (low < ends.min(axis=0) + 1).all()
    assert (high > ends.max(axis=0) - 1).all()
    assert len(list((folder / "cuts").glob("*.svg"))) == 2 * len(record["screws"])
    again = run("check", made / "case.toml", "a.csv", "--json")
    for screw, first in zip(again.json["screws"], record["screws"], strict=True):
        assert screw["entry"] == pytest.approx(first["entry"], abs=1e-4)
        assert screw["gauge"] == pytest.approx(first["gauge"], abs=1e-3)


def test_drill_sheet(run, made, record, folder):
    plan = made / "out" / "plan.json"
    printed = run("drill", plan)
    assert printed.err == ""
    assert " ".join(CAUTIONS[0].split()) in " ".join(printed.out.split())
    for screw in record["screws"]:
        assert f"{screw['gauge']:.1f}" in printed.out
    assert run("drill", plan, "-o", "steps.txt").out.startswith("Written: steps.txt")
    assert (folder / "steps.txt").read_text(encoding="utf-8") == printed.out
    sheet = run("drill", plan, "--json").json
    assert [part["screw"] for part in sheet["screws"]] == [s["id"] for s in record["screws"]]


@pytest.mark.parametrize("verdict", ["fail", "caution"])
def test_status_tells_whether_a_rule_fails(run, case, verdict):
    if verdict == "fail":
        case.write_text(case.read_text() + "[limits]\nturns_least = 90\nturns_wanted = 90\n")
    run("plan", case, "--no-picture", "--out", "out")
    plan = json.loads((case.parent / "out" / "plan.json").read_text())
    assert run("drill", "out/plan.json").status == int(plan["verdict"] == "fail")


def test_export_says_which_screws_are_not_to_be_drilled(run, folder):
    """A line straight across an oblique fracture slides: it fails, and is still drawn."""
    (folder / "lines.csv").write_text(
        "id,kind,technique,x,y,z,to_x,to_y,to_z\nA,HA4.5,lag,-40,0,110,40,0,110\n"
    )
    shutil.copytree(MESHES, folder / "meshes")
    assert run("check", "meshes/shaft.toml", "lines.csv", "--out", "checked").status == 1
    answer = run("export", "checked/check.json", "--drills", "d.stl")
    assert "A: not to be drilled as planned" in answer.out


# ---- bad input ----


def refused(answer, *said):
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.startswith("trajplan: ")
    assert answer.err.count("\n") == 1
    for words in said:
        assert words in answer.err


@pytest.fixture
def plan(made, folder):
    """A copy of the plan, its case and its mesh."""
    for name in ("case.toml", "bone.stl", "out"):
        source = made / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / name)
    return folder / "out" / "plan.json"


@pytest.mark.parametrize("command", ["report", "drill", "export"])
def test_bad_plans(run, plan, command):
    words = (command, plan, *(("--axes", "a.csv") if command == "export" else ()))
    text = plan.read_text()
    plan.write_text(text.replace('"version": 1', '"version": 2', 1))
    refused(run(*words), "plan.json", "newer trajplan", "update trajplan")
    plan.write_text(text)
    bone = plan.parents[1] / "bone.stl"
    content = bytearray(bone.read_bytes())
    content[96] ^= 1
    bone.write_bytes(content)
    refused(run(*words), "plan.json", "bone.stl changed since this was planned", "plan the case")
    (plan.parents[1] / "case.toml").unlink()
    refused(run(*words), "case.toml")
    (plan.parent / "source.json").unlink()
    refused(run(*words), "plan.json", "--case")
    assert not list(plan.parents[1].glob("*report*"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("report", "-o", "nowhere/r.html"), ("nowhere is no folder", "make it first")),
        (("report", "-o", "r.txt"), ("r.txt", "let its name end in .html")),
        (("report", "-o", "out"), ("out", "let its name end in .html")),
        (("report", "--pdf", "r.html"), ("r.html", "let its name end in .pdf")),
        (("export",), ("nothing to write was named", "--screws")),
        (("export", "--screws", "s.step"), ("s.step", ".stl")),
        (("export", "--scene", "s.obj"), ("s.obj", ".glb")),
        (("export", "--sections", "case.toml"), ("case.toml", "another --sections folder")),
        (("drill", "-o", "nowhere/d.txt"), ("nowhere is no folder",)),
    ],
)
def test_places_that_cannot_be_written(run, plan, words, said):
    refused(run(words[0], plan, *words[1:]), *said)
