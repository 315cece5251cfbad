"""How good the records are: what was looked at, measured and named, year by year; and which checks would help most."""

import pandas as pd

from stripdown.fleet.lives import event_day
from stripdown.fleet.proportions import wilson
from stripdown.fleet.tallies import Row
from stripdown.record.groups import groups


def quality(returns: pd.DataFrame) -> Row:
    """Counts of records; `looked_at`: main groups of machine and site in the order of a teardown, Wilson intervals."""
    n = len(returns)
    if not n:
        return {}
    looked = returns["looked_at"].str.split(";").explode().value_counts()
    counts = [int(looked.get(g.id, 0)) for g in groups()]
    low, high = wilson(counts, n)
    return {
        "records": n,
        "with_readings": int((returns["readings_count"] > 0).sum()),
        "readings": int(returns["readings_count"].sum()),
        "readings_open": int(returns["open_count"].sum()),
        "with_instruments": int((returns["instruments_count"] > 0).sum()),
        "with_examiner": int((returns["examined_by"] != "").sum()),
        "looked_at": [
            {"group": g.id, "title": g.title, "side": g.side, "records": c, "share": c / n, "low": lo, "high": hi}
            for g, c, lo, hi in zip(groups(), counts, low, high, strict=True)
        ],
        "years": _years(returns),
    }


def _years(returns: pd.DataFrame) -> list[Row]:
    """The same by year of failure, so that a change shows."""
    year = event_day(returns).dt.year
    told = pd.DataFrame(
        {
            "instruments": returns["instruments_count"] > 0,
            "readings": returns["readings_count"],
            "groups": returns["looked_at"].str.count(";") + (returns["looked_at"] != ""),
        }
    )
    return [
        {
            "year": int(y),
            "records": len(rows),
            "with_instruments": int(rows["instruments"].sum()),
            "readings_each": float(rows["readings"].mean()),
            "groups_each": float(rows["groups"].mean()),
        }
        for y, rows in told.groupby(year)
    ]


def checks(returns: pd.DataFrame) -> Row:
    """Over records that are not established and say what would help: each check, how often it was missing, its worth.

    `bits_per_minute` is the mean over the records that lack the check; sorted by what all of them together would gain.
    """
    some = returns[returns["next_checks"] != ""]
    lists = {c: some[c].str.split(";").explode() for c in ("next_checks", "next_gains_bit", "next_minutes")}
    each = pd.DataFrame(
        {
            "id": lists["next_checks"],
            "gain": pd.to_numeric(lists["next_gains_bit"], errors="coerce"),
            "minutes": pd.to_numeric(lists["next_minutes"], errors="coerce"),
        }
    ).dropna()
    each["worth"] = each["gain"] / each["minutes"].clip(lower=1.0)
    by_check = each.groupby("id").agg({"gain": ["size", "mean"], "minutes": "mean", "worth": ["mean", "sum"]})
    by_check.columns = pd.Index(["missing", "gain_bits", "minutes", "bits_per_minute", "all"])
    rows = by_check.sort_values("all", ascending=False, kind="stable").drop(columns="all").reset_index()
    return {"records": len(some), "checks": rows.to_dict("records")}
