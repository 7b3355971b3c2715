"""Write anew what the pages of `trajplan help` take from the code, and the schema of a case.

    python scripts/make_help.py

Between the marks ``<!-- made: NAME -->`` and ``<!-- end -->`` of a page stands what the models,
the rules and the parser say; a test compares.
"""

from __future__ import annotations

import ast
import importlib
import json
import re
import sys
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel

sys.path.insert(0, str(Path(__file__).parents[1]))

from trajplan.checks import LIMIT_NOTES, Limits
from trajplan.cli._parser import parser
from trajplan.files import Case, case_schema, plan_schema, reduction_schema

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from pydantic.fields import FieldInfo

PACKAGE = Path(__file__).parents[1] / "trajplan"
PAGES = PACKAGE / "help"


def main() -> None:
    """Write all pages and schemas."""
    for page in PAGES.glob("*.md"):
        page.write_text(made_anew(page.read_text(encoding="utf-8")), encoding="utf-8")
    for name, schema in schemas().items():
        text = json.dumps(schema, indent=1, ensure_ascii=False)
        (PACKAGE / "files" / f"{name}.schema.json").write_text(f"{text}\n", encoding="utf-8")


def schemas() -> dict[str, dict[str, Any]]:
    """The schemas that ship, by the first word of their files' names."""
    return {"case": case_schema(), "plan": plan_schema(), "reduction": reduction_schema()}


def made_anew(page: str) -> str:
    """A page with what the code says now between its marks."""
    for name in re.findall(r"<!-- made: (\w+) -->", page):
        marked = re.compile(rf"(<!-- made: {name} -->\n).*?(<!-- end -->)", re.DOTALL)
        told = TABLES[name]()
        page = marked.sub(lambda mark, told=told: f"{mark[1]}{told}\n{mark[2]}", page)
    return page


def markdown(*rows: tuple[str, ...]) -> str:
    """Rows as a table, the first its head."""
    lines = [f"| {' | '.join(row)} |" for row in rows]
    return "\n".join([lines[0], f"|{' --- |' * len(rows[0])}", *lines[1:]])


def case_keys() -> str:
    """Every key of a case: its default and what it means."""
    return markdown(("key", "default", "meaning"), *_keys(Case))


def _keys(model: type[BaseModel], before: str = "") -> Iterator[tuple[str, ...]]:
    for name, field in model.model_fields.items():
        key = before + (field.alias or name)
        inner = next(_models(field.annotation), None)
        if before or inner is None or _repeated(field):
            yield f"`{key}`", _default(field), field.description or ""
        if inner is not None and not before:
            yield from _keys(inner, f"{key}.")


def _repeated(field: FieldInfo) -> bool:
    return field.default == ()


def _models(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models(part)


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    value = field.get_default(call_default_factory=True)
    if value in (None, "", ()) or value == {}:
        return "none"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return f"`{json.dumps(value)}`"
    return f"`{value}`" if isinstance(value, str) else f"{value:g}"


def limits() -> str:
    """Every limit, with its default and where it comes from."""
    default = {field.name: field.default for field in fields(Limits)}
    rows = (
        (f"`{name}`", _value(default[name], note.unit), note.meaning, note.source)
        for name, note in LIMIT_NOTES.items()
    )
    return markdown(("limit", "default", "meaning", "source"), *rows)


def _value(number: float, unit: str) -> str:
    return f"{number:g} {unit.removesuffix('s') if number == 1.0 else unit}".strip()


def commands() -> str:
    """Every command and what it takes."""
    subs = next(action for action in parser()._actions if action.choices)  # noqa: SLF001
    rows = ((f"`{_usage(sub.format_usage())}`", str(sub.description)) for sub in _subs(subs))
    return markdown(("command", "does"), *rows)


def _subs(action: Any) -> Iterable[Any]:
    return action.choices.values()


def _usage(usage: str) -> str:
    return " ".join(usage.removeprefix("usage: ").split()).replace("[-h] ", "").replace("|", "/")


def rules() -> str:
    """Every rule that writes a finding: what it asks and where its limits come from."""
    found: dict[str, tuple[str, str]] = {}
    for folder in ("checks", "planner", "show/_window"):
        for file in sorted((PACKAGE / folder).glob("*.py")):
            for name, asks, source in _rules_of(file):
                known = found.get(name, ("", ""))
                found[name] = (known[0] or asks, known[1] or source)
    rows = ((f"`{name}`", asks, source) for name, (asks, source) in sorted(found.items()))
    return markdown(("rule", "asks", "source"), *rows)


#: What makes a finding with the rule's name as its first word, and which word is the source.
MAKERS = {"Finding": 7, "Ruling": 99, "told": 6, "one_number": 4, "_worst": 2}


def _rules_of(file: Path) -> Iterator[tuple[str, str, str]]:
    module = importlib.import_module(
        ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts)
    )
    tree = ast.parse(file.read_text(encoding="utf-8"))
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        asks = (ast.get_docstring(function) or "").partition("\n")[0]
        if function.name.startswith("reduce_") and file.parent.name == "checks":
            yield function.name, asks, ""
        for call in (node for node in ast.walk(function) if isinstance(node, ast.Call)):
            rule, source = _rule_and_source(call)
            for name in _names(rule):
                yield name, asks, _told(source, vars(module))


def _rule_and_source(call: ast.Call) -> tuple[ast.expr | None, ast.expr | None]:
    given = {word.arg: word.value for word in call.keywords}
    place = MAKERS.get(ast.unparse(call.func))
    if place is None:
        return given.get("rule"), given.get("source")
    rule = given.get("rule", call.args[0] if call.args else None)
    return rule, given.get("source", call.args[place] if place < len(call.args) else None)


def _names(rule: ast.expr | None) -> list[str]:
    if isinstance(rule, ast.JoinedStr):
        name = ast.unparse(rule)[2:-1]
        return [f"{it}_clearance" for it in ("joint", "avoid") if name.endswith("}_clearance")]
    if isinstance(rule, ast.Constant) and re.fullmatch(r"[a-z_]+", str(rule.value)):
        return [str(rule.value)]
    return []


def _told(source: ast.expr | None, known: dict[str, Any]) -> str:
    """The source as the code writes it; empty where it is worked out there."""
    try:
        said = "" if source is None else eval(ast.unparse(source), known)
    except NameError:
        return ""
    return said if isinstance(said, str) else ""


def plan_fields() -> str:
    """Every field of the plan file, as its schema describes it."""
    return _fields(plan_schema(), "PlanFile")


def reduction_fields() -> str:
    """Every field of the record of a reduction."""
    return _fields(reduction_schema(), "ReductionFile")


def _fields(schema: dict[str, Any], top: str) -> str:
    parts = {top: schema, **schema["$defs"]}
    return "\n\n".join(
        f"{part.get('description', name).partition(chr(10))[0]}\n\n"
        + markdown(("field", "meaning"), *_described(part["properties"], parts))
        for name, part in parts.items()
        if "properties" in part
    )


def _described(properties: dict[str, Any], parts: dict[str, Any]) -> Iterator[tuple[str, ...]]:
    for name, told in properties.items():
        inner = re.search(r"#/\$defs/(\w+)", json.dumps(told))
        of_inner = parts[inner[1]].get("description", "") if inner else ""
        said = told.get("description") or of_inner.partition("\n")[0]
        yield f"`{name}`", said.replace("|", "/")


TABLES = {
    "case": case_keys,
    "limits": limits,
    "commands": commands,
    "rules": rules,
    "plan": plan_fields,
    "reduction": reduction_fields,
}

if __name__ == "__main__":
    main()
