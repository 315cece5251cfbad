"""Life without an assumed curve: Kaplan-Meier, cumulative hazard, cumulative incidence of competing mechanisms.

All work on counts at each age; failures come before removals of the same age; counts may be fractions.
"""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from stripdown.fleet.ages import Ages, Numbers
from stripdown.fleet.proportions import clopper_pearson


@dataclass(frozen=True, slots=True)
class LifeTable:
    """At each age at which something failed: units at risk, failures, share still good and its standard error."""

    age: Numbers
    at_risk: Numbers
    failed: Numbers
    survival: Numbers
    error: Numbers
    hazard: Numbers
    """Cumulative (Nelson-Aalen)."""


def life_table(data: Ages) -> LifeTable:
    """Kaplan-Meier with Greenwood's standard error; a failure known to a range of ages stands at the range's end."""
    dead = np.isfinite(data.upper)
    age, where = np.unique(data.upper[dead], return_inverse=True)
    failed = np.bincount(where, weights=data.count[dead], minlength=len(age)).astype(float)
    ends = np.where(dead, data.upper, data.lower)
    at_risk = _not_before(ends, data.count, age)
    with np.errstate(divide="ignore", invalid="ignore"):
        survival = np.asarray(np.cumprod(1 - failed / at_risk), dtype=float)
        greenwood = np.cumsum(failed / (at_risk * np.maximum(at_risk - failed, 0)))
        error = np.where(survival > 0, survival * np.sqrt(greenwood), 0.0)
    return LifeTable(age, at_risk, failed, survival, error, np.cumsum(failed / at_risk))


def _not_before(ends: Numbers, count: Numbers, age: Numbers) -> Numbers:
    """Number of units that ended at or after each age."""
    order = np.argsort(ends, kind="stable")
    upto = np.concatenate([[0.0], np.cumsum(count[order])])
    return np.asarray(upto[-1] - upto[np.searchsorted(ends[order], age, side="left")])


def log_log(value: ArrayLike, error: ArrayLike, at_risk: ArrayLike, *, level: float = 0.95) -> tuple[Numbers, Numbers]:
    """Interval of a share on the scale of ln(-ln); where nothing happened yet, the exact one of 0 out of `at_risk`."""
    v, e, n = (np.asarray(x, dtype=float) for x in (value, error, at_risk))
    z = NormalDist().inv_cdf((1 + level) / 2)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        s = 1 - v
        half = z * e / np.abs(s * np.log(s))
        low, high = 1 - s ** np.exp(-half), 1 - s ** np.exp(half)
    none = clopper_pearson(np.zeros_like(v), np.maximum(n, 1e-9), level=level)[1]
    low = np.where(v <= 0, 0.0, np.where(v >= 1, np.nan, low))
    return low, np.where(v <= 0, none, np.where(v >= 1, 1.0, high))


@dataclass(frozen=True, slots=True)
class Incidence:
    """Share failed by each cause up to each age, and its standard error: one column a cause."""

    age: Numbers
    at_risk: Numbers
    value: Numbers
    error: Numbers

    def at(self, ages: ArrayLike) -> tuple[Numbers, Numbers]:
        """Value and error of the causes at given ages (the last step before or at each)."""
        i = np.searchsorted(self.age, np.asarray(ages, dtype=float), side="right")
        pad = np.zeros((1, self.value.shape[1]))
        return np.vstack([pad, self.value])[i], np.vstack([pad, self.error])[i]


def incidence(age: ArrayLike, count: ArrayLike, causes: ArrayLike) -> Incidence:
    """Aalen-Johansen: `count` units end at `age`, and of them `causes` (one column a cause) failed by each.

    What is left of `count` was running or removed while good. Errors by the delta method (Aalen's).
    """
    t, n = np.asarray(age, dtype=float), np.asarray(count, dtype=float)
    by_cause = np.asarray(causes, dtype=float)
    failed_rows = by_cause.sum(axis=1) > 0
    at, where = np.unique(t[failed_rows], return_inverse=True)
    d = np.zeros((len(at), by_cause.shape[1]))
    np.add.at(d, where, by_cause[failed_rows])
    total = d.sum(axis=1)
    at_risk = _not_before(t, n, at)
    before = np.concatenate([[1.0], np.cumprod(1 - total / at_risk)[:-1]]) if len(at) else np.zeros(0)
    value = np.cumsum(before[:, None] * d / at_risk[:, None], axis=0)
    return Incidence(at, at_risk, value, _incidence_error(value, before, d, total, at_risk))


def _incidence_error(value: Numbers, before: Numbers, d: Numbers, total: Numbers, at_risk: Numbers) -> Numbers:
    """Standard error of the cumulative incidence; sums over earlier ages opened up so that the work stays linear."""
    y = at_risk[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        g = np.where(at_risk > total, total / (at_risk * (at_risk - total)), 0.0)[:, None]
    share, s = d / y, before[:, None]
    g0, g1, g2 = np.cumsum(g, axis=0), np.cumsum(g * value, axis=0), np.cumsum(g * value**2, axis=0)
    own = np.cumsum(s**2 * share * (1 - share) / y, axis=0)
    c0, c1 = np.cumsum(s * share / y, axis=0), np.cumsum(s * share / y * value, axis=0)
    variance = value**2 * g0 - 2 * value * g1 + g2 + own - 2 * (value * c0 - c1)
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)))
