"""JSON laid out for people, as the standard library lays it out, several times as fast."""

from __future__ import annotations

import re

from pydantic_core import to_json

__all__ = ["indented"]

#: A line that is a number whose shortest form others write in another way than Python does:
#: 0.00001 or 1e-5 for 1e-05, 1e16 for 1e+16.
_SOME = re.compile(r"[0-9](?:\.0000[0-9]*|e-?[0-9]+),?(?:\n|\Z)")  # far sooner looked for
_OTHERWISE = re.compile(r"^(\s*(?:\"\w+\": )?)(-?(?:0\.0000\d*|[\d.]+e-?\d+))(?=,?$)", re.MULTILINE)


def indented(value: object, depth: int) -> str:
    """JSON at a depth of indents of one blank.

    Parameters
    ----------
    value : object
        What JSON can write: no number that is not finite, keys of letters.
    depth : int
        Indents of the lines after the first.

    Returns
    -------
    str
        As of `json.dumps` with `indent=1` and `ensure_ascii=False`, moved in.
    """
    text = to_json(value, indent=1).decode()
    if _SOME.search(text):
        text = _OTHERWISE.sub(lambda line: line[1] + repr(float(line[2])), text)
    return text.replace("\n", "\n" + depth * " ")  # no text in it holds a line end
