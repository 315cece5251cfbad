"""Intervals of shares, counts and ratios, and the correction for having looked many times."""

from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]
_RESAMPLES = 1000
_SEED = 20
_BLOCKS = (64, 90, 128, 180, 256, 360, 512)
"""Larger groups are resampled in blocks of a few records: the interval of a mean hardly changes, the work is shared."""


def wilson(count: ArrayLike, total: ArrayLike, *, level: float = 0.95) -> tuple[Numbers, Numbers]:
    """Wilson's score interval of count / total; nan where there is nothing to share."""
    x, n = np.asarray(count, dtype=float), np.asarray(total, dtype=float)
    z = NormalDist().inv_cdf((1 + level) / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        p = np.where(n > 0, x / n, np.nan)
        centre = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * np.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    low, high = np.clip(centre - half, 0, 1), np.clip(centre + half, 0, 1)
    return np.where(x == 0, np.minimum(low, 0), low), np.where(x == n, np.maximum(high, 1), high)


def clopper_pearson(count: ArrayLike, total: ArrayLike, *, level: float = 0.95) -> tuple[Numbers, Numbers]:
    """The exact interval of a share: never below its level, often above it. Counts may be fractions."""
    from scipy.special import betaincinv

    x, n = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(total, dtype=float))
    tail = (1 - level) / 2
    low = np.where(x > 0, betaincinv(np.maximum(x, 1e-300), n - x + 1, tail), 0.0)
    high = np.where(x < n, betaincinv(x + 1, np.maximum(n - x, 1e-300), 1 - tail), 1.0)
    return low, high


def poisson_limits(count: ArrayLike, level: float = 0.95) -> tuple[Numbers, Numbers]:
    """The exact interval of the mean of a count."""
    from scipy.special import gammaincinv

    x, tail = np.asarray(count, dtype=float), (1 - level) / 2
    low = np.where(x > 0, gammaincinv(np.maximum(x, 1e-300), tail), 0.0)
    return low, np.asarray(gammaincinv(x + 1, 1 - tail))


def two_counts(
    a: ArrayLike, a_exposure: ArrayLike, b: ArrayLike, b_exposure: ArrayLike, *, level: float = 0.95
) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Ratio of two rates, its interval and two-sided p: given their sum, the first count is binomial.

    Exact (twice the smaller tail); counts may be fractions where failures are only probable, exposures are hours,
    unit-months or counts expected at equal age. No event at all: nan, p 1.
    """
    from scipy.special import betainc

    x, e, y, f = (np.asarray(v, dtype=float) for v in (a, a_exposure, b, b_exposure))
    n = x + y
    with np.errstate(divide="ignore", invalid="ignore"):
        pi = e / (e + f)
        upper = np.where(x > 0, betainc(np.maximum(x, 1e-300), y + 1, pi), 1.0)  # P(X >= x)
        lower = np.where(y > 0, betainc(np.maximum(y, 1e-300), x + 1, 1 - pi), 1.0)  # P(X <= x)
        p = np.where((n > 0) & (e > 0) & (f > 0), np.minimum(1.0, 2 * np.minimum(upper, lower)), 1.0)
        ratio = np.where(n > 0, (x / e) / (y / f), np.nan)
        ends = [np.where(n > 0, c / (1 - c) * f / e, np.nan) for c in clopper_pearson(x, n, level=level)]
    return ratio, ends[0], ends[1], p


def least_p(total: ArrayLike, share: ArrayLike) -> Numbers:
    """Smallest p that `two_counts` could give for so many events in all, whichever side they fell on.

    `share`: the first exposure of both. It depends on no outcome, so looks that can never matter may be left out by it
    (Tarone, Biometrics 46 (1990) 515-522).
    """
    n, pi = np.asarray(total, dtype=float), np.asarray(share, dtype=float)
    possible = (n > 0) & (pi > 0) & (pi < 1)
    with np.errstate(invalid="ignore"):
        return np.where(possible, np.minimum(1.0, 2 * np.minimum(pi**n, (1 - pi) ** n)), 1.0)


def adjusted(p: ArrayLike) -> Numbers:
    """Benjamini-Hochberg: p of each look, corrected for all looks taken."""
    values = np.asarray(p, dtype=float)
    order = np.argsort(values)[::-1]  # the greatest first: no p may come out greater than the next greater one's
    raised = values[order] * len(values) / np.arange(len(values), 0, -1)
    out = np.empty_like(values)
    out[order] = np.minimum(np.minimum.accumulate(raised), 1.0)
    return out


@lru_cache(maxsize=128)
def _draws(n: int) -> Numbers:
    """How often each of n records comes up in each resample; the same for every group of n records."""
    drawn = np.random.default_rng([_SEED, n]).multinomial(n, np.full(n, 1 / n), size=_RESAMPLES)
    return drawn.astype(float)


def resampled(probabilities: Numbers, *, level: float = 0.95) -> tuple[Numbers, Numbers]:
    """Interval of the mean of each column of record-by-id probabilities, records resampled.

    Two made-up records that say yes to everything and two that say no are drawn along, so that a share at or near 0
    or 1 in a small group keeps an honest interval (with certain records it is then Agresti and Coull's).
    """
    values = np.asarray(probabilities, dtype=float)
    if not len(values):
        nothing = np.full(values.shape[1], np.nan)
        return nothing, nothing
    sums, records = _blocks(values)
    ids = values.shape[1]
    sums = np.vstack([sums, np.ones((2, ids)), np.zeros((2, ids))])
    records = np.concatenate([records, np.ones(4)])
    draws = _draws(len(sums))
    means = (draws @ sums) / (draws @ records)[:, None]
    tail = (1 - level) / 2
    low, high = np.quantile(means, [tail, 1 - tail], axis=0)
    return low, high


def resampled_means(values: Numbers, times: int) -> Numbers:
    """Mean of each column, `times` times over (at most 1000), records resampled."""
    sums, records = _blocks(values)
    draws = _draws(len(sums))[:times]
    return np.asarray((draws @ sums) / (draws @ records)[:, None])


def resampled_ratio(part: ArrayLike, whole: ArrayLike, *, level: float = 0.95) -> tuple[float, float]:
    """Interval of sum(part) / sum(whole) over records, records resampled; `whole` must be more than zero in all."""
    sums, _ = _blocks(np.column_stack([part, whole]))
    part_of, of = (_draws(len(sums)) @ sums).T
    tail = (1 - level) / 2
    low, high = np.quantile(part_of[of > 0] / of[of > 0], [tail, 1 - tail])
    return float(low), float(high)


def _blocks(values: Numbers) -> tuple[Numbers, Numbers]:
    """Sums over blocks of records and their sizes; single records where they are few."""
    if len(values) <= _BLOCKS[0]:
        return values, np.ones(len(values))
    blocks = max(b for b in _BLOCKS if b <= len(values))
    shuffled = np.random.default_rng([_SEED, len(values)]).permutation(len(values))
    starts = (np.arange(blocks) * len(values) + blocks - 1) // blocks
    sizes = np.diff(np.r_[starts, len(values)]).astype(float)
    return np.add.reduceat(values[shuffled], starts, axis=0), sizes
