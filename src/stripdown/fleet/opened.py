"""Result lines and a units table, read and joined: what every question about a fleet starts from."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from stripdown.fleet import selection
from stripdown.fleet.columns import table
from stripdown.fleet.lives import Lives, join, last_day
from stripdown.fleet.population import Population
from stripdown.fleet.selection import Choice
from stripdown.record.fault import Fault


@dataclass(frozen=True)
class Opened:
    """`returns`: the table of the judged returns up to `until`; `lives` = None without a units table.

    `rated`: the dimensions whose running units are known; `rejected`: the number of records that could not be judged.
    """

    returns: pd.DataFrame
    lives: Lives | None
    rated: frozenset[str]
    until: date | None
    rejected: int
    notices: tuple[Fault, ...]


def opened(
    lines: Iterable[Mapping[str, Any]],
    population: Population | None = None,
    *,
    until: date | None = None,
    choices: Mapping[str, Choice] | None = None,
) -> Opened:
    """Each claim once, of the chosen groups, watched to the last day (of the files where `until` is None)."""
    notices = list(population.notices) if population else []
    judged, rejected = selection.judged(table(lines), notices)
    judged, population = selection.chosen(judged, population, choices or {}, notices)
    end = until or last_day(judged, population)
    returns = selection.watched(judged, end, notices)
    notices += selection.silent(returns, population)
    lives = join(judged, population, end) if population is not None and end is not None else None
    notices += lives.notices if lives else ()
    return Opened(returns, lives, _rated(population), end, rejected, tuple(notices))


def _rated(population: Population | None) -> frozenset[str]:
    if population is None:
        return frozenset()
    return frozenset(
        {"model"}
        | ({"build_month"} if "built" in population.stated else set())
        | (population.stated & {"site", "contractor", "replaces"})
    )
