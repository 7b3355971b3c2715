"""A written page, read back by Python's own HTML parser."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

#: Elements that have no end.
EMPTY = {"br", "img", "input", "link", "meta"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str]
    parent: Element | None
    children: list = field(default_factory=list)  # elements and strings

    @property
    def text(self):
        """All text inside, white space made single."""
        parts = [c if isinstance(c, str) else c.text for c in self.children]
        return " ".join(" ".join(parts).split())

    def all(self, tag=None, **attributes):
        """Elements inside with a tag and attributes; ``data_field`` asks for ``data-field``."""
        wanted = {name.rstrip("_").replace("_", "-"): v for name, v in attributes.items()}
        found = []
        for child in self.children:
            if isinstance(child, str):
                continue
            has = all(child.attributes.get(name) == v for name, v in wanted.items())
            if has and tag in (None, child.tag):
                found.append(child)
            found += child.all(tag, **attributes)
        return found

    def one(self, tag=None, **attributes):
        (found,) = self.all(tag, **attributes)
        return found


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.root = self.place = Element("", {}, None)

    def handle_starttag(self, tag, attrs):
        element = Element(tag, {k: v or "" for k, v in attrs}, self.place)
        self.place.children.append(element)
        if tag not in EMPTY:
            self.place = element

    def handle_startendtag(self, tag, attrs):
        self.place.children.append(Element(tag, {k: v or "" for k, v in attrs}, self.place))

    def handle_endtag(self, tag):
        assert tag == self.place.tag, f"</{tag}> closes <{self.place.tag}>"
        self.place = self.place.parent

    def handle_data(self, data):
        self.place.children.append(data)


def read_page(html):
    """Read a page into a tree; an element that is not closed where it should be is an error."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert reader.place is reader.root, f"<{reader.place.tag}> is not closed"
    return reader.root
