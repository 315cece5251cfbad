"""Returns and population joined into lives: when each unit began, how long it was watched, and how surely it failed."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Ages, Numbers, ages
from stripdown.fleet.notices import Notes
from stripdown.fleet.population import Population
from stripdown.record.fault import Fault

DAYS_A_MONTH = 365.25 / 12
_MONTH_SLACK = 30.0
_LEAST_ROUNDED = 12
GROUPS = ("model", "site", "contractor", "replaces")


@dataclass(frozen=True)
class Lives:
    """`frame`: model, site, contractor, replaces (categories, "" = not stated), build_month ("2021-06", category),
    start (day), age_day, count, failed (probability that it failed at age_day; the rest was taken out while good),
    row (of the table of returns, -1 = did not come back).

    start_slack, end_slack [day]: how much later it may have begun and failed, where dates are rounded to months.
    """

    frame: pd.DataFrame
    until: date
    start_slack: float
    end_slack: float
    removed_good: int
    notices: tuple[Fault, ...]

    def ages(self, rows: np.ndarray | slice = slice(None)) -> Ages:
        """The ages [day] of some rows, grouped; those of dates rounded to months as intervals."""
        f = self.frame
        age, count, failed = (f[c].to_numpy(dtype=float)[rows] for c in ("age_day", "count", "failed"))
        bad, good = failed > 0, count - failed > 1e-12
        running = np.maximum(age[good] - self.start_slack / 2, 0.0)
        left = (count - failed)[good]
        if not self.start_slack and not self.end_slack:
            return ages(age[bad], running, failed_count=failed[bad], running_count=left)
        between = np.column_stack([np.maximum(age[bad] - self.start_slack, 0.0), age[bad] + self.end_slack])
        return ages((), running, between, running_count=left, between_count=failed[bad])


def event_day(returns: pd.DataFrame) -> pd.Series:
    """The day a unit's life ended: of failure; of return where no failure is dated."""
    return returns["failed"].fillna(returns["returned"])


def last_day(returns: pd.DataFrame, population: Population | None) -> date | None:
    """The latest day of failure or removal in the files; None where they hold no date."""
    days = [event_day(returns).max()]
    if population is not None:
        days.append(population.units["removed"].max())
    days = [d for d in days if not pd.isna(d)]
    return max(days).date() if days else None


def join(returns: pd.DataFrame, population: Population, until: date) -> Lives:
    """Lives as watched to the end of `until`: what failed or was removed later counts as still running."""
    note = Notes(population.file)
    end = pd.Timestamp(until)
    units = _sound_units(population, end, note)
    back, unit_of = _sound_returns(returns, units, population, note)
    event = event_day(back)
    ended = back[event <= end]
    later = back[(event > end) & (unit_of.loc[back.index] < 0) & (back["installed"] <= end)]
    if population.monthly:
        running = _less_returns(units, ended, note)
    else:
        taken = unit_of.loc[ended.index]
        running = units[~units.index.isin(taken)]
        note.count(
            int((taken < 0).sum()),
            "returns without a unit row",
            "they count with their own dates; complete the units table",
            ended.loc[taken[taken < 0].index, "claim"],
        )
    removed = running["removed"].notna() & (running["removed"] <= end)
    note.count(
        int(running.loc[removed, "count"].sum()),
        "units removed without a record",
        "they count as removed while still good",
        running.loc[removed, "serial"],
    )
    frame = _frame(ended, later, running, end, event)
    slack = _slack(population, units, ended, note)
    return Lives(frame, until, *slack, int(running.loc[removed, "count"].sum()), tuple(note.faults))


