"""How many will fail and come back in each of the next months, with limits that hold what is not known of the curve."""

from bisect import bisect_left
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Ages, Numbers
from stripdown.fleet.equal_age import DAY_ZERO, EqualAge
from stripdown.fleet.life import ModelLife
from stripdown.fleet.lives import Lives
from stripdown.fleet.tallies import Row
from stripdown.fleet.weibull import LEAST_FAILURES, Likelihood, Weibull

MONTHS = 12
_DRAWS = 500
_SEED = 20
_WEEK = 7.0
_LONGEST_LAG = 12
_TAIL_DEGREES = 5


def expected_failures(shape: Numbers, scale: Numbers, age: Numbers, count: Numbers, ahead: Numbers) -> Numbers:
    """Failures of running units within each time `ahead` from now, given that each is good at its age now.

    One row a curve (shape, scale), one column a time; ages, times and scale in the same unit.
    """
    beta, eta = np.atleast_1d(shape)[:, None], np.atleast_1d(scale)[:, None]
    now = (age[None, :] / eta) ** beta
    columns = [(-np.expm1(now - ((age[None, :] + t) / eta) ** beta)) @ count for t in np.atleast_1d(ahead)]
    return np.asarray(np.stack(columns, axis=1))


def curves(data: Ages, curve: Weibull, stated_shape: bool) -> tuple[Numbers, Numbers]:
    """Shapes and scales as likely as the data make them (flat prior on their logs), seeded.

    Where the shape was stated only the scale varies: its rate is gamma with half a failure added.
    """
    rng = np.random.default_rng(_SEED)
    if stated_shape:
        total = float((data.count * data.failed_at**curve.shape).sum())
        rate = rng.gamma(curve.failures + 0.5, size=_DRAWS) / total
        return np.full(_DRAWS, curve.shape), np.asarray(rate ** (-1 / curve.shape))
    likelihood = Likelihood(data)
    centre = np.array([curve.shape * np.log(curve.scale / likelihood.reference), np.log(curve.shape)])
    _, _, hess = likelihood(centre[0], curve.shape)
    to_log = np.diag([1.0, curve.shape])
    root = np.linalg.cholesky(np.linalg.inv(-(to_log @ hess @ to_log)))
    wide = rng.standard_normal((4 * _DRAWS, 2)) / np.sqrt(rng.chisquare(_TAIL_DEGREES, (4 * _DRAWS, 1)) / _TAIL_DEGREES)
    at = centre + wide @ root.T
    drawn = -(_TAIL_DEGREES + 2) / 2 * np.log1p((wide**2).sum(axis=1) / _TAIL_DEGREES)
    # a is shape times the log of the scale: a flat prior on the logs weighs (a, log shape) by 1 / shape
    weight = np.array([likelihood(a, np.exp(b))[0] - b for a, b in at]) - drawn
    weight = np.exp(weight - weight.max())
    kept = at[rng.choice(len(at), _DRAWS, p=weight / weight.sum())]
    shape = np.exp(kept[:, 1])
    return shape, likelihood.reference * np.exp(kept[:, 0] / shape)


def limits(mean: Numbers, *, level: float = 0.95) -> tuple[int, int]:
    """Lowest and highest count to be expected when the mean itself is one of `mean`, each as likely."""
    from scipy.special import pdtr

    top = int(mean.max() + 10 * np.sqrt(mean.max()) + 20)

    def lowest(share: float) -> int:
        return bisect_left(range(top), share, key=lambda count: float(pdtr(count, mean).mean()))

    return lowest((1 - level) / 2), lowest((1 + level) / 2)


@dataclass(frozen=True)
class Forecast:
    """`months`: a row each; `returns`: mean of the returns of all of them, by the curves themselves, then by draw."""

    months: list[Row]
    returns: Numbers


@dataclass(frozen=True)
class _Ahead:
    """Means by draw and month of one model, and those of the curve itself in row 0."""

    failures: Numbers
    sound: Numbers


