"""An entry of exclusions.toml → the exclusions it stands for: one of each of its groups, in every combination."""

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from stripdown.knowledge.files import meant
from stripdown.knowledge.model import Exclusion, Finding

AT_EVERY_CYLINDER = " at every cylinder"
"""What may stand behind a level."""
CYLINDER_PARTS = (
    "suction_reed",
    "discharge_valve",
    "valve_backer",
    "backer_bolts",
    "piston",
    "piston_rings",
    "cylinder_bore",
    "wrist_pin",
    "connecting_rod",
)
Problem = Callable[[str], None]


def of_entry(entry: Mapping[str, Any], findings: Mapping[str, Finding], problem: Problem) -> Iterator[Exclusion]:
    """Its exclusions; `problem` is told what is wrong with it."""
    unless = frozenset(f for f in entry.get("unless", ()) if _known(f, "finding", findings, problem))
    common = _levels(entry.get("findings", {}), findings, problem)
    groups = [_levels(group, findings, problem) for group in entry.get("one_of", ())]
    named = [*common, *itertools.chain(*groups)]
    if len(common) + len(groups) < 2 or len(set(named)) < len(named):
        problem("an exclusion needs two findings or more, each of them once")
    for chosen in itertools.product(*(group.items() for group in groups)):
        least = common | dict(chosen)
        yield Exclusion(
            findings={f: level for f, (level, _) in least.items()},
            everywhere=frozenset(f for f, (_, everywhere) in least.items() if everywhere),
            unless=unless,
            rate=float(entry["rate"]),
            why=entry["why"],
            source=entry["source"],
        )


def _levels(words: Mapping[str, str], findings: Mapping[str, Finding], problem: Problem) -> dict[str, tuple[int, bool]]:
    """Finding → (its least level, whether at every cylinder)."""
    least = {}
    for name, word in words.items():
        if not _known(name, "finding", findings, problem):
            continue
        level = word.removesuffix(AT_EVERY_CYLINDER)
        everywhere = level != word
        levels = ("none", *findings[name].levels)
        if everywhere and (level != "heavy" or name.split(".")[0] not in CYLINDER_PARTS):
            problem(f"{name} {word}: only heavy, and only of a part that each cylinder has")
        elif _known(level, f"level of {name}", levels, problem):
            least[name] = levels.index(level), everywhere
    return least


def _known(word: str, kind: str, allowed: Iterable[str], problem: Problem) -> bool:
    if word in allowed:
        return True
    problem(f"{word} is no {kind}{meant(word, sorted(allowed))}")
    return False
