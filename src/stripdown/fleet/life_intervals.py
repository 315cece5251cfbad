"""Likelihood-ratio intervals of a Weibull life, adjusted where failures are few; Weibayes where they are too few."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from stripdown.fleet.ages import Ages
from stripdown.fleet.proportions import poisson_limits
from stripdown.fleet.weibull import Likelihood, Weibull

_WIDENING = 1.5
_FARTHEST = 60.0
"""An end that lies more than this many steps of its rough standard error away is no end (in logs)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and the ends of its interval; None where the data set no bound on that side."""

    value: float
    low: float | None
    high: float | None


def critical(failures: float, *, level: float = 0.95, adjust: bool = True) -> float:
    """What twice the fall of the log likelihood may reach: chi-square of one degree, wider where failures are few.

    The factor 1 + 1.5 / failures is Bartlett's form; its constant was measured: complete samples would need about 2.2,
    heavily censored ones hardly any, and 1.5 holds the level for both (docs/fleet-methods.md has the coverage).
    """
    chi_square = NormalDist().inv_cdf((1 + level) / 2) ** 2
    return chi_square * (1 + _WIDENING / failures) if adjust else chi_square


def intervals(
    data: Ages, fitted: Weibull, *, level: float = 0.95, share: float = 0.10, adjust: bool = True
) -> tuple[Estimate, Estimate, Estimate]:
    """Shape, scale, and the age by which `share` has failed, each with its likelihood-ratio interval."""
    profile = _Profile(data, fitted, critical(fitted.failures, level=level, adjust=adjust))
    return profile.shape(), profile.age(0.0), profile.age(math.log(-math.log1p(-share)))


class _Profile:
    """The likelihood seen along one figure, the other at its best; positive inside the interval, zero at its ends."""

    def __init__(self, data: Ages, fitted: Weibull, drop: float) -> None:
        self.likelihood = Likelihood(data)
        self.floor = fitted.loglik - drop / 2
        self.beta = fitted.shape
        self.a = fitted.shape * math.log(fitted.scale / self.likelihood.reference)
        self.step = 1 / math.sqrt(max(fitted.failures, 1.0))

    def shape(self) -> Estimate:
        def along(log_shape: float) -> float:
            beta = math.exp(log_shape)

            def value(a: float) -> tuple[float, float, float]:
                v, g, h = self.likelihood(a, beta)
                return v, g[0], h[0, 0]

            return _top(value, self.a * beta / self.beta) - self.floor

        return _estimate(along, math.log(self.beta), self.step, 0.0)

    def age(self, z: float) -> Estimate:
        """`z` = ln(-ln(1 - share)); the scale is the age of z = 0."""

        def along(w: float) -> float:
            def value(beta: float) -> tuple[float, float, float]:
                if beta <= 0:
                    return -math.inf, 0.0, -1.0
                v, g, h = self.likelihood(beta * w - z, beta)
                return v, g[0] * w + g[1], h[0, 0] * w * w + 2 * h[0, 1] * w + h[1, 1]

            return _top(value, self.beta) - self.floor

        return _estimate(along, (self.a + z) / self.beta, self.step / self.beta, math.log(self.likelihood.reference))


def _top(value: Callable[[float], tuple[float, float, float]], start: float) -> float:
    """Greatest value of a concave function that gives itself, its slope and its bend."""
    x, (v, slope, bend) = start, value(start)
    for _ in range(100):
        step = -slope / bend if bend < 0 else math.copysign(1.0, slope)
        while True:
            new_v, new_slope, new_bend = value(x + step)
            if new_v >= v - 1e-10 * abs(v) or abs(step) < 1e-12:
                break
            step /= 2
        x, v, slope, bend = x + step, new_v, new_slope, new_bend
        if abs(slope * step) < 1e-11 * (1 + abs(v)):
            break
    return v


def _estimate(along: Callable[[float], float], centre: float, step: float, shift: float) -> Estimate:
    low, high = (_end(along, centre, s) for s in (-step, step))
    return Estimate(math.exp(centre + shift), *(None if x is None else math.exp(x + shift) for x in (low, high)))


def _end(along: Callable[[float], float], centre: float, step: float) -> float | None:
    """Where `along` falls through zero on the side of `step`; None where it never does."""
    from scipy.optimize import brentq

    inner, reach = centre, 2.0
    while reach < _FARTHEST:
        outer = centre + reach * step
        if along(outer) < 0:
            return float(brentq(along, inner, outer, xtol=1e-10, rtol=1e-9))
        inner, reach = outer, reach * 1.7
    return None


def weibayes(data: Ages, shape: float, *, level: float = 0.95, share: float = 0.10) -> tuple[Estimate, Estimate]:
    """Scale and the age by which `share` has failed, with the shape given: t^shape is then an exponential life.

    The interval is the exact one of a Poisson count of failures, so it holds whenever watching ended at a fixed date.
    Without a failure only the low end exists (at the one-sided `level`) and the value is that of one failure assumed.
    """
    total = float((data.count * np.where(data.failed_at > 0, data.failed_at, 0.0) ** shape).sum())
    failures = data.failures
    few, many = poisson_limits(failures, level if failures > 0 else 2 * level - 1)
    to_age = (-math.log1p(-share)) ** (1 / shape)

    def scale(count: float) -> float | None:
        return (total / count) ** (1 / shape) if count > 0 and total > 0 else None

    value = scale(failures if failures > 0 else 1.0) or 0.0
    low, high = scale(float(many)), scale(float(few))
    return Estimate(value, low, high), Estimate(
        value * to_age, None if low is None else low * to_age, None if high is None else high * to_age
    )


def failure_limits(data: Ages, shape: float, *, level: float = 0.95) -> Estimate:
    """Scale with the chi-square limits of 2r degrees on both sides: exact where watching ended at the last failure."""
    from scipy.special import chdtri

    total = float((data.count * data.failed_at**shape).sum())
    r = data.failures
    low, high = (float(2 * total / chdtri(2 * r, tail)) ** (1 / shape) for tail in ((1 - level) / 2, (1 + level) / 2))
    return Estimate((total / r) ** (1 / shape), low, high)
