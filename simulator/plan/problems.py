"""From the validator's findings to lines a person can act on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from simulator.errors import closest, closest_word, shown

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

TYPE_HINTS = {
    "float_type": "a number without quotes is needed, e.g. 1.5",
    "int_type": "a whole number without quotes is needed, e.g. 10",
    "bool_type": "true or false is needed, without quotes",
    "string_type": 'text in quotes is needed, e.g. "text"',
    "tuple_type": "a list in square brackets is needed, e.g. [1, 2]",
    "model_type": "a table is needed: write its keys under a [heading]",
    "finite_number": "nan and inf say nothing; write a number",
}
"""What to do when a value is of the wrong kind, by the validator's name for the fault."""


def describe_faults(
    root: type[BaseModel], errors: Iterable[ErrorDetails], where: str
) -> list[tuple[str, str]]:
    """Turn validation errors into (where, problem) pairs, one a line."""
    faults: dict[str, str] = {}
    found = list(errors)
    misspelt = {_meant(root, error) for error in found if error["type"] == "extra_forbidden"}
    for error in found:
        if error["type"] == "missing" and error["loc"] in misspelt:
            continue  # the misspelt key is named, and with it what was meant
        owner, field, names = _walk(root, error["loc"])
        key = ".".join(names)
        place = f"{where}: {key}" if key else where
        faults.setdefault(place, _problem(root, owner, field, error))
    return list(faults.items())


def _walk(
    root: type[BaseModel], loc: Sequence[int | str]
) -> tuple[type[BaseModel], FieldInfo | None, list[str]]:
    """Follow an error's location to its model, its field and the key as a person writes it."""
    owner = root
    field: FieldInfo | None = None
    names: list[str] = []
    for part in loc:
        if isinstance(part, int):
            names[-1] += f"[{part + 1}]"
            continue
        inner = model_in(field.annotation) if field else None
        if field is not None and inner is None:
            break  # the rest names a branch of the validator, not something a person wrote
        owner = inner or owner
        field = owner.model_fields.get(part)
        names.append(part)
        if field is None:
            break
    return owner, field, names


def _meant(root: type[BaseModel], error: ErrorDetails) -> tuple[int | str, ...]:
    """Give the location of the key that an unknown one most likely stands for."""
    owner, _, _ = _walk(root, error["loc"])
    word = closest_word(str(error["loc"][-1]), owner.model_fields)
    return (*error["loc"][:-1], word)


def model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - any annotation
    """Find the model an annotation holds, through tuples and unions."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (model_in(part) for part in get_args(annotation))
    return next((model for model in found if model), None)


def note(field: FieldInfo, name: str) -> str:
    """Read one of the notes kept beside a plan key."""
    extra = field.json_schema_extra
    return str(extra.get(name, "")) if isinstance(extra, dict) else ""


def bounds(field: FieldInfo) -> tuple[float | None, float | None]:
    """Read the least and the greatest value a key may have."""
    low = next((m.ge for m in field.metadata if hasattr(m, "ge")), None)
    high = next((m.le for m in field.metadata if hasattr(m, "le")), None)
    return low, high


def choices(annotation: Any) -> tuple[str, ...]:  # noqa: ANN401 - any annotation
    """List the words an annotation allows, through tuples and unions."""
    if get_origin(annotation) is Literal:
        return tuple(str(word) for word in get_args(annotation))
    return tuple(word for part in get_args(annotation) for word in choices(part))


def _problem(
    root: type[BaseModel], owner: type[BaseModel], field: FieldInfo | None, error: ErrorDetails
) -> str:
    """Say what was found, what is allowed and what to do."""
    kind, found = error["type"], shown(error["input"])
    if kind == "extra_forbidden":
        return _unknown_key(root, owner, str(error["loc"][-1]))
    if kind == "missing":
        return _missing_key(field)
    if kind == "literal_error" and field is not None:
        words = choices(field.annotation)
        allowed = ", ".join(repr(word) for word in words)
        return f"found {found}; {closest(str(error['input']), words)}allowed: {allowed}"
    if kind in {"greater_than_equal", "less_than_equal"} and field is not None:
        low, high = bounds(field)
        unit, why = note(field, "unit"), note(field, "why")
        least = "" if low is None else f"{low:.12g}"
        span = f"{least} to {high:.12g}" if high is not None else f"from {least}"
        allowed = f"allowed: {span.strip()} {unit}".rstrip()
        return f"found {found}; {allowed}" + (f" ({why})" if why else "")
    if kind == "value_error":
        return str(error["ctx"]["error"])
    return f"found {found}; {TYPE_HINTS.get(kind, error['msg'].lower())}"


def _unknown_key(root: type[BaseModel], owner: type[BaseModel], key: str) -> str:
    """Name the key most like an unknown one, in this table or in another."""
    allowed = [name for name, field in owner.model_fields.items() if not field.exclude]
    hint = closest(key, allowed)
    if not hint:
        tables = {name: model_in(f.annotation) for name, f in root.model_fields.items()}
        homes = [name for name, model in tables.items() if model and key in model.model_fields]
        hint = f"it belongs under [{homes[0]}]; " if homes else ""
    return f"unknown key; {hint}allowed here: {', '.join(allowed)}"


def _missing_key(field: FieldInfo | None) -> str:
    """Say what a missing key or table is for."""
    if field is None:
        return "missing; add it"
    model = model_in(field.annotation)
    if model is None:
        return f"missing; add it: {field.description}"
    needed = [name for name, inner in model.model_fields.items() if inner.is_required()]
    return f"missing table; add it with at least: {', '.join(needed) or 'its keys'}"
