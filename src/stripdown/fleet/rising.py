"""Whether units fail more often with the years, each beside all units of its model that reached the same age.

Sources: D. R. Cox, J. R. Statist. Soc. B 34 (1972) 187-220 (the score, which no shape of the life by age moves);
N. Breslow, Biometrics 30 (1974) 89-99 (failures of one age).
"""

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from stripdown.fleet.ages import Numbers

_Z = NormalDist().inv_cdf(0.975)
_STEEPEST = 20.0
"""Logarithm of a factor beyond which no end is looked for."""


@dataclass(frozen=True, slots=True)
class Rise:
    """`z`: standardised score; `factor`: of the hazard for one step of `x`, with its 95 % interval (None: no end)."""

    z: float
    factor: float | None
    low: float | None
    high: float | None


def rise(x: Numbers, at_risk: Numbers, failed: Numbers) -> Rise | None:
    """The factor that an `x` higher by 1 has on the hazard; None where all at risk had the same.

    `at_risk`, `failed`: units of each `x` (row) that reached an age, and that failed at it; a column is a model's age.
    The factors in the interval are those that the score test would not reject.
    """
    due = failed.sum(axis=0)
    risk, d = at_risk[:, due > 0], due[due > 0]
    x = x - x.mean()
    seen = float(x @ failed.sum(axis=1))

    def expected(slope: float) -> tuple[float, float]:
        """Sum of `x` over the failures, and its variance, had the `x` of each age failed as their hazards are."""
        weight = np.exp(slope * x - (slope * x).max())[:, None] * risk
        whole = np.maximum(weight.sum(axis=0), 1e-300)
        mean = (x @ weight) / whole
        return float(d @ mean), float(d @ ((x**2 @ weight) / whole - mean**2))

    def score(slope: float) -> float:
        mean, spread = expected(slope)
        return (seen - mean) / float(np.sqrt(max(spread, 1e-300)))

    if not expected(0.0)[1] > 1e-12:
        return None
    ends = [None if (at := _where(score, z)) is None else float(np.exp(at)) for z in (0.0, _Z, -_Z)]
    return Rise(score(0.0), *ends)


def _where(score: Callable[[float], float], z: float) -> float | None:
    """The slope at which the score is `z`; None where it never is."""
    from scipy.optimize import brentq

    if not score(-_STEEPEST) > z > score(_STEEPEST):
        return None
    return float(brentq(lambda slope: score(slope) - z, -_STEEPEST, _STEEPEST))
