"""Weibull life from grouped, interval- and right-censored ages: profile likelihood and its intervals.

With y = ln t and z = shape·y − a the log likelihood is concave in (a, shape), so that Newton's method cannot go astray;
scale = exp(a / shape). Ages in any unit; scale and quantiles come back in the same.
"""

import math
from dataclasses import dataclass

import numpy as np

from stripdown.fleet.ages import Ages, Numbers

LEAST_FAILURES = 3.995
"""Four, as two decimals show a sum of probabilities; with fewer a shape is stated, not estimated (Weibayes)."""
_MOST = 300.0  # keeps exp() finite on the way; no maximum lies there
_LEAST = 1e-150  # of a difference, so that one over its square is finite


class NoFitError(ValueError):
    """The ages do not determine a shape: too few failures, or all of one age."""


@dataclass(frozen=True, slots=True)
class Weibull:
    """A fitted life: scale in the unit of the ages, log likelihood, number of failures."""

    shape: float
    scale: float
    loglik: float
    failures: float

    def quantile(self, share: float) -> float:
        """Age by which `share` of the units has failed: 0.10 for B10."""
        return float(self.scale * (-math.log1p(-share)) ** (1 / self.shape))


class Likelihood:
    """Log likelihood of (a, shape) with first and second derivatives, over rows of ages relative to a reference age.

    Failures of known age and running units share their terms in exp(z); only true intervals need their own.
    """

    def __init__(self, data: Ages) -> None:
        running = np.isinf(data.upper)
        point = (data.lower == data.upper) | running
        self.reference = float(np.exp(np.average(np.log(np.maximum(data.failed_at, 1e-12)), weights=data.count)))
        self.n = data.count[point]
        self.y = np.log(data.lower[point] / self.reference)
        self.powers = np.stack([self.n, self.n * self.y, self.n * self.y**2])
        dead = np.where(running[point], 0.0, self.n)
        self.dead, self.dead_y = float(dead.sum()), float((dead * self.y).sum())
        self.m = data.count[~point]
        self.from_zero = data.lower[~point] == 0
        self.yl = np.log(np.where(self.from_zero, 1.0, data.lower[~point] / self.reference))
        self.yr = np.log(data.upper[~point] / self.reference)

    def __call__(self, a: float, shape: float) -> tuple[float, Numbers, Numbers]:
        """Value, gradient, Hessian by (a, shape)."""
        e0, e1, e2 = self.powers @ np.exp(np.minimum(shape * self.y - a, _MOST))
        d, dy = self.dead, self.dead_y
        value = shape * dy - a * d - e0 + d * math.log(shape) - dy - d * math.log(self.reference)
        grad = np.array([e0 - d, dy - e1 + d / shape])
        hess = np.array([[-e0, e1], [e1, -e2 - d / shape**2]])
        if len(self.m):
            v, g, h = self._between(a, shape)
            return float(value + v), grad + g, hess + h
        return float(value), grad, hess

    def _between(self, a: float, shape: float) -> tuple[float, Numbers, Numbers]:
        """The rows that failed between two ages."""
        m, yl, yr = self.m, self.yl, self.yr
        low = np.where(self.from_zero, 0.0, np.exp(np.minimum(shape * yl - a, _MOST)))
        high = np.exp(np.minimum(shape * yr - a, _MOST))
        wider = np.expm1(np.minimum(shape * (yr - yl), _MOST))  # as high - low, yet right where both are at their most
        width = np.maximum(np.where(self.from_zero, high, low * wider), _LEAST)
        q = np.where(width > 700, 0.0, 1 / np.expm1(np.minimum(width, 700.0)))
        value = float((m * (-low + np.log(-np.expm1(-width)))).sum())
        gl, gr = -low * (1 + q), q * high
        bend = q * (1 + q)
        ll, rr, lr = m * (gl - low**2 * bend), m * (gr - high**2 * bend), m * low * high * bend
        grad = np.array([-(m * (gl + gr)).sum(), (m * (gl * yl + gr * yr)).sum()])
        cross = -(ll * yl + rr * yr + lr * (yl + yr)).sum()
        hess = np.array(
            [[(ll + rr + 2 * lr).sum(), cross], [cross, (ll * yl**2 + rr * yr**2 + 2 * lr * yl * yr).sum()]]
        )
        return value, grad, hess


def fit(data: Ages) -> Weibull:
    """Maximum likelihood; `NoFitError` where the failures do not determine a shape."""
    _must_determine(data)
    likelihood = Likelihood(data)
    a, shape, value = _maximum(likelihood)
    scale = likelihood.reference * math.exp(a / shape)
    return Weibull(shape, scale, value, data.failures)


def _must_determine(data: Ages) -> None:
    """A shape needs two failures whose ages are known to differ, or one and units that outlived it for long."""
    dead = np.isfinite(data.upper)
    if data.count[dead].sum() <= 0:
        raise NoFitError("no failure: no shape")
    if data.lower[dead].max() <= data.upper[dead].min() and not np.any(data.upper[dead].min() < data.lower):
        raise NoFitError("all failures of one age and no unit older: the shape has no upper bound")


def _maximum(likelihood: Likelihood) -> tuple[float, float, float]:
    """a, shape and log likelihood at the top, by Newton's method with halved steps."""
    at = np.array([_start(likelihood), 1.0])
    value, grad, hess = likelihood(*at)
    for _ in range(200):
        step = -np.linalg.solve(hess - 1e-12 * np.eye(2) * abs(hess).max(), grad)
        length = 1.0 if at[1] + step[1] > 0 else 0.5 * at[1] / -step[1]
        while True:
            new = at + length * step
            new_value, new_grad, new_hess = likelihood(*new)
            if new_value >= value - 1e-9 * abs(value) or length < 1e-8:
                break
            length /= 2
        done = np.abs(length * step).max() < 1e-10 * (1 + np.abs(new).max())
        at, value, grad, hess = new, new_value, new_grad, new_hess
        if at[1] > 1e4:
            raise NoFitError("all failures of nearly one age: the shape has no upper bound")
        if done:
            return float(at[0]), float(at[1]), value
    raise NoFitError("the likelihood has no top within reach")


def _start(likelihood: Likelihood) -> float:
    """a of an exponential life: log of total time over failures."""
    time = (likelihood.n * np.exp(likelihood.y)).sum() + (likelihood.m * np.exp(likelihood.yr)).sum()
    return math.log(time / (likelihood.dead + likelihood.m.sum()))
