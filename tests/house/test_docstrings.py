"""Every public name says what it gives, in the numpydoc form, and its examples run."""

from __future__ import annotations

import dataclasses
import doctest
import importlib
import inspect
import re
from collections.abc import Iterator
from types import ModuleType
from typing import Final, get_args

import pytest
from numpydoc.validate import validate

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
}
"""Checks of numpydoc left out, each with its reason."""

ONLY_FOR_CLASSES: Final = {
    "PR01": "a record documents its fields as Attributes, which the next test checks",
    "PR02": "as above",
}


def members(module: ModuleType) -> Iterator[tuple[str, object]]:
    """Give the functions and classes that a module defines under a public name."""
    for name, member in vars(module).items():
        kind = inspect.isfunction(member) or inspect.isclass(member)
        if kind and not name.startswith("_") and member.__module__ == module.__name__:
            yield f"{module.__name__}.{name}", member


def names_within(name: str, member: object) -> Iterator[str]:
    """Give a function, or a class with its public methods and properties."""
    yield name
    if inspect.isclass(member):
        kinds = (property, classmethod, staticmethod)
        for part, value in vars(member).items():
            if not part.startswith("_") and (inspect.isfunction(value) or isinstance(value, kinds)):
                yield f"{name}.{part}"


def test_every_public_name_is_documented_in_the_numpydoc_form(module_name: str) -> None:
    faults = []
    for name, member in members(importlib.import_module(module_name)):
        for full in names_within(name, member):
            is_class = inspect.isclass(member) and full == name
            excused = LEFT_OUT | (ONLY_FOR_CLASSES if is_class else {})
            faults += [
                f"{full}: {code} {text}"
                for code, text in validate(full)["errors"]
                if code not in excused
            ]
    assert not faults, "\n".join(faults)


def is_table(annotation: object) -> bool:
    """Tell a field that holds a validated model, or several, from one that holds a value."""
    inner = [annotation, *get_args(annotation)]
    return any(hasattr(kind, "model_fields") for kind in inner)


def fields_of(member: object) -> list[str]:
    """List the public fields of a record: a dataclass, a named tuple or a validated model."""
    if not inspect.isclass(member):
        return []
    if dataclasses.is_dataclass(member):
        names = [field.name for field in dataclasses.fields(member)]
    else:
        models = getattr(member, "model_fields", {})
        # A model's field carries its meaning itself; one that is a table has that of its type.
        names = [
            name
            for name, field in models.items()
            if not field.description and not is_table(field.annotation)
        ]
        names += getattr(member, "_fields", ())
    return [name for name in names if not name.startswith("_")]


def test_every_field_of_a_record_is_documented(module_name: str) -> None:
    faults = []
    for name, member in members(importlib.import_module(module_name)):
        text = inspect.getdoc(member) or ""
        faults += [
            f"{name}.{field}"
            for field in fields_of(member)
            # `a, b : float` documents two at once.
            if not re.search(rf"^(\w+, )*{field}(, \w+)* : ", text, flags=re.MULTILINE)
        ]
    assert not faults, f"not documented under Attributes: {', '.join(faults)}"


def test_the_examples_in_the_docstrings_run(module_name: str) -> None:
    outcome = doctest.testmod(importlib.import_module(module_name), verbose=False)
    assert outcome.failed == 0, f"{outcome.failed} of {outcome.attempted} examples fail"


def test_the_package_has_examples_at_all() -> None:
    # Guards the test above against finding nothing.
    outcome = doctest.testmod(importlib.import_module("simulator.sky.sun"))
    assert outcome.attempted >= 4


@pytest.mark.parametrize("code", [*LEFT_OUT, *ONLY_FOR_CLASSES])
def test_every_check_left_out_is_one_that_numpydoc_has(code: str) -> None:
    from numpydoc.validate import ERROR_MSGS

    assert code in ERROR_MSGS
