"""From a pydantic error to one sentence: where, what was found, what would be right."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel
from pydantic_core import PydanticCustomError

from trajplan.implants import nearest, shown

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

__all__ = ["refuse", "sentence"]

#: pydantic's error type -> remedy; values in braces come from the error's context.
REMEDIES = {
    "bool_type": "give true or false",
    "dict_type": "give a table of keys and values",
    "finite_number": "give a finite number",
    "float_type": "give a number",
    "greater_than": "give a number above {gt:g}",
    "greater_than_equal": "give a number not below {ge:g}",
    "int_from_float": "give a whole number",
    "int_type": "give a whole number",
    "less_than": "give a number below {lt:g}",
    "less_than_equal": "give a number not above {le:g}",
    "literal_error": "give one of {expected}",
    "model_type": "give a table of keys and values",
    "string_too_short": "give a text that is not empty",
    "string_type": "give a text in quotes",
    "too_short": "give at least {min_length}",
    "tuple_type": "give a list",
}


def refuse(found: str, remedy: str) -> PydanticCustomError:
    """Error for a validator of our own to raise.

    Parameters
    ----------
    found, remedy : str
        As in `trajplan.errors.InputError`.

    Returns
    -------
    PydanticCustomError
    """
    return PydanticCustomError("trajplan", "{found}; {remedy}", {"found": found, "remedy": remedy})


def sentence(error: ValidationError, model: type[BaseModel]) -> tuple[str | None, str, str]:
    """Where the first error lies, what was found, and how to mend it.

    Parameters
    ----------
    error : ValidationError
        As pydantic raised it.
    model : type of BaseModel
        The model that was validated; unknown keys are compared with its fields.

    Returns
    -------
    where : str or None
        Path of the key, such as ``screws.count`` or ``joint 2.clearance``.
    found : str
        What was found.
    remedy : str
        What would be right.
    """
    details = error.errors(include_url=False)
    found, remedy = _explain(details[0], model)
    if len(details) > 1:
        remedy += f" ({len(details) - 1} more of this kind of trouble in the file)"
    return _where(details[0]["loc"]), found, remedy


def _explain(detail: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    key = str(detail["loc"][-1]) if detail["loc"] else ""
    if kind == "trajplan":
        return str(context["found"]), str(context["remedy"])
    if kind == "extra_forbidden":
        return f'the key "{key}" is not known', nearest(key, _keys_at(model, detail["loc"][:-1]))
    if kind == "missing":
        return "the key is missing", f'add "{key}"'
    if kind == "literal_error" and context["expected"] == "True":
        return f"found {shown(value)}", "give true, or leave the key out"
    if kind in REMEDIES:
        return f"found {shown(value)}", REMEDIES[kind].format(**context)
    return f"found {shown(value)}", detail["msg"][:1].lower() + detail["msg"][1:]


def _where(location: tuple[int | str, ...]) -> str | None:
    text = ""
    for part in location:
        text += f" {part + 1}" if isinstance(part, int) else f".{part}"
    return text.lstrip(".") or None


def _keys_at(model: type[BaseModel], location: tuple[int | str, ...]) -> list[str]:
    for part in location:
        if isinstance(part, str):
            field = next(f for name, f in _by_key(model).items() if name == part)
            model = _model_in(field.annotation) or model
    return list(_by_key(model))


def _by_key(model: type[BaseModel]) -> dict[str, Any]:
    return {
        field.validation_alias if isinstance(field.validation_alias, str) else name: field
        for name, field in model.model_fields.items()
    }


def _model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - any annotation
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_in(part) for part in get_args(annotation))
    return next((model for model in found if model is not None), None)
