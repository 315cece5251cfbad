"""Whether a mechanism's share changes among returns that are alike in all that their probabilities knew beforehand.

A return's probabilities start from shares that hang on its run hours, duty, motor …: in a fleet that grows older they
drift by themselves. So each return is compared with those of its own kind only, whatever the shares of that kind are.
Source: N. Mantel, J. Amer. Statist. Assoc. 58 (1963) 690-700 (one score test over strata, exchangeable within each).
"""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Numbers
from stripdown.knowledge.model import HOUR_BANDS

_NOTHING = 1e-12
"""Sum of squares of probabilities about their mean that is but rounding."""
_Z = NormalDist().inv_cdf(0.975)
_KNOWN = ("model", "cooling", "motor", "oil_feed", "inverter", "duty", "opened_before", "knowledge")
"""Columns that decide, beside run hours and being a replacement, where a return's probabilities start."""


def kinds(returns: pd.DataFrame) -> np.ndarray:
    """A number for each return, equal for those that the reasoning starts from the same shares."""
    hours = returns["run_hours_h"].to_numpy(dtype=float)
    band = np.where(np.isnan(hours), -1, np.digitize(hours, [limit for limit, _ in HOUR_BANDS]))
    words = {c: returns[c].astype("str").to_numpy() for c in _KNOWN}
    again = (returns["replaces"].astype("str") != "").to_numpy()
    keys = pd.DataFrame(words | {"band": band, "again": again})
    return np.asarray(keys.groupby(list(keys), sort=False).ngroup().to_numpy())


@dataclass(frozen=True, slots=True)
class Drift:
    """`z`: standardised score; `slope`: change of the share for one step of time, with its 95 % interval (None: no
    end); `returns`: how many could be compared, `expected` how many of them by their probabilities."""

    z: float
    slope: float
    low: float | None
    high: float | None
    returns: int
    expected: float


class Within:
    """Times of returns, each beside the mean of its kind."""

    def __init__(self, kind: np.ndarray, time: Numbers) -> None:
        self._kind = kind
        self._size = np.bincount(kind).astype(float)
        self._time = self._centred(time)
        self._spread = self._summed(self._time**2)
        with np.errstate(divide="ignore", invalid="ignore"):
            self._weight = np.where(self._spread > 0, self._spread / (self._size - 1), 0.0)
        self.told = self._spread[kind] > 0
        """Which returns have others of their kind at another time."""

    def _summed(self, values: Numbers) -> Numbers:
        return np.asarray(np.bincount(self._kind, weights=values, minlength=len(self._size)), dtype=np.float64)

    def _centred(self, values: Numbers) -> Numbers:
        return np.asarray(values - (self._summed(values) / np.maximum(self._size, 1))[self._kind])

    def drift(self, share: Numbers) -> Drift | None:
        """How probabilities move with time; None where nothing could show it.

        The slopes in the interval are those that the test, taken of share less slope times time, would not reject.
        """
        p = self._centred(share)
        both, own = self._summed(self._time * p), self._summed(p**2)
        moved, room = float(both.sum()), float(self._spread.sum())
        by_chance = float(self._weight @ own)
        if not by_chance > _NOTHING * room:
            return None
        a = room**2 - _Z**2 * float(self._weight @ self._spread)
        b = moved * room - _Z**2 * float(self._weight @ both)
        c = moved**2 - _Z**2 * by_chance
        low = high = None
        if a > 0:
            half = np.sqrt(max(b * b - a * c, 0.0))
            low, high = float((b - half) / a), float((b + half) / a)
        told, expected = int(self.told.sum()), float(share[self.told].sum())
        return Drift(moved / by_chance**0.5, moved / room, low, high, told, expected)
