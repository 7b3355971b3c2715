"""Words that a surgeon stumbles over are not shown, and organisations stand as sources alone."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

from scripts.make_pictures import printed
from trajplan.implants import load_catalogue
from trajplan.implants._rows import OLD_STATUS

PACKAGE = Path(__file__).parents[2] / "trajplan"

#: Word, and what is said instead.
BANNED = {
    "from memory": "not verified against the standard, or the source",
    "pilot": "thread hole",
    "squeez": "compress, compression",
    "gape": "lie so far apart",
    "anew": "again",
    "tip out": "protrudes",
    "proud tip": "the tip protrudes",
    "stands proud": "protrudes",
    "screw hangs": "is not supported",
    "washer, hangs": "is not supported",
    "in the mean": "on average",
}
#: Organisations and works; they stand in sources.
NAMES = ("AO Foundation", "AO manual", "Wheeless", "ISO 58", "ISO 64", "PubMed", "ASTM")


def sentences(file):
    """Sentences that a file of code may show: text with a space in it that is no docstring."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    for node in ast.walk(tree):  # docstrings are for contributors
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and isinstance(body[0], ast.Expr):
            body[0].value = ast.Constant(None)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value:
            yield node.lineno, node.value


@pytest.fixture(scope="module")
def shown():
    """All that may be shown, with its place; pages for contributors left out, and code in pages."""
    said = [
        (f"{file.name}:{line}", text)
        for file in PACKAGE.rglob("*.py")
        for line, text in sentences(file)
        if text != OLD_STATUS[0]  # read in catalogues of before, never said
    ]
    pages = [*(PACKAGE / "show").rglob("*.j2"), *(PACKAGE / "help").glob("*.md")]
    for file in pages:
        if file.stem not in {"bench", "proof", "engines", "python", "fields"}:
            text = re.sub(r"`[^`]*`|\w+\.\w+", "", file.read_text(encoding="utf-8"))
            said.append((file.name, text))
    assert len(said) > 2000
    return said


@pytest.mark.parametrize("word", BANNED)
def test_no_sentence_of_the_program_says(shown, word):
    found = [
        place for place, text in shown if re.search(rf"\b{re.escape(word)}", text, re.IGNORECASE)
    ]
    assert not found, f"say {BANNED[word]}"


def test_what_is_printed_of_a_plan_names_no_organisation():
    for text in printed():
        assert not [name for name in NAMES if name in text]


def test_findings_end_with_the_name_of_their_rule():
    plan, _ = printed()
    found = re.findall(r"^(?:CAUTION|UNKNOWN|NOTE) .*?(?=^\S|\Z)", plan, re.MULTILINE | re.DOTALL)
    assert len(found) >= 3
    assert all(re.search(r"\. \[\w+\]$", " ".join(text.split())) for text in found)


def test_values_that_are_not_verified_are_counted():
    screw = load_catalogue().screws["HA4.5"]
    rows = tomllib.loads((PACKAGE / "implants" / "catalogue.toml").read_text(encoding="utf-8"))
    (row,) = (row for row in rows["screw"] if row["kind"] == "HA4.5")
    fields = set(row) - {"kind", "sources"}
    sources = row["sources"]
    told = {key: sources.get(key, sources.get("default")) for key in fields}
    open_ones = sum(
        (rows["source"][at] if isinstance(at, str) else at)["status"].startswith("not verified")
        for at in told.values()
    )
    plan, _ = printed()
    said = f"{open_ones} of the {len(screw.sources)} dimensions of HA4.5 are not verified"
    assert said in " ".join(plan.split())
