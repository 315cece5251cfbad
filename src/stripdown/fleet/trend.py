"""Does it get worse: shares by half-year, failures beside what the ages led to expect, months with their limits."""

from statistics import NormalDist

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Numbers
from stripdown.fleet.columns import MECHANISMS
from stripdown.fleet.equal_age import DAY_ZERO, EqualAge
from stripdown.fleet.lives import DAYS_A_MONTH, event_day
from stripdown.fleet.tallies import Row

LEAST_EXPECTED = 5.0
LEAST_RECORDS = 20
_SIGMAS = 3.0


def trends(returns: pd.DataFrame, months: list[Row]) -> list[Row]:
    """One look a mechanism with enough cases, and one at the failures themselves where their months are known."""
    dated = returns[event_day(returns).notna()]
    half = _half_years(event_day(dated))
    out: list[Row] = []
    if len(dated) >= LEAST_RECORDS and len(np.unique(half)) > 1:
        for m in MECHANISMS:
            p = dated[f"first.{m}"].to_numpy(dtype=float)
            if p.sum() >= LEAST_EXPECTED:
                out.append(_look(f"{m} share by half-year", _score(half, p)))
    z = _count_score(months)
    return out if z is None else [*out, _look("failures by half-year at equal age", z)]


def _half_years(days: pd.Series) -> Numbers:
    return np.asarray((2 * days.dt.year + (days.dt.month > 6)).to_numpy(dtype=float))


def _look(what: str, z: float) -> Row:
    p = 2 * NormalDist().cdf(-abs(z))
    return {"what": what, "direction": "rising" if z > 0 else "falling", "p": p}


def _score(x: Numbers, p: Numbers) -> float:
    """Standardised covariance of a probability with time, as if the records were shuffled."""
    dx, dp = x - x.mean(), p - p.mean()
    spread = float(np.sqrt((dx**2).sum() * (dp**2).sum() / (len(x) - 1)))
    return float((dx * dp).sum()) / spread if spread > 0 else 0.0


def _count_score(months: list[Row]) -> float | None:
    """The same for counts: the half-years share the failures as their expected counts would."""
    o, e = (np.array([m[key] for m in months]) for key in ("failures", "expected"))
    if not months or o.sum() < LEAST_EXPECTED or e.sum() <= 0:
        return None
    x = np.array([2 * int(m["month"][:4]) + (int(m["month"][5:]) > 6) for m in months], dtype=float)
    q, total = e / e.sum(), o.sum()
    spread = float(np.sqrt(total * ((q * x**2).sum() - (q * x).sum() ** 2)))
    return float(o @ x - total * (q * x).sum()) / spread if spread > 0 else None


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
