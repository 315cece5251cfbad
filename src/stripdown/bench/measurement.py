"""Uncertainty of a reading and the probability that it conforms: JCGM 100 (propagation) and JCGM 106 (conformity)."""

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stripdown.bench.number import Number

_erf = np.frompyfunc(math.erf, 1, 1)


def normal(z: Number) -> Number:
    """Share of a standard normal distribution below `z`.

    z [1]: any number, infinities included. Result [1]: 0..1.
    Source: definition of the normal distribution.

    >>> round(normal(1.40), 6)
    0.919243
    """
    if isinstance(z, float | int):
        return 0.5 * math.erfc(-z / math.sqrt(2.0))
    return 0.5 * (1.0 + np.asarray(_erf(np.asarray(z) / math.sqrt(2.0)), dtype=float))


def half_width(value: Number, relative: Number, absolute: Number) -> Number:
    """Half-width of an instrument's stated accuracy.

    value [any unit]; relative [1], share of the reading; absolute [unit of value]. Result [unit of value].
    Source: JCGM 100:2008, 4.3.7.

    >>> round(half_width(0.86, 0.005, 0.02), 6)
    0.0243
    """
    return abs(value) * relative + absolute


def rectangular(half: Number) -> Number:
    """Standard uncertainty of a quantity that is equally likely anywhere within plus or minus `half`.

    half [any unit], 0 or more. Result [unit of half]. Source: JCGM 100:2008, 4.3.7.

    >>> round(rectangular(0.0243), 6)
    0.01403
    """
    return half / math.sqrt(3.0)


def digit_step(step: Number) -> Number:
    """Standard uncertainty from the last digit of a display.

    step [any unit], the value of one digit. Result [unit of step]. Source: JCGM 100:2008, F.2.2.1.

    >>> round(digit_step(0.01), 7)
    0.0028868
    """
    return step / math.sqrt(12.0)


def combined(*parts: Number) -> Number:
    """Root sum of squares of independent standard uncertainties.

    parts [all of one unit], 0 or more each. Result [that unit]. Source: JCGM 100:2008, 5.1.2.

    >>> combined(3.0, 4.0)
    5.0
    """
    total: Number = 0.0
    for part in parts:
        total = total + part * part
    return math.sqrt(total) if isinstance(total, float) else np.sqrt(total)


def rectangular_coverage(half: Number, probability: float = 0.95) -> Number:
    """Half-width that holds `probability` of a rectangular distribution.

    half [any unit]; probability [1], 0..1. Result [unit of half]. Source: JCGM 100:2008, G.1.3 and table G.2 remarks.

    >>> round(rectangular_coverage(0.0243), 6)
    0.023085
    """
    return half * probability


def guard_band(uncertainty: Number, probability: float = 0.95) -> Number:
    """How far inside a single limit a reading must lie to conform with at least `probability`.

    uncertainty [any unit], standard; probability [1], between 0 and 1. Result [unit of uncertainty].
    Source: JCGM 106:2012, clause 8.

    >>> round(guard_band(1.0), 6)
    1.644854
    """
    return NormalDist().inv_cdf(probability) * uncertainty


def effective_degrees(parts: Sequence[float], degrees: Sequence[float]) -> float:
    """Effective degrees of freedom of a combined uncertainty (Welch–Satterthwaite).

    parts [one unit], standard uncertainties; degrees [1], of each, above 0. Result [1].
    Raises ValueError where the lengths differ. Source: JCGM 100:2008, G.4.1, equation G.2b.

    >>> round(effective_degrees([1.0, 1.0], [10, 10]), 1)
    20.0
    """
    total = math.fsum(u * u for u in parts)
    return total * total / math.fsum(u**4 / n for u, n in zip(parts, degrees, strict=True))


def covariance_of_means(samples: ArrayLike) -> NDArray[np.float64]:
    """Covariance matrix of the means of quantities observed together.

    samples [unit of each row's quantity]: one row a quantity, one column an observation, two columns or more.
    Result [products of those units]. Source: JCGM 100:2008, 5.2.3, equation 17.

    >>> covariance_of_means([[1.0, 3.0], [2.0, 4.0]]).tolist()
    [[1.0, 1.0], [1.0, 1.0]]
    """
    rows = np.asarray(samples, dtype=float)
    centred = rows - rows.mean(axis=1, keepdims=True)
    n = rows.shape[1]
    return np.asarray(centred @ centred.T / (n * (n - 1)), dtype=float)