def forecast(models: list[ModelLife], lives: Lives, returns: pd.DataFrame, age: EqualAge) -> Forecast:
    """The next full calendar months; `low`, `high` bound the returns, `failures_low`, `failures_high` the failures.

    Units installed after the last day watched, replacements of what fails, and what is left of the month in which
    watching ends are not in it.
    """
    starts = _month_starts(lives.until)
    ahead = (starts - np.datetime64(lives.until)).astype(float)
    each = [_model(m, lives, ahead) for m in models]
    if not each:
        return Forecast([], np.zeros(0))
    failures = np.sum([e.failures for e in each], axis=0)
    sound = np.sum([e.sound for e in each], axis=0)
    coming = _lagged(failures, _lags(returns), _past(age, starts)) + sound
    out = []
    for j, month in enumerate(starts[:-1].astype("datetime64[M]")):
        low, high = limits(coming[1:, j])
        few, many = limits(failures[1:, j])
        out.append(
            {"month": str(month), "failures": failures[0, j], "returns": coming[0, j], "low": low, "high": high,
             "failures_low": few, "failures_high": many}
        )  # fmt: skip
    return Forecast(out, coming.sum(axis=1))


def _month_starts(until: date) -> np.ndarray:
    first = np.datetime64(until).astype("datetime64[M]") + 1
    return np.arange(first, first + MONTHS + 1).astype("datetime64[D]")


def _model(m: ModelLife, lives: Lives, ahead: Numbers) -> _Ahead:
    f = lives.frame.iloc[m.rows]
    end = (f["start"] + f["age_day"]).to_numpy()
    on = (f["row"] < 0).to_numpy() & (end >= (np.datetime64(lives.until) - DAY_ZERO).astype(int))
    age = f["age_day"].to_numpy()[on]
    week, where = np.unique(np.round(age / _WEEK), return_inverse=True)
    count = np.bincount(where, weights=f["count"].to_numpy()[on], minlength=len(week)).astype(float)
    stated = m.shape.low is None and m.shape.high is None and m.data.failures < LEAST_FAILURES
    shape, scale = curves(m.data, m.curve, stated or np.isnan(m.curve.loglik))
    fails = np.diff(expected_failures(shape, scale, week * _WEEK, count, ahead), axis=1)
    one = np.array([m.curve.shape]), np.array([m.curve.scale])
    point = np.diff(expected_failures(*one, week * _WEEK, count, ahead), axis=1)
    if m.data.failures <= 0:
        point = fails.mean(axis=0, keepdims=True)
    back = float((f["count"] - f["failed"])[f["row"] >= 0].sum())
    days = float((f["count"] * f["age_day"]).sum())
    rate = np.r_[back, np.random.default_rng(_SEED).gamma(back + 0.5, size=_DRAWS)] / max(days, 1.0)
    return _Ahead(np.vstack([point, fails]), rate[:, None] * count.sum() * np.diff(ahead)[None, :])


def _lags(returns: pd.DataFrame) -> Numbers:
    """Share of the failed units that come back so many months after failing."""
    days = (returns["returned"] - returns["failed"]).dt.total_seconds() / 86400
    days = days[days >= 0]
    if not len(days):
        return np.ones(1)
    months = np.minimum((days / 30.4).astype(int), _LONGEST_LAG)
    counts = np.bincount(months)
    return np.asarray(counts / counts.sum())


def _past(age: EqualAge, starts: np.ndarray) -> Numbers:
    """Failures that the ages led to expect in the months before, latest first."""
    ends = (np.arange(starts[0].astype("datetime64[M]") - _LONGEST_LAG, starts[0].astype("datetime64[M]") + 1)
            .astype("datetime64[D]") - 1 - DAY_ZERO).astype(int)  # fmt: skip
    return np.diff(age.upto(ends))[::-1]


def _lagged(failures: Numbers, lags: Numbers, past: Numbers) -> Numbers:
    """Returns by month: failures of this and earlier months, each share by its lag."""
    before = np.broadcast_to(past[: len(lags) - 1][::-1], (len(failures), len(lags) - 1))
    whole = np.hstack([before, failures])
    months = failures.shape[1]
    return np.asarray(
        sum(share * whole[:, len(lags) - 1 - k : len(lags) - 1 - k + months] for k, share in enumerate(lags))
    )
