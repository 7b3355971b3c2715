"""Draw the pictures of README.md, and refresh what README.md quotes from the program.

The drawing depends on the graphics driver, so its bytes may differ from machine to machine.
"""

from __future__ import annotations

import io
import re
import sys
import tempfile
import textwrap
from contextlib import redirect_stdout
from functools import cache
from pathlib import Path

from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))  # also where the tests import this file

from browser import chromium

from trajplan.cli import main as trajplan
from trajplan.files import read_case
from trajplan.planner import load_plan
from trajplan.show import Session, help_topics, report_html, sections
from trajplan.show._picture.vtk import quiet
from trajplan.show._sections.draw import section_bytes
from trajplan.show._window.commands import find_command
from trajplan.show._window.window import Window

ROOT = Path(__file__).parents[1]
SIZE = (1280, 800)  # pixels, so that the file stays small
HALF = (SIZE[0] // 2, SIZE[1])


def main() -> None:
    """Draw all pictures and rewrite what README.md and the help quote; `--quotes`: that alone."""
    if "--quotes" not in sys.argv[1:]:
        pictures()
    for page in (ROOT / "README.md", ROOT / "trajplan" / "help" / "example.md"):
        page.write_text(with_quotes(page.read_text(encoding="utf-8")), encoding="utf-8")


def pictures() -> None:
    """Draw all pictures."""
    for case in sorted((ROOT / "meshes").glob("*.toml")):
        if read_case(case).reduction.fixed is None:
            draw(case, case.with_name(f"{case.stem}_plan.png"))
        else:
            put_together(case)
    show(ROOT / "meshes" / "shaft.toml")


def draw(case: Path, shot: Path) -> None:
    """Draw the plan of a case.

    Parameters
    ----------
    case : Path
        Case file.
    shot : Path
        PNG file.
    """
    trajplan(["view", str(case), "--shot", str(shot), "--force"])
    with Image.open(shot) as picture:
        save(picture, shot)


def put_together(case: Path) -> None:
    """Draw the reduction of displaced fragments, and the plan on it.

    Parameters
    ----------
    case : Path
        Case file.
    """
    with tempfile.TemporaryDirectory() as folder:
        trajplan(["reduce", str(case), "--out", folder])
        shot = case.with_name(f"{case.stem}_reduction.png")
        with Image.open(Path(folder) / "reduction.png") as picture:
            save(picture, shot)
        draw(Path(folder) / "case.toml", case.with_name(f"{case.stem}_plan.png"))


def save(picture: Image.Image, path: Path) -> None:
    """Write a picture in the size and few colours of README.md.

    Parameters
    ----------
    picture : PIL.Image.Image
        The picture.
    path : Path
        PNG file.
    """
    small = picture.convert("RGB").resize(SIZE, Image.Resampling.LANCZOS)
    # the palette that covers most, so that the few pixels of a thin mark keep their colour
    few = small.quantize(256, method=Image.Quantize.MAXCOVERAGE, kmeans=4)
    few.save(path, optimize=True)
    print(f"{path.name}: {path.stat().st_size:,} bytes")


def show(case: Path) -> None:
    """Draw the window, the sections of a screw and the report of a case.

    Parameters
    ----------
    case : Path
        Case file; the pictures lie beside it.
    """

    def beside_it(what: str) -> Path:
        return case.with_name(f"{case.stem}_{what}.png")

    with tempfile.TemporaryDirectory() as scratch, redirect_stdout(io.StringIO()):
        trajplan(["plan", str(case), "--no-picture", "--out", scratch])
        setup, plan = load_plan(Path(scratch, "plan.json"))
    save(window(Session(setup, plan)), beside_it("window"))
    drawings = [section_bytes(section, "png") for section in sections(setup, plan.screws[0])]
    save(beside(*(Image.open(io.BytesIO(drawing)) for drawing in drawings)), beside_it("section"))
    save(report(report_html(setup, plan)), beside_it("report"))


def window(session: Session) -> Image.Image:
    """Draw the window, turned so that the pressure on the fracture is seen.

    Parameters
    ----------
    session : Session
        What it shows.

    Returns
    -------
    PIL.Image.Image
    """
    with quiet():
        made = Window(session, lambda _: Path(), off_screen=True)
        made.plotter.show(auto_close=False)
        for key in ("l", "i"):
            made.do(find_command(key))
        pixels = made.plotter.screenshot(return_img=True)
        made.plotter.close()
    return Image.fromarray(pixels)


def report(html: str) -> Image.Image:
    """Draw the head of a report and its model in a browser.

    Parameters
    ----------
    html : str
        The page.

    Returns
    -------
    PIL.Image.Image
    """
    wide, high = PAGE
    with chromium() as browser:
        tab = browser.new_page(
            viewport={"width": wide, "height": high}, device_scale_factor=HALF[0] / wide
        )
        tab.set_content(html)
        tab.add_style_tag(content="nav { position: static !important; }")
        shots = [tab.screenshot()]
        tab.evaluate("document.querySelector('#model h2').scrollIntoView()")
        for _ in range(2):  # so that the fracture is seen and not on edge
            tab.locator("canvas").press("ArrowLeft")
        tab.wait_for_selector('canvas[data-state="still"]')
        shots.append(tab.screenshot())
    return beside(*(Image.open(io.BytesIO(shot)) for shot in shots))


#: Size of a browser's page, of which half a picture is made.
PAGE = (1000, 1250)


def beside(left: Image.Image, right: Image.Image) -> Image.Image:
    """Put two pictures side by side on white, each as large as its half allows.

    Parameters
    ----------
    left, right : PIL.Image.Image
        The pictures.

    Returns
    -------
    PIL.Image.Image
    """
    whole = Image.new("RGB", SIZE, "white")
    for place, picture in ((0, left), (HALF[0], right)):
        scale = min(HALF[0] / picture.width, HALF[1] / picture.height)
        size = (round(scale * picture.width), round(scale * picture.height))
        fitted = picture.convert("RGB").resize(size, Image.Resampling.LANCZOS)
        whole.paste(fitted, (place + (HALF[0] - size[0]) // 2, 0))
    return whole


def with_quotes(text: str) -> str:
    """Put what the program says now between the marks of a text.

    Parameters
    ----------
    text : str
        Text with ``<!-- quoted: NAME -->`` and ``<!-- end -->`` round each quote.

    Returns
    -------
    str
    """
    for name in re.findall(r"<!-- quoted: (\w+) -->", text):
        quote = QUOTES[name]()
        marked = re.compile(rf"(<!-- quoted: {name} -->\n).*?(<!-- end -->)", re.DOTALL)
        text = marked.sub(lambda mark, quote=quote: f"{mark[1]}{quote}\n{mark[2]}", text)
    return text


@cache
def printed() -> tuple[str, str]:
    """Print of the demonstration, without the names of the files written; and its drill sheet.

    Returns
    -------
    tuple of str
    """
    plan, drill = io.StringIO(), io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        with redirect_stdout(plan):
            trajplan(["demo", "--no-picture", "--out", folder])
        with redirect_stdout(drill):
            trajplan(["drill", f"{folder}/plan.json"])
    return plan.getvalue().partition("Written:")[0].strip(), drill.getvalue()


def demo() -> str:
    """The whole print of the demonstration."""
    return f"```text\n{printed()[0]}\n```"


def table() -> str:
    """Its first lines, down to the table of screws."""
    head, rule, rest = printed()[0].partition("\nLengths in mm")
    assert rule, rest
    return f"```text\n{head.strip()}\n```"


def drill() -> str:
    """The steps of its drill sheet that drill the first screw's holes."""
    found = re.search(r"^ *\d+\. Gliding hole.*?(?=^ *\d+\. Countersink)", printed()[1], PART)
    assert found
    return f"```text\n{found[0].rstrip()}\n```"


PART = re.DOTALL | re.MULTILINE


def case() -> str:
    """The case of the demonstration."""
    text = (ROOT / "meshes" / "shaft.toml").read_text(encoding="utf-8")
    return f"```toml\n{text.partition(chr(10))[2].strip()}\n```"


def topics() -> str:
    """The pages of help, each with a link."""
    links = (f"[`{name}`](trajplan/help/{name}.md) {said}" for name, said in help_topics().items())
    return textwrap.fill(" · ".join(links), 118, break_long_words=False, break_on_hyphens=False)


QUOTES = {"demo": demo, "table": table, "drill": drill, "case": case, "topics": topics}

if __name__ == "__main__":
    main()
