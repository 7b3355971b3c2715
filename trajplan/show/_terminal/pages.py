"""The pages of ``trajplan help``: markdown that ships in the package, laid out for a terminal."""

from __future__ import annotations

import re
import textwrap
from importlib import resources
from typing import TYPE_CHECKING

from trajplan.errors import InputError
from trajplan.implants import nearest
from trajplan.show._terminal.table import WIDTH, table

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["help_text", "help_topics"]

#: What a page is read for stands in its first line.
TITLE = re.compile(r"# (.+)\n")


def help_topics() -> dict[str, str]:
    """Pages that ship in the package.

    Returns
    -------
    dict of str to str
        Title of each page, by its topic.
    """
    names = (page.name for page in _folder().iterdir() if page.name.endswith(".md"))
    topics = sorted(name.removesuffix(".md") for name in names)
    return {topic: _title(_page(topic)) for topic in topics}


def help_text(topic: str) -> str:
    """A page of help for a terminal.

    Parameters
    ----------
    topic : str
        One of `help_topics`.

    Returns
    -------
    str
        Without a final line break.

    Raises
    ------
    InputError
        If there is no such page.
    """
    topics = list(help_topics())
    if topic not in topics:
        raise InputError(
            f'there is no page "{topic}"',
            remedy=f"{nearest(topic, topics)}; `trajplan help` lists all",
        )
    return "\n\n".join(_blocks(_page(topic)))


def _folder() -> resources.abc.Traversable:
    return resources.files("trajplan").joinpath("help")


def _page(topic: str) -> str:
    return _folder().joinpath(f"{topic}.md").read_text(encoding="utf-8")


def _title(page: str) -> str:
    found = TITLE.match(page)
    return "" if found is None else found[1]


def _blocks(page: str) -> Iterator[str]:
    """What stands between empty lines, code whole and as it is."""
    page = re.sub(r"<!--.*?-->\n?", "", page)
    page = re.sub(r"!\[[^]]*\]\([^)]*\)", "", page)
    for part in re.split(r"(^```.*?^```$)", page, flags=re.DOTALL | re.MULTILINE):
        if part.startswith("```"):
            yield textwrap.indent("\n".join(part.splitlines()[1:-1]), "    ")
        else:
            yield from (_laid_out(block) for block in re.split(r"\n\s*\n", part) if block.strip())


def _laid_out(block: str) -> str:
    lines = _plain(block).strip("\n").splitlines()
    if lines[0].startswith("#"):
        said = lines[0].lstrip("# ")
        return f"{said}\n{('=' if lines[0].startswith('# ') else '-') * len(said)}"
    if lines[0].startswith("|"):
        return _table(block.strip("\n").splitlines())
    items = re.split(r"^(?=[-*] )", "\n".join(lines), flags=re.MULTILINE)
    return "\n".join(
        _filled(" ".join(item.split()), after="  " * _listed(item))
        for item in items
        if item.strip()
    )


def _listed(item: str) -> bool:
    return item.startswith(("- ", "* "))


def _plain(text: str) -> str:
    """Text without the signs of markdown."""
    text = re.sub(r"\[([^]]+)\]\([^)]*\)", r"\1", text)
    return re.sub(r"`|\*\*", "", text)


def _table(lines: list[str]) -> str:
    """Columns where they fit; else the first cell, and below it what is said of it."""
    head, _, *rows = [
        [_plain(cell.strip()) for cell in re.split(r"(?<!\\)\|", line.strip().strip("|"))]
        for line in lines
    ]
    columns = table(head, rows)
    if max(map(len, columns.splitlines())) <= WIDTH:
        return columns
    return "\n".join(_entry(head, row) for row in rows)


def _entry(head: list[str], row: list[str]) -> str:
    first, *middle = row[:-1]
    told = [f"{name}: {cell}" for name, cell in zip(head[1:], middle, strict=False) if cell]
    said = "; ".join([*told, row[-1]])
    return f"{first}\n{_filled(said, '    ', '    ')}"


def _filled(text: str, before: str = "", after: str = "") -> str:
    """Lines of a terminal; a name is never cut, for it may be searched for."""
    return textwrap.fill(
        text, WIDTH, initial_indent=before, subsequent_indent=after,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
