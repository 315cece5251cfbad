"""The fleet's figures beside scipy, statsmodels and surpyval on data that no book prints; each is a second opinion."""

import numpy as np
import pytest
import scipy.stats
import surpyval
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from stripdown.fleet.ages import Ages, ages, from_months
from stripdown.fleet.agreement import kappa
from stripdown.fleet.life_intervals import intervals
from stripdown.fleet.nonparametric import life_table
from stripdown.fleet.proportions import adjusted, clopper_pearson, least_p, poisson_limits, two_counts, wilson
from stripdown.fleet.weibull import fit


def months(units: int = 400) -> tuple[np.ndarray, np.ndarray]:
    """Whole months in service and who failed, shape 1.4, scale 60 months."""
    rng = np.random.default_rng(7)
    life, watched = 60 * rng.weibull(1.4, units), rng.uniform(1, 48, units)
    return np.floor(np.minimum(life, watched)).astype(int), life <= watched


def of_surpyval(data: Ages) -> surpyval.Parametric:
    return surpyval.Weibull.fit(xl=data.lower, xr=data.upper, n=data.count)


def test_life_of_month_rounded_units_with_its_intervals() -> None:
    """surpyval: maximum likelihood on intervals and counts, likelihood-ratio ends of shape, scale and B10."""
    data = from_months(*months())
    curve, model = fit(data), of_surpyval(data)
    assert (curve.shape, curve.scale) == pytest.approx((model.beta, model.alpha), rel=1e-5)
    theirs = [model.param_cb(p, method="lr") for p in ("beta", "alpha")] + [model.quantile_cb(0.1, method="lr")]
    for found, ends in zip(intervals(data, curve, adjust=False), theirs, strict=True):
        assert (found.low, found.high) == pytest.approx(tuple(np.ravel(ends)), rel=1e-5)


def test_life_beside_scipy() -> None:
    """scipy.stats: the same likelihood, searched by its own optimiser to about four digits."""
    age, failed = months()
    at = age[failed].astype(float)
    running = age[~failed & (age > 0)].astype(float)
    theirs = scipy.stats.CensoredData(interval=np.column_stack([at, at + 1]), right=running)
    shape, _, scale = scipy.stats.weibull_min.fit(theirs, floc=0)
    curve = fit(from_months(age, failed))
    assert (curve.shape, curve.scale) == pytest.approx((shape, scale), rel=1e-3)


def test_kaplan_meier_beside_scipy() -> None:
    age, failed = months(120)
    table = life_table(ages(age[failed] + 1.0, age[~failed] + 1.0))
    theirs = scipy.stats.ecdf(scipy.stats.CensoredData(uncensored=age[failed] + 1.0, right=age[~failed] + 1.0)).sf
    at = np.searchsorted(theirs.quantiles, table.age)
    assert table.survival == pytest.approx(theirs.probabilities[at], rel=1e-12)


@pytest.mark.parametrize(("count", "total"), [(0, 7), (3, 40), (40, 41), (250, 1000)])
def test_shares_beside_statsmodels(count: int, total: int) -> None:
    for ours, name in ((wilson, "wilson"), (clopper_pearson, "beta")):
        theirs = proportion_confint(count, total, method=name)
        assert [float(x) for x in ours(count, total)] == pytest.approx(theirs, abs=1e-10)


@pytest.mark.parametrize("count", [1, 4, 60])
def test_limits_of_a_count_beside_scipy(count: int) -> None:
    """Chi-square quantiles; scipy.stats.chi2."""
    theirs = scipy.stats.chi2.ppf(0.025, 2 * count) / 2, scipy.stats.chi2.ppf(0.975, 2 * count + 2) / 2
    assert [float(x) for x in poisson_limits(count)] == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize(("x", "y", "e", "f"), [(9, 2, 3.0, 8.0), (0, 6, 1.0, 1.0), (5, 30, 2.0, 40.0)])
def test_two_counts_beside_scipy(x: int, y: int, e: float, f: float) -> None:
    """Twice the smaller binomial tail, and Clopper-Pearson's ends turned into ratios; scipy.stats.binom, binomtest."""
    ratio, low, high, p = (float(v) for v in two_counts(x, e, y, f))
    share = scipy.stats.binom(x + y, e / (e + f))
    assert p == pytest.approx(min(1.0, 2 * min(share.cdf(x), share.sf(x - 1))), rel=1e-9)
    ends = scipy.stats.binomtest(x, x + y).proportion_ci(0.95, "exact")
    assert ratio == pytest.approx((x / e) / (y / f))
    assert (low, high) == pytest.approx([c / (1 - c) * f / e for c in (ends.low, ends.high)], rel=1e-6)


@pytest.mark.parametrize(("total", "pi"), [(1, 0.1), (4, 0.2), (30, 0.03)])
def test_least_p_is_that_of_the_farthest_count(total: int, pi: float) -> None:
    """All counts that could be are tried; none gives less."""
    every = [float(two_counts(x, pi, total - x, 1 - pi)[3]) for x in range(total + 1)]
    assert float(least_p(total, pi)) == pytest.approx(min(every), rel=1e-9)


def test_correction_beside_statsmodels() -> None:
    p = np.random.default_rng(3).uniform(0, 0.4, 40)
    assert adjusted(p) == pytest.approx(multipletests(p, method="fdr_bh")[1], rel=1e-12)


def test_kappa_beside_statsmodels() -> None:
    table = [[30, 2, 1, 0], [3, 22, 4, 1], [0, 2, 18, 2], [1, 0, 1, 9]]
    theirs, found = cohens_kappa(table), kappa(table)
    assert found is not None
    assert (found.value, found.error) == pytest.approx((theirs.kappa, theirs.std_kappa), rel=1e-9)
    assert found.error_at_zero == pytest.approx(theirs.std_kappa0, rel=1e-9)
    assert found.wald() == pytest.approx((theirs.kappa_low, theirs.kappa_upp), rel=1e-9)
