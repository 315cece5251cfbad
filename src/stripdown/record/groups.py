"""The main groups of machine and site (`groups.toml`): what pages and fleet call looked at and not looked at."""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from stripdown.record.model import Record


@dataclass(frozen=True, slots=True)
class Group:
    """Parts and quantities that a person looks at together; `side` is machine or site."""

    id: str
    title: str
    side: str
    parts: tuple[str, ...]
    quantities: tuple[str, ...]


@cache
def groups() -> tuple[Group, ...]:
    """All main groups in the order of a teardown."""
    raw = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return tuple(Group(g["id"], g["title"], g["side"], tuple(g["parts"]), tuple(g["quantities"])) for g in raw["group"])


def looked_at(record: Record) -> dict[str, bool]:
    """Group id → whether the record says anything that could be read about it."""
    parts = {o.part for o in record.observations if o.extent != "unreadable"}
    found = touched(parts | {r.quantity for r in record.readings})
    return {g.id: g.id in found for g in groups()}


def touched(names: Iterable[str]) -> frozenset[str]:
    """Ids of the groups that some of these parts and quantities belong to."""
    group_of = _group_of()
    return frozenset(i for name in names for i in group_of.get(name, ()))


@cache
def _group_of() -> dict[str, tuple[str, ...]]:
    names = {name for g in groups() for name in (*g.parts, *g.quantities)}
    return {n: tuple(g.id for g in groups() if n in g.parts or n in g.quantities) for n in names}
