"""Two groups side by side: the difference, its interval, its p; and the correction for all looks taken so far."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from stripdown.fleet.proportions import adjusted, two_counts
from stripdown.widgets.explorer_choice import Choice, Kept
from stripdown.widgets.explorer_life import Exposure
from stripdown.widgets.explorer_measure import Measure
from stripdown.widgets.explorer_table import Mask, Numbers

REST = ""
"""The other side of a comparison: all others."""
LEAST = 2
"""Returns that each group must have."""
_FEW = 5.0
"""Yes or no answers due in a group below which the p of a share is a rough one (common practice for chi-square)."""
_Z = NormalDist().inv_cdf(0.975)


class NoComparisonError(ValueError):
    """Two groups that cannot be compared, and why, in words."""


@dataclass(frozen=True, slots=True)
class Difference:
    """`a`, `b`: the measure of each; `change` is a − b, or a / b where `is_ratio`, with its interval and plain p."""

    a: float
    b: float
    change: float
    low: float
    high: float
    p: float
    is_ratio: bool = False
    few: bool = False
    """So few cases that the p is a rough one."""


def shares(a: Numbers, b: Numbers) -> Difference:
    """Two mean probabilities, of values without nan.

    Interval: one yes and one no added to each group (Agresti and Caffo's, where records are certain). p: as if the
    records were shuffled between the groups (the N − 1 chi-square test, where they are certain).
    """
    _enough(a, b)
    change = float(a.mean() - b.mean())
    (centre_a, error_a), (centre_b, error_b) = _padded(a), _padded(b)
    half = _Z * math.hypot(error_a, error_b)
    low, high = centre_a - centre_b - half, centre_a - centre_b + half
    everyone = np.concatenate([a, b])
    spread = math.sqrt(float(everyone.var(ddof=1)) * (1 / len(a) + 1 / len(b)))
    p = 2 * NormalDist().cdf(-abs(change) / spread) if spread > 0 else 1.0
    due = [len(g) * s for g in (a, b) for s in (float(everyone.mean()), 1 - float(everyone.mean()))]
    return Difference(
        float(a.mean()), float(b.mean()), change, max(min(low, change), -1.0), min(max(high, change), 1.0), p,
        few=min(due) < _FEW,
    )  # fmt: skip


def _padded(values: Numbers) -> tuple[float, float]:
    """Mean with one yes and one no added, and its standard error."""
    n = len(values) + 2
    mean = (float(values.sum()) + 1) / n
    return mean, math.sqrt(max((float((values**2).sum()) + 1) / n - mean**2, 0.0) / n)


def money(a: Numbers, b: Numbers) -> Difference:
    """Two mean costs: Welch's t (Biometrika 34 (1947) 28-35)."""
    from scipy.special import stdtr, stdtrit

    _enough(a, b)
    change = float(a.mean() - b.mean())
    of_mean = [float(g.var(ddof=1)) / len(g) for g in (a, b)]
    if not sum(of_mean) > 0:
        raise NoComparisonError("every return of both groups costs the same: there is no spread to judge by")
    error = math.sqrt(sum(of_mean))
    freedom = error**4 / sum(v**2 / (len(g) - 1) for v, g in zip(of_mean, (a, b), strict=True))
    half = float(stdtrit(freedom, 0.975)) * error
    p = 2 * float(stdtr(freedom, -abs(change) / error))
    return Difference(float(a.mean()), float(b.mean()), change, change - half, change + half, p)


def rates(a: Exposure, b: Exposure) -> Difference:
    """Failures of two groups, each beside those expected at equal model and age: the ratio of the ratios, exact."""
    (failed_a, due_a), (failed_b, due_b) = ((float(e.failed[0]), float(e.expected[0])) for e in (a, b))
    if not due_a > 0 or not due_b > 0:
        raise NoComparisonError("no failure was to be expected in one of the groups: nothing to compare with")
    if not failed_a + failed_b > 0:
        raise NoComparisonError("nothing failed in either group")
    ratio, low, high, p = (float(v) for v in two_counts(failed_a, due_a, failed_b, due_b))
    return Difference(failed_a / due_a, failed_b / due_b, ratio, low, high, p, is_ratio=True)


def _enough(a: Numbers, b: Numbers) -> None:
    if min(len(a), len(b)) < LEAST:
        raise NoComparisonError(f"too few returns to compare ({len(a)} and {len(b)}): each group needs {LEAST}")


def units_of(choice: Choice, a: str, b: str) -> tuple[Mask, Mask]:
    """The units of both sides; only where they are known."""
    assert choice.units is not None
    one = choice.units.among(choice.by, [a])
    other = ~one if b == REST else choice.units.among(choice.by, [b])
    return choice.units_chosen & one, choice.units_chosen & other


def difference(choice: Choice, a: str, b: str) -> Difference:
    """Group `a` of a question against group `b`, or against REST. Raises NoComparisonError."""
    sort = choice.measure.sort
    if why := choice.silent:
        raise NoComparisonError(why)
    if sort == "count":
        raise NoComparisonError("counts say nothing without the units behind them: choose a share or a rate")
    if sort == "rate" and choice.units is not None:
        return rates(choice.exposed.of([a]), choice.exposed.besides(a) if b == REST else choice.exposed.of([b]))
    one_side = choice.dimension.among([a])
    other_side = ~one_side if b == REST else choice.dimension.among([b])
    test = money if sort == "money" else shares
    return test(choice.numbers[choice.some & one_side], choice.numbers[choice.some & other_side])


@dataclass(frozen=True, slots=True)
class Question:
    """One comparison that was asked for: among which returns, what, by what, of whom against whom."""

    kept: Kept
    measure: Measure
    by: str
    a: str
    b: str

    @property
    def same(self) -> tuple[object, ...]:
        """Equal for the same question, whoever is named first."""
        return self.kept, self.measure, self.by, frozenset((self.a, self.b))


@dataclass(frozen=True, slots=True)
class Look:
    """A comparison that was made, and what came out."""

    question: Question
    difference: Difference


def settled(looks: Sequence[Look]) -> list[float]:
    """The p of each look, corrected for all of them together (Benjamini and Hochberg)."""
    return [float(p) for p in adjusted([look.difference.p for look in looks])]
