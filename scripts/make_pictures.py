"""Draw the pictures of README.md, and refresh what README.md quotes from the program.

The drawing depends on the graphics driver, so its bytes may differ from machine to machine.
"""

from __future__ import annotations

import io
import re
import tempfile
from contextlib import redirect_stdout
from dataclasses import fields
from pathlib import Path

from PIL import Image

from trajplan.checks import LIMIT_NOTES, Limits
from trajplan.cli import main as trajplan

ROOT = Path(__file__).parents[1]
SIZE = (1280, 800)  # pixels, so that the file stays small


def main() -> None:
    """Draw a picture of every case and rewrite the quoted parts of README.md."""
    for case in sorted((ROOT / "meshes").glob("*.toml")):
        draw(case, case.with_name(f"{case.stem}_plan.png"))
    readme = ROOT / "README.md"
    readme.write_text(with_quotes(readme.read_text(encoding="utf-8")), encoding="utf-8")


def draw(case: Path, shot: Path) -> None:
    """Draw the plan of a case.

    Parameters
    ----------
    case : Path
        Case file.
    shot : Path
        PNG file.
    """
    trajplan(["view", str(case), "--shot", str(shot)])
    with Image.open(shot) as picture:
        small = picture.convert("RGB").resize(SIZE, Image.Resampling.LANCZOS)
    # the palette that covers most, so that the few pixels of a thin mark keep their colour
    few = small.quantize(256, method=Image.Quantize.MAXCOVERAGE, kmeans=4)
    few.save(shot, optimize=True)
    print(f"{shot.name}: {shot.stat().st_size:,} bytes")


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
    for name, quote in (("demo", demo()), ("limits", limits())):
        marked = re.compile(rf"(<!-- quoted: {name} -->\n).*?(<!-- end -->)", re.DOTALL)
        text = marked.sub(lambda mark, quote=quote: f"{mark[1]}{quote}\n{mark[2]}", text)
    return text


def demo() -> str:
    """Print of the demonstration, without the names of the files written.

    Returns
    -------
    str
    """
    printed = io.StringIO()
    with tempfile.TemporaryDirectory() as folder, redirect_stdout(printed):
        trajplan(["demo", "--no-picture", "--out", folder])
    return f"```text\n{printed.getvalue().partition('Written:')[0].strip()}\n```"


def limits() -> str:
    """Table of all limits.

    Returns
    -------
    str
    """
    default = {field.name: field.default for field in fields(Limits)}
    rows = [
        f"| `{name}` | {_value(default[name], note.unit)} | {note.meaning} | {note.source} |"
        for name, note in LIMIT_NOTES.items()
    ]
    return "\n".join(("| limit | default | meaning | source |", "| --- | --- | --- | --- |", *rows))


def _value(number: float, unit: str) -> str:
    return f"{number:g} {unit.removesuffix('s') if number == 1.0 else unit}".strip()


if __name__ == "__main__":
    main()
