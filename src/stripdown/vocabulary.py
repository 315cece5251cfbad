"""The ids that records and results use, with their meaning in words: `vocabulary.toml`, read once."""

import tomllib
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

_COMMON_CONDITIONS = ("missing", "wrong_part")


@cache
def _table(name: str) -> MappingProxyType[str, Any]:
    raw = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return MappingProxyType(raw[name])


def parts() -> dict[str, tuple[str, ...]]:
    """Part id → conditions that may be recorded for it, those every part takes included."""
    return {part: (*conditions, *_COMMON_CONDITIONS) for part, conditions in _table("parts").items()}


@lru_cache(maxsize=4096)
def presence_only(part: str, condition: str) -> bool:
    """Whether this condition is there or not, so that a record may leave `extent` out."""
    patterns = _table("presence")["conditions"]
    return any(p in (condition, f"{part}.{condition}", f"{part}.*") for p in patterns)


def mechanisms() -> MappingProxyType[str, str]:
    """Mechanism id → what it is, in words; 21 of them, in the order of the vocabulary."""
    return _table("mechanisms")


def damage() -> MappingProxyType[str, str]:
    """Damage state id → words: the steps between a mechanism and what is seen."""
    return _table("damage")


def causes() -> MappingProxyType[str, str]:
    """Cause id → what to put right, in words."""
    return _table("causes")


def outcomes() -> MappingProxyType[str, str]:
    """Outcome id → what should be done with this compressor, in words."""
    return _table("outcomes")


def liabilities() -> MappingProxyType[str, str]:
    """Liability id → words."""
    return _table("liability")


def label(node: str) -> str:
    """Plain words for an id, `part.condition` included: 'main_bearing.worn' → 'main bearing worn'."""
    return node.replace("_", " ").replace(".", " ", 1)


def words(node: str) -> str:
    """The vocabulary's sentence for a mechanism, cause, damage state, outcome or liability; else `label`."""
    for name in ("mechanisms", "causes", "damage", "outcomes", "liability"):
        if node in _table(name):
            return str(_table(name)[node])
    return label(node)
