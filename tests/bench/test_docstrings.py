"""Every function of the bench says what it takes and gives, in which unit, where from, and shows an example."""

import doctest
import importlib
import inspect
import re
from types import FunctionType, ModuleType

import pytest

MODULES = ["electrical", "lubrication", "refrigerant", "wear", "measurement"]


def modules() -> list[ModuleType]:
    return [importlib.import_module(f"stripdown.bench.{name}") for name in [*MODULES, "fluid"]]


def functions() -> list[FunctionType]:
    return [
        thing
        for module in modules()
        for name, thing in inspect.getmembers(module, inspect.isfunction)
        if thing.__module__ == module.__name__ and not name.startswith("_") and not module.__name__.endswith("fluid")
    ]


@pytest.mark.parametrize("module", modules(), ids=lambda m: m.__name__)
def test_examples_run(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


@pytest.mark.parametrize("function", functions(), ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_docstring_says_units_and_source(function):
    text = inspect.getdoc(function) or ""
    assert ">>>" in text
    assert "Source:" in text
    assert re.search(r"Result[^.]*[\[:]", text), "the result has a unit"
    for name, parameter in inspect.signature(function).parameters.items():
        shown = "parts" if parameter.kind is inspect.Parameter.VAR_POSITIONAL else name
        if shown == "fluid":  # a table, not a measured quantity
            continue
        assert re.search(rf"\b{shown}\b[^\[;]*(\[|:)", text), f"{shown} has a unit or a meaning"
