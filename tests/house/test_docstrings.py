"""What crosses a room, and every published model, says all a stranger needs; its examples run."""

from __future__ import annotations

import ast
import dataclasses
import doctest
import importlib
import inspect
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final, get_args

from numpydoc.validate import ERROR_MSGS, validate

LEFT_OUT: Final = {
    "GL01": "ruff's D212 puts the summary on the first line, beside the quotes",
    "SA01": "a See Also section only where a reader would look further",
    "EX01": "an example only where it teaches more than the text; the tests hold the rest",
    "ES01": "one line is enough when it says all",
    "SS05": "takes nouns in -s for verbs in the third person",
    "RT01": "functions without a result, and properties, whose first line is the result",
    "YD01": "takes context managers for generators",
    "RT04": "a name or a number may open the description of a result",
    "PR08": "as above, of a parameter",
    "PR03": "quantities that belong together are described together",
    "PR04": "types stand in the annotations, which mypy checks",
    "RT02": "a pair may be named on one line",
    "SS03": "a question ends with its own mark",
    "PR01": "a record documents its fields as Attributes, which the next test checks",
    "PR02": "as above",
}
"""Checks of numpydoc left out, each with its reason; the last two for records, and for functions of
few arguments."""

FEW: Final = 3
"""Arguments that a sentence can explain."""


@cache
def crossing(root: Path) -> frozenset[tuple[str, str]]:
    """Give module and name of all that another room imports; the command line is one room."""
    found = set()
    for path in (root / "simulator").rglob("*.py"):
        here = path.relative_to(root).parts[1].replace("cli.py", "commands")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("simulator."):
                module = str(node.module)
                if module.split(".")[1] != here:
                    found |= {(module, alias.name) for alias in node.names}
    return frozenset(found)


def documented_in_full(root: Path) -> Iterator[tuple[str, object]]:
    """Give functions and classes that cross a room, and the published models."""
    for module, name in sorted(crossing(root)):
        member = getattr(importlib.import_module(module), name, None)
        own = getattr(member, "__module__", None) == module
        if own and (inspect.isfunction(member) or inspect.isclass(member)):
            yield f"{module}.{name}", member


def said_in_a_sentence(member: object) -> bool:
    """Tell a record, or a function whose few arguments its sentence and their types explain."""
    few = inspect.isfunction(member) and len(inspect.signature(member).parameters) <= FEW
    return inspect.isclass(member) or (few and "-----" not in str(member.__doc__))


def fields_of(member: object) -> list[str]:
    """List the public fields of a record: a dataclass, a named tuple or a validated model."""
    if not inspect.isclass(member):
        return []
    if dataclasses.is_dataclass(member):
        names = [field.name for field in dataclasses.fields(member)]
    else:
        # A model's field carries its meaning itself; one that is a table has that of its type.
        names = [
            name
            for name, field in getattr(member, "model_fields", {}).items()
            if not field.description
            and not any(
                hasattr(kind, "model_fields")
                for kind in [field.annotation, *get_args(field.annotation)]
            )
        ]
        names += getattr(member, "_fields", ())
    return [name for name in names if not name.startswith("_")]


def test_what_crosses_a_room_is_documented_in_the_numpydoc_form(root: Path) -> None:
    faults = []
    for full, member in documented_in_full(root):
        excused = set(LEFT_OUT) - (set() if said_in_a_sentence(member) else {"PR01", "PR02"})
        faults += [
            f"{full}: {code} {text}"
            for code, text in validate(full)["errors"]
            if code not in excused
        ]
    assert not faults, "\n".join(faults)


def test_every_field_of_a_record_that_crosses_a_room_is_documented(root: Path) -> None:
    faults = []
    for full, member in documented_in_full(root):
        parents = inspect.getmro(member) if inspect.isclass(member) else (member,)
        text = "\n".join(inspect.getdoc(one) or "" for one in parents)
        faults += [
            f"{full}.{field}"
            for field in fields_of(member)
            # `a, b : float` documents two at once.
            if not re.search(rf"^(\w+, )*{field}(, \w+)* : ", text, flags=re.MULTILINE)
        ]
    assert not faults, f"not documented under Attributes: {', '.join(faults)}"


def test_the_examples_in_the_docstrings_run(module_names: list[str]) -> None:
    outcomes = {
        name: doctest.testmod(importlib.import_module(name), verbose=False) for name in module_names
    }
    assert {name for name, outcome in outcomes.items() if outcome.failed} == set()
    assert sum(outcome.attempted for outcome in outcomes.values()) >= 20


def test_every_check_left_out_is_one_that_numpydoc_has() -> None:
    assert set(LEFT_OUT) <= set(ERROR_MSGS)