def propagated(gradient: ArrayLike, covariance: ArrayLike) -> NDArray[np.float64]:
    """Covariance matrix of results from that of their inputs, correlations included.

    gradient [result unit per input unit]: one row a result, one column an input; covariance [products of input units].
    Result [products of result units]. Source: JCGM 100:2008, 5.2.2, equation 13, and H.2.

    >>> propagated([[1.0, 1.0]], [[1.0, -1.0], [-1.0, 1.0]]).tolist()
    [[0.0]]
    """
    g = np.asarray(gradient, dtype=float)
    return np.asarray(g @ np.asarray(covariance, dtype=float) @ g.T, dtype=float)


def calibration_line(
    at: ArrayLike, correction: ArrayLike, reference: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Straight line through the corrections of a calibrated instrument.

    at [unit of the instrument], three points or more; correction [same unit]; reference [same unit], where the
    intercept holds. Result: (intercept, slope) and their covariance matrix. Source: JCGM 100:2008, H.3.

    >>> line, covariance = calibration_line([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], 0.0)
    >>> line.round(9).tolist()
    [1.0, 1.0]
    """
    x = np.asarray(at, dtype=float) - reference
    y = np.asarray(correction, dtype=float)
    design = np.column_stack([np.ones_like(x), x])
    inverse = np.linalg.inv(design.T @ design)
    line = inverse @ design.T @ y
    rest = y - design @ line
    return line, inverse * float(rest @ rest) / (len(x) - 2)


def probability_within(value: Number, uncertainty: Number, low: Number = None, high: Number = None) -> Number:
    """Probability that the true value lies between two limits, the measured one normal around it.

    value, low, high [one unit]; uncertainty [same unit], standard, 0 or more; None = no limit on that side.
    Result [1]: 0..1; with no uncertainty 0 or 1, a value on the limit conforming. Source: JCGM 106:2012, clause 7.

    >>> round(probability_within(13.6, 1.8, 12.5, 16.3), 6)
    0.66263
    """
    below: Number = 0.0 if low is None else 1.0 - one_sided(value - low, uncertainty)
    above: Number = 0.0 if high is None else 1.0 - one_sided(high - value, uncertainty)
    return 1.0 - below - above


def one_sided(margin: Number, uncertainty: Number) -> Number:
    """Probability that a margin towards a limit is really positive.

    margin [any unit], measured, positive = inside; uncertainty [same unit], standard, 0 or more. Result [1]: 0..1.
    Source: JCGM 106:2012, clause 7, one-sided tolerance.

    >>> one_sided(0.0, 0.3), one_sided(0.0, 0.0)
    (0.5, 1.0)
    """
    if isinstance(margin, float | int) and isinstance(uncertainty, float | int):
        if uncertainty == 0.0:
            return 1.0 if margin >= 0 else 0.0
        return normal(margin / uncertainty)
    margin, uncertainty = np.asarray(margin, dtype=float), np.asarray(uncertainty, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        z = margin / uncertainty
    return normal(np.where(np.isnan(z), np.inf, z))


def conformity(value: Number, uncertainty: Number, low: Number = None, high: Number = None) -> Number:
    """Probability of conformity as verdicts use it: as `probability_within`, but never below that of the nearer
    limit, at most one half.

    An instrument whose spread exceeds the whole window would otherwise be sure that the value lies outside it: with
    this, a wider instrument never makes a verdict surer, and a reading on a limit has one half whatever the instrument.
    value, low, high [one unit]; uncertainty [same unit], standard, 0 or more; None = no limit on that side. Result
    [1]: 0..1. Source: JCGM 106:2012, clause 7; the floor is this project's own.

    >>> round(conformity(0.0, 1000.0, -1.0, 1.0), 3), round(conformity(2.0, 1.0, -1.0, 1.0), 6)
    (0.5, 0.158655)
    """
    if low is None or high is None:
        return probability_within(value, uncertainty, low, high)
    nearer_low, nearer_high = one_sided(value - low, uncertainty), one_sided(high - value, uncertainty)
    both = nearer_low + nearer_high - 1.0
    if isinstance(both, float):
        return max(both, min(nearer_low, nearer_high, 0.5))
    return np.maximum(both, np.minimum(np.minimum(nearer_low, nearer_high), 0.5))