def _sound_units(population: Population, end: pd.Timestamp, note: Notes) -> pd.DataFrame:
    """Unit rows whose dates can be, without doubles, put to work by `end`."""
    u = population.units
    checks: list[tuple[Callable[[pd.DataFrame], pd.Series], str, str]] = [
        (
            lambda d: d["removed"] < d["installed"],
            "units removed before they were installed",
            "left out of life and rates; mend the dates",
        ),
        (
            lambda d: d["built"] > d["installed"],
            "units installed before they were built",
            "left out of life and rates; mend the dates",
        ),
        (lambda d: d["installed"] > end, f"units installed after {end.date()}", "not yet running: left out"),
    ]
    for wrong, what, fix in checks:
        bad = wrong(u)
        note.count(int(u.loc[bad, "count"].sum()), what, fix, u.loc[bad, "serial"])
        u = u[~bad]
    if population.monthly:
        return u
    doubles = u[u["serial"].duplicated(keep=False)].sort_values(["serial", "installed"], kind="stable")
    free = doubles.groupby("serial", observed=True)["removed"].shift()
    first = ~doubles["serial"].duplicated()
    over = doubles[~first & ~(free <= doubles["installed"])]
    note.count(
        len(over),
        "unit rows with a serial that stands there already",
        "the first row of each counts; give each unit one row",
        over["serial"],
    )
    return u.drop(index=over.index)


def _sound_returns(
    returns: pd.DataFrame, units: pd.DataFrame, population: Population, note: Notes
) -> tuple[pd.DataFrame, pd.Series]:
    """Returns with a life (dates that can be, one a stay), and the index of each one's unit row (-1: none)."""
    back = returns.copy()
    event = event_day(back)
    unit_of = _match(back, event, units) if not population.monthly else pd.Series(-1, index=back.index)
    matched = unit_of[unit_of >= 0]
    own = units.loc[matched.to_numpy()].set_axis(matched.index)
    differs = back.loc[matched.index, "installed"].notna() & (back.loc[matched.index, "installed"] != own["installed"])
    note.count(
        int(differs.sum()),
        "returns installed on another day than their unit row says",
        "the record's day counts",
        back.loc[matched.index, "claim"][differs],
    )
    for c in ("installed", "built"):
        back.loc[matched.index, c] = back.loc[matched.index, c].fillna(own[c])
    for c in ("site", "contractor"):
        back[c] = back[c].astype("str")
        silent = back.loc[matched.index, c] == ""
        back.loc[matched.index[silent], c] = own[c].astype("str")[silent]
    early = back["returned"] < back["failed"]
    note.count(
        int(early.sum()),
        "returns that came back before they failed",
        "the day of failure counts; mend the dates",
        back.loc[early, "claim"],
    )
    standing_in = back["failed"].isna() & back["returned"].notna()
    note.count(
        int(standing_in.sum()),
        "returns without a day of failure",
        "the day they came back stands in: lives look longer",
        back.loc[standing_in, "claim"],
    )
    for bad, what in (
        (event.isna() | back["installed"].isna(), "returns without a day of installing or of failure"),
        (event < back["installed"], "returns that failed before they were installed"),
        (
            (back["built"] > back["installed"]) | (event < back["built"]),
            "returns that were installed or failed before they were built",
        ),
    ):
        bad = bad.reindex(back.index, fill_value=False)
        note.count(int(bad.sum()), what, "left out of life and rates, kept in the tallies", back.loc[bad, "claim"])
        back = back[~bad]
        event = event.loc[back.index]
    again = _overtaken(back, event)
    note.count(
        len(again),
        "returns of a unit that came back again later in the same stay",
        "its last return ends its life",
        again["serial"],
    )
    return back.drop(index=again.index), unit_of


def _overtaken(back: pd.DataFrame, event: pd.Series) -> pd.DataFrame:
    """Returns whose serial has a later return that was installed no later than this stay ended."""
    some = back[back["serial"] != ""].assign(_event=event).sort_values(["serial", "_event"], kind="stable")
    begun = some.groupby("serial", observed=True)["installed"].shift(-1)
    return some[(begun < some["_event"]) | (begun == some["installed"])]


def _match(back: pd.DataFrame, event: pd.Series, units: pd.DataFrame) -> pd.Series:
    """For each return the unit row of its serial that began last before the event."""
    some = units.loc[units["serial"].isin(set(back["serial"]) - {""}), ["serial", "installed"]]
    left = pd.DataFrame({"serial": back["serial"].astype("str"), "event": event, "at": back.index})
    right = some.assign(unit=some.index).astype({"serial": "str"})
    both = left.merge(right, on="serial")
    both = (
        both[both["installed"] <= both["event"]]
        .sort_values("installed", kind="stable")
        .drop_duplicates("at", keep="last")
    )
    return both.set_index("at")["unit"].reindex(back.index, fill_value=-1).astype("int64")


