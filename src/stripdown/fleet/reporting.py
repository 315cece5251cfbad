"""Result lines and population → the whole fleet report: the object of `fleet --json`, and its tables."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet import compare, groups, life, money, places, quality, tallies, trend
from stripdown.fleet.agreement import agreement
from stripdown.fleet.alerts import alerts
from stripdown.fleet.compare import Change
from stripdown.fleet.equal_age import equal_age
from stripdown.fleet.forecast import Forecast, forecast
from stripdown.fleet.lives import Lives, event_day
from stripdown.fleet.notices import counted
from stripdown.fleet.opened import opened
from stripdown.fleet.plain import plain
from stripdown.fleet.population import Population
from stripdown.fleet.selection import Choice
from stripdown.fleet.tables import tables
from stripdown.record.fault import Fault
from stripdown.version import __version__

METHODS = {
    "share": "Wilson, 95 %",
    "expected": "records resampled, 95 %",
    "life": "grouped censored Weibull, likelihood ratio, 95 %",
}


@dataclass(frozen=True)
class FleetReport:
    """Everything the fleet page shows. `returns`: the table of the judged returns counted."""

    answer: Mapping[str, Any]
    returns: pd.DataFrame

    def as_json(self) -> dict[str, Any]:
        """The object of `fleet --json`: plain numbers, text, lists; null where a figure does not exist."""
        return dict(plain(self.answer))

    def tables(self) -> dict[str, pd.DataFrame]:
        """Name → table, as written beside the page."""
        return tables(self.as_json(), self.returns)


def report(
    lines: Iterable[Mapping[str, Any]],
    population: Population | None = None,
    *,
    until: date | None = None,
    model: Choice = None,
    site: Choice = None,
    contractor: Choice = None,
    change: date | None = None,
    changed_sites: Choice = None,
) -> FleetReport:
    """The report on all lines, or on those of some models, sites, contractors; `until`: the last day watched.

    `change`: a day on which something was put right, to compare before and after, at `changed_sites` beside all others.
    """
    fleet = opened(lines, population, until=until, choices={"model": model, "site": site, "contractor": contractor})
    returns, lives, rated, notices = fleet.returns, fleet.lives, fleet.rated, list(fleet.notices)
    days = event_day(returns).dropna()
    chosen = {"model": model, "site": site, "contractor": contractor, "change": change, "changed_sites": changed_sites}
    answer: dict[str, Any] = {
        "chosen": {k: v for k, v in chosen.items() if v},
        "returns": len(returns),
        "rejected": fleet.rejected,
        "undecided": int((~tallies.decided(returns)).sum()),
        "period": [days.min().date(), days.max().date()] if len(days) else [],
        "until": fleet.until,
    }
    answer |= _tallies(returns)
    answer["by"] = groups.by_groups(returns, lives, rated)
    ahead = Forecast([], np.zeros(0))
    if lives is None:
        answer |= {"life": [], "incidence": [], "kaplan_meier": []}
    else:
        models = life.model_lives(lives)
        answer |= _life(lives, models, returns)
        ahead = forecast(models, lives, returns, equal_age(lives))
    answer["forecast"] = ahead.months
    answer |= _looks(lives, returns, rated, _change(change, changed_sites), notices)
    answer["agreement"] = agreement(returns, notices)
    answer["costs"] = money.costs(returns, ahead, notices)
    answer |= {"flow": tallies.flow(returns), "electrical": tallies.electrical(returns)}
    answer |= {"quality": quality.quality(returns), "next_checks": quality.checks(returns)}
    answer["knowledge"] = _knowledge(returns, notices)
    answer |= {"notices": [n.as_json() for n in notices], "methods": METHODS, "version": __version__}
    return FleetReport(answer, returns)


def _tallies(returns: pd.DataFrame) -> dict[str, Any]:
    first = tallies.by_mechanism(returns)
    sound = next((r for r in first if r["id"] == "no_fault"), None)
    return {
        "first": first,
        "causes": tallies.by_cause(returns),
        "parts": tallies.by_part(returns),
        "no_fault": tallies.mean_share(returns["first.no_fault"]) if sound else None,
        "avoidable": {k: tallies.mean_share(returns[f"avoidable_{k}"]) for k in ("return", "failure")},
    }


def _life(lives: Lives, models: list[life.ModelLife], returns: pd.DataFrame) -> dict[str, Any]:
    return {
        "life": [m.as_json(lives) for m in models],
        "incidence": life.incidences(lives, models, returns),
        "kaplan_meier": [life.kaplan_meier(m) for m in models],
    }


def _change(day: date | None, sites: Choice) -> Change | None:
    return None if day is None else Change(day, (sites,) if isinstance(sites, str) else tuple(sites or ()))


def _looks(
    lives: Lives | None, returns: pd.DataFrame, rated: frozenset[str], change: Change | None, notices: list[Fault]
) -> dict[str, Any]:
    """All that is compared, with the number of looks for which every p was corrected."""
    age = equal_age(lives) if lives else None
    months = trend.months(age) if age else []
    trends = trend.trends(returns, age)
    groups_ = compare.comparisons(lives, age, rated, change) if lives and age else []
    strange = [s for s in change.sites if s not in lives.frame["site"].cat.categories] if change and lives else []
    what = "changed sites at which no unit stands by the units table and the returns"
    notices += counted("", len(strange), what, "write them as the files do", pd.Series(strange, dtype="str"))
    at_places = places.places(returns, age, lives.until if lives else None)
    looks, too_small = compare.settle(trends, groups_, at_places if age else [])
    if lives and "replaces" not in rated:
        what = "the units table does not state which units are replacements: no ratio of replacements to first units"
        notices.append(Fault("", "replaces", what, "add the column replaces (serial of the unit before)"))
    return {
        "trend": sorted(trends, key=lambda r: r["p"]),
        "alike": trend.alike(returns),
        "comparisons": sorted(groups_, key=lambda r: r["p"]),
        "alerts": alerts(groups_, at_places, lives.frame, age, returns) if lives and age else [],
        "repeats": at_places,
        "months": months,
        "looks": looks,
        "looks_too_small": too_small,
    }


def _knowledge(returns: pd.DataFrame, notices: list[Fault]) -> str | None:
    """The hash that most lines were judged with; more than one is named."""
    hashes = returns["knowledge"].astype("str").value_counts()
    if len(hashes) > 1:
        what = f"lines judged with {len(hashes)} different states of the knowledge"
        notices.append(Fault("", "knowledge", what, "judge all records again with one, so that they can be compared"))
    return str(hashes.index[0]) if len(hashes) else None
