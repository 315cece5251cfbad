"""How a case is taught (`lesson.toml`): stations in the order of the bench, questions, tempting wrong conclusions."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from stripdown import vocabulary
from stripdown.knowledge.files import KnowledgeError, Problem
from stripdown.knowledge.model import Knowledge

_FILE = Path(__file__).with_suffix(".toml")


@dataclass(frozen=True, slots=True)
class Station:
    """Part of a lesson: `steps` of the teardown it covers, `parts` and `quantities` it takes from other steps."""

    id: str
    title: str
    looks: str
    steps: tuple[str, ...]
    parts: tuple[str, ...]
    quantities: tuple[str, ...]
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Signs:
    """Patterns of findings that are there or were looked at and are sound; quantities measured; run hours below [h]."""

    there: tuple[str, ...] = ()
    sound: tuple[str, ...] = ()
    quantities: tuple[str, ...] = ()
    hours_below: float | None = None


@dataclass(frozen=True, slots=True)
class Wrong:
    """A common wrong conclusion: what leads to it, what takes it back, and for which mechanisms it is no mistake."""

    says: str
    why: str
    tempts: Signs
    refutes: Signs
    right_for: tuple[str, ...]
    wrong_for: tuple[str, ...]
    source: str

    def is_mistake(self, answer: str | None) -> bool:
        """Whether it is one where `answer` came first; None = the record does not decide."""
        return answer is None or (answer in self.wrong_for if self.wrong_for else answer not in self.right_for)


@dataclass(frozen=True, slots=True)
class Teaching:
    """All of it; minutes are those of the class room."""

    class_share: float
    least_minutes: int
    answer_minutes: int
    asks: tuple[str, ...]
    before_answer: str
    stations: tuple[Station, ...]
    wrongs: tuple[Wrong, ...]


@cache
def teaching() -> Teaching:
    """What `lesson.toml` says."""
    raw = tomllib.loads(_FILE.read_text(encoding="utf-8"))
    plan = raw["lesson"]
    return Teaching(
        class_share=plan["class_share"],
        least_minutes=plan["least_minutes"],
        answer_minutes=plan["answer_minutes"],
        asks=tuple(plan["asks"]),
        before_answer=plan["before_answer"],
        stations=tuple(_station(s) for s in raw["station"]),
        wrongs=tuple(_wrong(w) for w in raw["wrong"]),
    )


def _station(raw: dict[str, Any]) -> Station:
    lists = {name: tuple(raw[name]) for name in ("steps", "parts", "quantities", "asks")}
    return Station(id=raw["id"], title=raw["title"], looks=raw["looks"], **lists)


def _wrong(raw: dict[str, Any]) -> Wrong:
    return Wrong(
        raw["says"],
        raw["why"],
        _signs(raw["tempts"]),
        _signs(raw["refutes"]),
        tuple(raw.get("right_for", ())),
        tuple(raw.get("wrong_for", ())),
        raw["source"],
    )


def _signs(raw: dict[str, Any]) -> Signs:
    lists = {name: tuple(raw.get(name, ())) for name in ("there", "sound", "quantities")}
    return Signs(**lists, hours_below=raw.get("hours_below"))


def check(teaching: Teaching, knowledge: Knowledge) -> None:
    """Raise KnowledgeError with everything in the lesson that the knowledge does not know."""
    problems = [Problem(_FILE.name, 0, what) for what in _problems(teaching, knowledge)]
    if problems:
        raise KnowledgeError(problems)


def _problems(teaching: Teaching, knowledge: Knowledge) -> Iterator[str]:
    placed = [step for station in teaching.stations for step in station.steps]
    for step in knowledge.steps:
        if placed.count(step.id) != 1:
            yield f"step {step.id} stands at {placed.count(step.id)} stations, not at one"
    for unknown in sorted(set(placed) - {s.id for s in knowledge.steps}):
        yield f"{unknown} is no step of checks.toml"
    for wrong in teaching.wrongs:
        for pattern in (*wrong.tempts.there, *wrong.tempts.sound, *wrong.refutes.there, *wrong.refutes.sound):
            if not any(matches(pattern, finding) for finding in knowledge.findings):
                yield f"“{wrong.says}”: {pattern} names no finding"
        for mechanism in sorted({*wrong.right_for, *wrong.wrong_for} - set(vocabulary.mechanisms())):
            yield f"“{wrong.says}”: {mechanism} is no mechanism"
        if wrong.source not in knowledge.sources:
            yield f"“{wrong.says}”: source {wrong.source} is not in sources.toml"


def matches(pattern: str, finding: str) -> bool:
    """Whether a finding is one that a pattern names; `*` stands for any letters."""
    return fnmatchcase(finding, pattern)
