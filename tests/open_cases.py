"""The open cases in `cases/`, each read and judged once, and variants of them."""

import copy
import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from stripdown.case import Case, judge
from stripdown.record import Record, parse

Raw = dict[str, Any]
FOLDER = Path(__file__).parent / "cases"
EXPECTED: dict[str, dict[str, Any]] = tomllib.loads((FOLDER / "expected.toml").read_text(encoding="utf-8"))


def raw(name: str) -> dict[str, Any]:
    """The record of a case as its file holds it, to be changed at will."""
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def record(raw: dict[str, Any]) -> Record:
    """The record of a raw mapping, which must have no fault."""
    made = parse(raw, file="case.toml", folder=str(FOLDER))
    assert isinstance(made, Record), made
    return made


@cache
def judged(name: str) -> Case:
    """The answer to a case."""
    return judge(record(raw(name)))


@cache
def answer(name: str) -> dict[str, Any]:
    """The object of `judge --json` of a case; not to be changed."""
    return judged(name).as_json()


def changed(name: str, change: Callable[[dict[str, Any]], object], *, brief: bool = True) -> dict[str, Any]:
    """The answer to a case after a change of its raw record."""
    given = copy.deepcopy(raw(name))
    change(given)
    return judge(record(given), brief=brief).as_json(brief=brief)


def share(answer: dict[str, Any], key: str, name: str) -> float:
    """Probability of an id in one of the lists of an answer."""
    return next(x["probability"] for x in answer[key] if x["id"] == name)
