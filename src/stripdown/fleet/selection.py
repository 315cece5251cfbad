"""Which lines count: readable, judged, each claim once, of the chosen groups, and watched by the last day."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pandas as pd

from stripdown.fleet.lives import event_day
from stripdown.fleet.notices import counted
from stripdown.fleet.population import Population
from stripdown.record.fault import Fault

_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
Choice = str | Sequence[str] | None


def judged(everything: pd.DataFrame, notices: list[Fault]) -> tuple[pd.DataFrame, int]:
    """The rows with a finding, each claim once, and the number of the others: rejected, or no result at all."""
    status = everything["status"].astype("str")
    unreadable = everything[status == "unreadable"]
    notices += counted(
        "",
        len(unreadable),
        "lines that are no result of judge",
        "left out; judge the records again",
        unreadable["claim"],
    )
    rejected = everything[status == "rejected"]
    notices += counted(
        "", len(rejected), "records rejected", "left out; stripdown check names their faults", rejected["claim"]
    )
    good = everything[~status.isin(["unreadable", "rejected"])]
    again = good[(good["claim"] != "") & good["claim"].duplicated(keep="last")]
    notices += counted(
        "",
        len(again),
        "lines with a claim that comes again later",
        "the last line of each claim counts",
        again["claim"],
    )
    return good.drop(index=again.index).reset_index(drop=True), len(rejected) + len(unreadable)


def chosen(
    returns: pd.DataFrame, population: Population | None, choices: Mapping[str, Choice], notices: list[Fault]
) -> tuple[pd.DataFrame, Population | None]:
    """Only the wanted models, sites, contractors, of returns and population alike."""
    for column, choice in choices.items():
        if choice is None or not len(choice):
            continue
        wanted = [choice] if isinstance(choice, str) else list(choice)
        known = {*returns[column].astype("str")} | ({*population.units[column].astype("str")} if population else set())
        strange = [w for w in wanted if w not in known]
        what, fix = f"chosen of {column} but in no return and no unit row", "empty groups; write them as the files do"
        notices += counted("", len(strange), what, fix, pd.Series(strange, dtype="str"))
        returns = returns[returns[column].astype("str").isin(wanted)].reset_index(drop=True)
        if population is None:
            continue
        if column != "model" and column not in population.stated:
            what = f"the units table does not state the {column}, which was chosen"
            notices.append(Fault(population.file, column, f"{what}: no life and no rates", f"add the column {column}"))
            population = None
        else:
            rows = population.units[population.units[column].astype("str").isin(wanted)]
            population = replace(population, units=rows)
    return returns, population


def named(column: str, lines: Iterable[Mapping[str, Any]], population: Population | None) -> frozenset[str]:
    """Every model, site or contractor (`column`) that a return or a unit row names."""
    parts = (line.get("unit" if column == "model" else "history") for line in lines)
    names = {str(part.get(column) or "") for part in parts if isinstance(part, Mapping)}
    units = () if population is None else population.units[column].astype("str")
    return frozenset(names.union(units) - {""})


def first_day(lines: Iterable[Mapping[str, Any]]) -> str | None:
    """The first day (ISO) on which a unit failed, or came back where no failure is dated; None where none is dated."""
    days = []
    for line in lines:
        history = line.get("history")
        if isinstance(history, Mapping):
            days.append(history.get("failed") or history.get("returned"))
    return min((d for d in days if isinstance(d, str) and _ISO_DAY.fullmatch(d)), default=None)


def watched(returns: pd.DataFrame, until: date | None, notices: list[Fault]) -> pd.DataFrame:
    """Those that failed by the last day; one that failed by then and came back later stays in."""
    if until is None:
        return returns
    later = event_day(returns) > pd.Timestamp(until)
    what = f"returns of units that failed after {until.isoformat()}"
    notices += counted("", int(later.sum()), what, "they count as still running", returns.loc[later, "claim"])
    return returns[~later]


def silent(returns: pd.DataFrame, population: Population | None) -> list[Fault]:
    """What the returns and the population leave unsaid, so that a figure is missing."""
    out: list[Fault] = []
    for column in ("model", "site", "contractor", "duty", "built", "serial"):
        none = returns[column].isna() if column == "built" else returns[column].astype("str") == ""
        out += counted(
            "",
            int(none.sum()),
            f"returns that do not state {column}",
            "they stand in no group of it",
            returns.loc[none, "claim"],
        )
    if population is None:
        what = "no units table, so the units that did not come back are unknown: no life, rate, ratio, alert, forecast"
        return [*out, Fault("", "population", what, "give one with --population")]
    for column in ("site", "contractor", "built"):
        if column not in population.stated:
            what = f"the units table does not state {column}: no rate, ratio or alert by it"
            out.append(
                Fault(
                    population.file,
                    column,
                    what,
                    f"add the column {column}" if not population.monthly else "keep one row a unit",
                )
            )
    known = set(population.units["model"].astype("str"))
    strange = returns[~returns["model"].astype("str").isin(known)]
    out += counted(
        population.file,
        len(strange),
        "returns of models without a unit row",
        "no rate or life can be trusted for them",
        strange["model"].astype("str"),
    )
    return out
