"""Do people agree with the proposal, and with each other: Cohen's kappa with an interval, and calibration."""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement beyond chance: observed and by-chance share, kappa, its standard error, and that were kappa zero."""

    observed: float
    by_chance: float
    value: float
    error: float
    error_at_zero: float

    def wald(self, *, level: float = 0.95) -> tuple[float, float]:
        """Value plus and minus its normal error."""
        z = NormalDist().inv_cdf((1 + level) / 2)
        return self.value - z * self.error, self.value + z * self.error


def kappa(counts: ArrayLike) -> Kappa | None:
    """Cohen's kappa of a square table of counts (Fleiss, Cohen and Everitt's errors); None where it is not defined."""
    p = np.asarray(counts, dtype=float)
    n = p.sum()
    if n <= 0:
        return None
    p = p / n
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    agree, chance = float(np.trace(p)), float(rows @ columns)
    if math.isclose(chance, 1.0):
        return None
    value = (agree - chance) / (1 - chance)
    both = rows[:, None] + columns[None, :]
    on = float((np.diag(p) * (1 - np.diag(both) * (1 - value)) ** 2).sum())
    reverse = columns[:, None] + rows[None, :]
    off = float(((p - np.diag(np.diag(p))) * reverse**2).sum()) * (1 - value) ** 2
    error = math.sqrt(max(on + off - (value - chance * (1 - value)) ** 2, 0.0) / n) / (1 - chance)
    spread = chance + chance**2 - float((rows * columns * (rows + columns)).sum())
    return Kappa(agree, chance, value, error, math.sqrt(max(spread, 0.0) / n) / (1 - chance))
