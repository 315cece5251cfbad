"""Does it get worse: shares by half-year, failures by the year at equal age, months with their limits."""

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Numbers
from stripdown.fleet.alike import Within, kinds
from stripdown.fleet.columns import MECHANISMS
from stripdown.fleet.equal_age import DAY_ZERO, EqualAge
from stripdown.fleet.lives import DAYS_A_MONTH, event_day
from stripdown.fleet.rising import rise
from stripdown.fleet.tallies import Row

LEAST_EXPECTED = 5.0
LEAST_RECORDS = 20
_SIGMAS = 3.0
_A_YEAR = 2.0
"""Half-years."""


def trends(returns: pd.DataFrame, age: EqualAge | None) -> list[Row]:
    """One look a mechanism with enough cases, and one at the failures themselves where the units are known.

    `change`, `low`, `high`: what a year adds to the share, or by what it multiplies the failures; None: no end.
    `returns`: how many could be compared.
    """
    return [*_shares(returns), *_failures(age)]


def alike(returns: pd.DataFrame) -> int:
    """How many returns have others of their kind in other half-years: only they can show a change of the mix."""
    dated = _dated(returns)
    return int(Within(kinds(dated), _half_years(event_day(dated))).told.sum())


def _dated(returns: pd.DataFrame) -> pd.DataFrame:
    return returns[event_day(returns).notna()]


def _half_years(days: pd.Series) -> Numbers:
    return np.asarray((2 * days.dt.year + (days.dt.month > 6)).to_numpy(dtype=float))


def _shares(returns: pd.DataFrame) -> list[Row]:
    dated = _dated(returns)
    within = Within(kinds(dated), _half_years(event_day(dated)))
    if within.told.sum() < LEAST_RECORDS:
        return []
    out = []
    for m in MECHANISMS:
        d = within.drift(dated[f"first.{m}"].to_numpy(dtype=float))
        if d is not None and d.expected >= LEAST_EXPECTED:
            ends = [None if end is None else end * _A_YEAR for end in (d.slope, d.low, d.high)]
            out.append(_look(f"{m} share by half-year", d.z, ends, "share a year") | {"returns": d.returns})
    return out


def _look(what: str, z: float, change: Sequence[float | None], unit: str) -> Row:
    value, low, high = change
    direction = "rising" if z > 0 else "falling"
    ends = {"change": value, "low": low, "high": high, "unit": unit}
    return {"what": what, "direction": direction, "p": 2 * NormalDist().cdf(-abs(z))} | ends


def _failures(age: EqualAge | None) -> list[Row]:
    """Whether units put in later, and so later at each age, fail more often: by months put in and weeks of age."""
    if age is None or not age.rows["failed"].sum() >= LEAST_EXPECTED:
        return []
    month = ((age.rows["start"] - age.rows["start"].min()) // DAYS_A_MONTH).astype(int).to_numpy()
    week = (age.rows["age_day"] // 7).astype(int).clip(lower=0).to_numpy()
    shape = (int(month.max()) + 1, len(age.models), int(week.max()) + 1)
    cell = np.ravel_multi_index((month, age.rows["model"].to_numpy(), week), shape)
    ended, failed = (
        np.bincount(cell, weights=age.rows[c].to_numpy(dtype=float), minlength=int(np.prod(shape))).reshape(shape)
        for c in ("count", "failed")
    )
    at_risk = ended[:, :, ::-1].cumsum(axis=2)[:, :, ::-1]
    flat = (shape[0], shape[1] * shape[2])
    r = rise(np.arange(shape[0]) / 12, at_risk.reshape(flat).astype(float), failed.reshape(flat).astype(float))
    if r is None:
        return []
    look = _look("failures at equal age by the year", r.z, (r.factor, r.low, r.high), "times a year")
    return [look | {"returns": float(failed.sum())}]


def _month_ends(first_day: int, last_day: int) -> np.ndarray:
    """Last days of months [day since 1970], from the one before `first_day` to the one of `last_day`."""
    first, last = ((DAY_ZERO + np.timedelta64(int(d), "D")).astype("datetime64[M]") for d in (first_day, last_day))
    return np.arange(first, last + 2).astype("datetime64[D]") - np.timedelta64(1, "D")


def months(age: EqualAge) -> list[Row]:
    """Failures of each month beside those expected at equal age, with the limits of a count chart at three sigma."""
    r = age.rows
    if not len(r):
        return []
    end = (r["start"] + r["age_day"]).to_numpy()
    ends = _month_ends(r["start"].min(), end.max())
    days = ends.astype(int)
    failed = np.bincount(np.searchsorted(days, end), weights=r["failed"], minlength=len(days))[1:]
    exposure = _unit_days(r["start"].to_numpy(), end, r["count"].to_numpy(), days) / DAYS_A_MONTH
    out = []
    due = np.diff(age.upto(days)).tolist()
    for i, (month, expected) in enumerate(zip(ends[1:].astype("datetime64[M]"), due, strict=True)):
        low, high = count_limits(expected)
        out.append(
            {"month": str(month), "failures": failed[i], "expected": expected, "low": low, "high": high,
             "outside": outside(failed[i], expected), "unit_months": exposure[i],
             "rate_per_1000_unit_months": 1000 * failed[i] / exposure[i] if exposure[i] > 0 else None}
        )  # fmt: skip
    return out


def count_limits(centre: float) -> tuple[float, float]:
    """Three-sigma limits of a count: one on the line is not outside."""
    half = _SIGMAS * float(np.sqrt(centre))
    return max(centre - half, 0.0), centre + half


def outside(count: float, centre: float) -> bool:
    """Whether a count lies beyond its limits, by more than rounding."""
    low, high = count_limits(centre)
    return not low - 1e-9 <= count <= high + 1e-9


def _unit_days(start: np.ndarray, end: np.ndarray, count: np.ndarray, days: np.ndarray) -> Numbers:
    """Days that units ran in each month between the month ends `days`."""
    first = int(days[0])
    span = int(days[-1]) - first + 2
    change = np.bincount(start - first, weights=count, minlength=span)
    change -= np.bincount((end - first).astype(np.int64), weights=count, minlength=span)
    running = np.concatenate([[0.0], np.cumsum(np.cumsum(change))])
    return np.asarray(np.diff(running[days - first + 1]))