def _less_returns(units: pd.DataFrame, ended: pd.DataFrame, note: Notes) -> pd.DataFrame:
    """Counts a month without those that came back."""
    key = [ended["model"].astype("str"), ended["installed"].dt.strftime("%Y-%m")]
    gone = ended.groupby(key, observed=True).size()
    own = pd.MultiIndex.from_arrays([units["model"].astype("str"), units["installed"].dt.strftime("%Y-%m")])
    first = ~own.duplicated()
    less = np.where(first, gone.reindex(own, fill_value=0).to_numpy(), 0)
    left = units["count"].to_numpy() - less
    note.count(
        int(-left[left < 0].sum()), "more returns than units installed in their month", "complete the units table"
    )
    stray = gone[~gone.index.isin(own)]
    note.count(
        int(stray.sum()), "returns without a unit row", "they count with their own dates; complete the units table"
    )
    return units.assign(count=np.maximum(left, 0))[left > 0]


def _frame(
    ended: pd.DataFrame, later: pd.DataFrame, running: pd.DataFrame, end: pd.Timestamp, event: pd.Series
) -> pd.DataFrame:
    parts = [
        _part(ended, event.loc[ended.index], 1 - ended["first.no_fault"].to_numpy(dtype=float), ended.index.to_numpy()),
        _part(later, pd.Series(end, index=later.index), np.zeros(len(later)), np.full(len(later), -1)),
        _part(
            running,
            running["removed"].where(running["removed"] <= end, end),
            np.zeros(len(running)),
            np.full(len(running), -1),
        ),
    ]
    out: dict[str, Any] = {}
    for c in (*GROUPS, "build_month"):
        out[c] = pd.api.types.union_categoricals([p[c] for p in parts], sort_categories=True)
    for c in ("start", "age_day", "count", "failed", "row"):
        out[c] = np.concatenate([p[c] for p in parts])
    return pd.DataFrame(out)


def _part(rows: pd.DataFrame, end: pd.Series, failed: Numbers, row: np.ndarray) -> dict[str, Any]:
    start = rows["installed"].to_numpy().astype("datetime64[D]").astype(np.int64)
    stop = end.to_numpy().astype("datetime64[D]").astype(np.int64)
    out: dict[str, Any] = {c: _words(rows[c]) for c in GROUPS}
    out["build_month"] = month_names(rows["built"])
    count = rows["count"].to_numpy() if "count" in rows else np.ones(len(rows), dtype=np.int64)
    return out | {"start": start, "age_day": (stop - start).astype(float), "count": count, "failed": failed, "row": row}


def _words(column: pd.Series) -> pd.Categorical:
    """A column of text as categories of text, whatever an empty one holds."""
    found = pd.Categorical(column)
    names = pd.Index([str(word) for word in found.categories], dtype="str")
    return pd.Categorical.from_codes(found.codes, categories=names)


def month_names(days: pd.Series) -> pd.Categorical:
    """ "2021-06" of each day, "" where there is none; named once a month, not once a row."""
    months = days.to_numpy().astype("datetime64[M]")
    codes, names = pd.factorize(months, sort=True)
    words = pd.Index([str(m) for m in names] + [""], dtype="str")
    return pd.Categorical.from_codes(np.where(codes < 0, len(names), codes), categories=words)


def _slack(population: Population, units: pd.DataFrame, ended: pd.DataFrame, note: Notes) -> tuple[float, float]:
    """How far days of installing and of failure may lie later than written: a month where all stand on the first."""
    slack = []
    for days, what in ((units["installed"], "installing"), (event_day(ended), "failure")):
        rounded = (
            not population.monthly
            and days.dt.month.nunique() > 1
            and len(days) >= _LEAST_ROUNDED
            and bool((days.dt.day == 1).all())
        )
        slack.append(_MONTH_SLACK if rounded else 0.0)
        if rounded:
            note.count(
                len(days),
                f"days of {what} all stand on the first of a month",
                "taken as rounded to months: ages count as intervals",
            )
    return slack[0], slack[1]
