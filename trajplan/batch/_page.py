"""The summary as one HTML page: no script, nothing fetched, every text escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING
from urllib.parse import quote

from trajplan.batch._outcome import CASES, PLAN, REPORT
from trajplan.batch._progress import clock_text
from trajplan.batch._summary import TILT_STEP, VERDICTS
from trajplan.cautions import CAUTIONS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from trajplan.batch._summary import Summary

__all__ = ["summary_page"]

#: Failed cases of either kind that the page names; all stand in cases.csv.
FAILED = 200
#: Cases that are named beside a rule that fails in them.
WHERE = 10

STYLE = """
:root { color-scheme: light dark; --ink: #1d2733; --dim: #5a6675; --paper: #fff; --rule: #d5dbe2;
  --bar: #4a6d8c; --pass: #00664b; --caution: #8a5a00; --fail: #a31515; --unknown: #444444; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6eaef; --dim: #a3adb9; --paper: #14191f;
  --rule: #333c46; --bar: #7fa6c9; --pass: #6cc48f; --caution: #e8a849; --fail: #f0857d;
  --unknown: #b9c0c8; } }
body { font: 15px/1.5 system-ui, sans-serif; color: var(--ink); background: var(--paper);
  max-width: 62rem; margin: 2rem auto; padding: 0 1.25rem; }
h1 { font-size: 1.5rem; margin: 0 0 .25rem; } h2 { font-size: 1.1rem; margin: 2rem 0 .5rem; }
.dim { color: var(--dim); } .num { text-align: right; font-variant-numeric: tabular-nums;
  white-space: nowrap; }
.cautions { border-left: 4px solid var(--caution); padding: .25rem 1rem; margin: 1rem 0; }
.stack { display: flex; height: 1.25rem; border-radius: 3px; overflow: hidden; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: .25rem .75rem .25rem 0; border-bottom: 1px solid var(--rule);
  vertical-align: top; overflow-wrap: break-word; }
th { font-weight: 600; color: var(--dim); white-space: nowrap; } th.num { text-align: right; }
.bar { background: var(--bar); height: .9rem; border-radius: 2px; min-width: 1px; }
td.wide { width: 60%; vertical-align: middle; } .two { display: grid; gap: 0 2.5rem;
  grid-template-columns: repeat(auto-fit, minmax(min(20rem, 100%), 1fr)); }
.pass { color: var(--pass); } .caution { color: var(--caution); } .fail { color: var(--fail); }
.unknown { color: var(--unknown); } .stack .pass { background: var(--pass); }
.stack .caution { background: var(--caution); } .stack .fail { background: var(--fail); }
.stack .unknown { background: var(--unknown); }
@media (max-width: 30rem) { body { margin: 1rem auto; padding: 0 .9rem; overflow-wrap: anywhere; }
  th, td { padding-right: .5rem; font-size: 14px; overflow-wrap: anywhere; } }
a { color: inherit; } @media print { body { margin: 0; max-width: none; } }
"""


def summary_page(summary: Summary, links: Iterable[str] = ()) -> str:
    """Lay the summary out as a page.

    Parameters
    ----------
    summary : Summary
    links : iterable of str
        Names of the files beside the page, to be linked to.

    Returns
    -------
    str
        HTML; folders of cases are linked to as they lie beside the page.
    """
    parts = [
        f"<h1>Batch of {_count(summary.cases, 'case')}</h1>",
        f'<p class="dim">{_state(summary)}</p>',
        f'<div class="cautions">{"<br>".join(map(escape, CAUTIONS))}</div>',
        _verdicts(summary),
        _failed(summary),
        _rules(summary),
        f'<div class="two">{_lengths(summary)}{_tilts(summary)}</div>',
        f'<div class="two">{_tray(summary)}<div>{_slowest(summary)}{_failing(summary)}</div></div>',
        _files(links),
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>Batch summary</title><style>{STYLE}</style></head>\n<body>\n"
        + "\n".join(part for part in parts if part)
        + "\n</body></html>\n"
    )


def _state(summary: Summary) -> str:
    words = [f"{summary.done} done", f"{len(summary.failed)} could not be worked on"]
    if summary.not_run:
        words.append(f"{summary.not_run} not run: the batch was stopped, go on with --resume")
    if summary.done:
        words.append(f"{clock_text(summary.seconds)} of work in all")
    return ", ".join(words)


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _verdicts(summary: Summary) -> str:
    if not summary.done:
        return ""
    stack = "".join(
        f'<div class="{word}" style="width:{100 * count / summary.done:.3f}%"></div>'
        for word, count in summary.verdicts.items()
        if count
    )
    words = ", ".join(
        f'<b class="{word}">{count} {word}</b>' for word, count in summary.verdicts.items()
    )
    return f'<h2>Verdicts of the cases</h2><div class="stack">{stack}</div><p>{words}</p>'


def _failed(summary: Summary) -> str:
    title = f"{_count(len(summary.failed), 'case')} could not be worked on"
    return _named(title, ("case", "what is wrong"), summary.failed, escape)


def _failing(summary: Summary) -> str:
    title = "Cases in which a rule fails"
    return _named(title, ("case", "rules that fail"), summary.failing, _case_links)


def _named(
    title: str, head: tuple[str, str], cases: Mapping[str, str], words: Callable[[str], str]
) -> str:
    """Name cases, each with a sentence; `words` makes HTML of an id."""
    if not cases:
        return ""
    rows = ((words(name), escape(text)) for name, text in list(cases.items())[:FAILED])
    more = len(cases) - FAILED
    rest = f'<p class="dim">and {more} more, see cases.csv</p>' if more > 0 else ""
    return f'<h2 class="fail">{title}</h2>{_table(head, rows)}{rest}'


def _rules(summary: Summary) -> str:
    if not summary.rules:
        return ""
    rows = (
        (
            escape(rule).replace("_", "_<wbr>"),
            *(_verdict_cell(word, counts[word]) for word in VERDICTS),
            _fails_in(summary.where.get(rule, ())),
        )
        for rule, counts in summary.rules.items()
    )
    note = '<p class="dim">Findings on screws, pairs, wires and plans.</p>'
    return (
        "<h2>Rules</h2>" + note + _table(("rule", *VERDICTS, "fails in"), rows, numbers=range(1, 5))
    )


def _fails_in(ids: Sequence[str]) -> str:
    """Cases in which a rule fails, each a link to its report; the first of many."""
    links = [_link(f"{CASES}/{name}/{REPORT}", name) for name in ids[:WHERE]]
    return ", ".join(links) + (f" and {len(ids) - WHERE} more" if len(ids) > WHERE else "")


def _verdict_cell(word: str, count: int) -> str:
    return f'<span class="{word if count else "dim"}">{count}</span>'


def _lengths(summary: Summary) -> str:
    return _bars("Lengths of the screws, mm", {f"{k:g}": n for k, n in summary.lengths.items()})


def _tilts(summary: Summary) -> str:
    classes = {f"{low} to {low + TILT_STEP}": count for low, count in summary.tilts.items()}
    return _bars("Tilt to the fracture normal, degrees", classes)


def _bars(title: str, counts: Mapping[str, int]) -> str:
    if not counts:
        return ""
    most = max(counts.values())
    rows = (
        (label, str(n), f'<div class="bar" style="width:{100 * n / most:.2f}%"></div>')
        for label, n in counts.items()
    )
    body = _table(("", "screws", ""), rows, numbers=(0, 1), wide=2)
    return f"<section><h2>{escape(title)}</h2>{body}</section>"


def _tray(summary: Summary) -> str:
    if not summary.tray:
        return ""
    rows = ((escape(name), str(count)) for name, count in summary.tray.items())
    note = '<p class="dim">As many as all cases together need.</p>'
    body = _table(("implant", "count"), rows, numbers=(1,))
    return f"<section><h2>Tray list</h2>{note}{body}</section>"


def _slowest(summary: Summary) -> str:
    if not summary.slowest:
        return ""
    rows = (
        (
            _case_links(slow.id),
            f"{slow.seconds:.1f}",
            f'<span class="{slow.verdict}">{slow.verdict}</span>',
        )
        for slow in summary.slowest
    )
    body = _table(("case", "seconds", "verdict"), rows, numbers=(1,))
    return f"<section><h2>Slowest cases</h2>{body}</section>"


def _case_links(name: str) -> str:
    report, plan = (f"{CASES}/{name}/{file}" for file in (REPORT, PLAN))
    return f"{_link(report, name)} ({_link(plan, 'plan')})"


def _files(links: Iterable[str]) -> str:
    names = [_link(name, name) for name in links]
    return f"<h2>Files</h2><p>{', '.join(names)}</p>" if names else ""


def _link(path: str, words: str) -> str:
    return f'<a href="{escape(quote(path))}">{escape(words)}</a>'


def _table(
    head: Iterable[str],
    rows: Iterable[Iterable[str]],
    *,
    numbers: Iterable[int] = (),
    wide: int | None = None,
) -> str:
    """Lay out cells; they are HTML already."""
    right = set(numbers)

    def cells(tag: str, row: Iterable[str]) -> str:
        kinds = ("num" if i in right else "wide" if i == wide else "" for i in range(99))
        return "".join(
            f"<{tag} class={kind}>{cell}</{tag}>" if kind else f"<{tag}>{cell}</{tag}>"
            for kind, cell in zip(kinds, row, strict=False)
        )

    body = "".join(f"<tr>{cells('td', row)}</tr>\n" for row in rows)
    return f'<div class="scroll"><table><tr>{cells("th", head)}</tr>\n{body}</table></div>'
