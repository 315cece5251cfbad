"""Ages of units as counts, not rows: seen to fail, known to have failed between two ages, or still running."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ages:
    """Rows of equal fate. All ages in one unit, any; `count` may be a fraction where a failure is only probable.

    lower == upper: failed at that age; lower < upper: failed after `lower`, at the latest at `upper`;
    upper infinite: still good at `lower`.
    """

    lower: Numbers
    upper: Numbers
    count: Numbers

    @property
    def failures(self) -> float:
        """Number of failures, whole where every failure is sure."""
        return float(self.count[np.isfinite(self.upper)].sum())

    @property
    def running(self) -> float:
        """Number of units that did not fail while watched."""
        return float(self.count[~np.isfinite(self.upper)].sum())

    @property
    def failed_at(self) -> Numbers:
        """One age a row for methods that need one: the middle of an interval, the age itself otherwise."""
        return np.where(np.isfinite(self.upper), (self.lower + self.upper) / 2, self.lower)


def ages(
    failed: ArrayLike = (),
    running: ArrayLike = (),
    between: Sequence[tuple[float, float]] | NDArray[np.float64] = (),
    *,
    failed_count: ArrayLike = 1.0,
    running_count: ArrayLike = 1.0,
    between_count: ArrayLike = 1.0,
) -> Ages:
    """Group failures, intervals and running units into `Ages`; counts default to one a row.

    A failure at age 0 (the day it was installed) is taken as one within the first unit of age.
    """
    f = np.atleast_1d(np.asarray(failed, dtype=float))
    r = np.atleast_1d(np.asarray(running, dtype=float))
    b = np.asarray(between, dtype=float).reshape(-1, 2)
    lower = np.concatenate([np.where(f > 0, f, 0.0), r, b[:, 0]])
    upper = np.concatenate([np.where(f > 0, f, 1.0), np.full(r.shape, np.inf), b[:, 1]])
    count = np.concatenate(
        [
            np.broadcast_to(np.asarray(c, dtype=float), x.shape)
            for c, x in ((failed_count, f), (running_count, r), (between_count, b[:, 0]))
        ]
    )
    if np.any(lower < 0) or np.any(upper < lower) or np.any(count < 0) or not np.all(np.isfinite(lower)):
        raise ValueError(
            "ages and counts must be finite and not negative, and an interval must not end before it begins"
        )
    keep = (count > 0) & ((upper < np.inf) | (lower > 0))  # a unit watched for no time says nothing
    return _merged(lower[keep], upper[keep], count[keep])


def _merged(lower: Numbers, upper: Numbers, count: Numbers) -> Ages:
    """Rows of the same fate added up, in order of age."""
    if not len(lower):
        return Ages(lower, upper, count)
    order = np.lexsort((upper, lower))
    lower, upper, count = lower[order], upper[order], count[order]
    first = np.flatnonzero(np.r_[True, (np.diff(lower) != 0) | (upper[1:] != upper[:-1])])
    return Ages(lower[first], upper[first], np.add.reduceat(count, first))


def from_months(months: ArrayLike, failed: ArrayLike) -> Ages:
    """Ages cut to whole months: `months` [month] and whether each unit had failed; a million rows become some hundred.

    A failure at age m lies after m and at the latest at m + 1; a unit running at age m was good at m.
    """
    m = np.asarray(months, dtype=np.int64)
    bad = np.asarray(failed, dtype=bool)
    dead, alive = np.bincount(m[bad]), np.bincount(m[~bad])
    start = np.arange(len(dead), dtype=float)
    return ages(
        running=np.arange(len(alive)),
        running_count=alive,
        between=np.column_stack([start, start + 1]),
        between_count=dead,
    )
