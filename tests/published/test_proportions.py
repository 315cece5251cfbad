"""Shares, comparisons, agreement, shrinkage with published answers."""

import pytest

from stripdown.fleet.agreement import kappa
from stripdown.fleet.proportions import adjusted, clopper_pearson, poisson_limits, two_counts, wilson
from stripdown.fleet.shrinkage import gamma_poisson
from stripdown.fleet.trend import count_limits, outside

NEWCOMBE = [(81, 263), (15, 148), (0, 20), (1, 29)]


def test_wilson() -> None:
    """Newcombe, Statistics in Medicine 17 (1998) 857-872, table I."""
    printed = [(0.2553, 0.3662), (0.0624, 0.1605), (0, 0.1611), (0.0061, 0.1718)]
    for (count, total), (low, high) in zip(NEWCOMBE, printed, strict=True):
        assert [float(x) for x in wilson(count, total)] == pytest.approx([low, high], abs=5e-5)


def test_clopper_pearson() -> None:
    """The same table."""
    printed = [(0.2527, 0.3676), (0.0578, 0.1617), (0, 0.1684), (0.0009, 0.1776)]
    for (count, total), (low, high) in zip(NEWCOMBE, printed, strict=True):
        assert [float(x) for x in clopper_pearson(count, total)] == pytest.approx([low, high], abs=5e-5)


def test_poisson_limits_of_five_events() -> None:
    """Chi-square limits of any table: 1.623486, 11.668332."""
    assert [float(x) for x in poisson_limits(5)] == pytest.approx([1.623486, 11.668332], rel=1e-6)


def test_time_between_failures_from_two() -> None:
    """e-Handbook 8.4.5.1: 2 failures in 800 h, 90 % [127, 2251] h."""
    low, high = poisson_limits(2, 0.90)
    assert (800 / high, 800 / low) == pytest.approx((127.06897, 2251.22861), rel=1e-6)


def test_two_counts_of_equal_exposure() -> None:
    """By hand: 8 against 2, both tails of binomial(10, 1/2): 112/1024."""
    ratio, low, high, p = two_counts(8, 1, 2, 1)
    assert p == pytest.approx(112 / 1024, rel=1e-12)
    assert ratio == pytest.approx(4)
    assert low < 1 < high


def test_benjamini_hochberg() -> None:
    """J. R. Statist. Soc. B 57 (1995) 289-300, section 3.2: 4 of 15 rejected at 0.05."""
    p = [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.3240,
        0.4262,
        0.5719,
        0.6528,
        0.7590,
        1.0,
    ]
    expected = [
        0.0015,
        0.003,
        0.0095,
        0.035625,
        0.0603,
        0.063857,
        0.063857,
        0.0645,
        0.0765,
        0.486,
        0.581182,
        0.714875,
        0.753231,
        0.813214,
        1,
    ]
    assert adjusted(p) == pytest.approx(expected, abs=1e-6)
    assert int((adjusted(p) <= 0.05).sum()) == 4


@pytest.mark.parametrize(
    ("table", "value"),
    [
        ([[20, 5], [10, 15]], 0.40),
        ([[45, 15], [25, 15]], 0.130435),
        ([[25, 35], [5, 35]], 0.259259),
        (
            [[75, 1, 4], [5, 4, 1], [0, 0, 10]],
            0.676471,
        ),  # Fleiss, Statistical Methods for Rates and Proportions, ch. 13/18
        ([[88, 14, 18], [10, 40, 10], [2, 6, 12]], 0.491525),  # Educ. Psychol. Meas. 20 (1960) 37-46
    ],
)
def test_kappa(table: list[list[int]], value: float) -> None:
    """Standard examples, and the two named beside them."""
    found = kappa(table)
    assert found is not None
    assert found.value == pytest.approx(value, abs=1e-6)


def test_kappa_errors() -> None:
    """Standard 2 by 2 example: 95 % 0.1511-0.6489; Fleiss: 0.0877, at zero 0.0762."""
    two, three = kappa([[20, 5], [10, 15]]), kappa([[75, 1, 4], [5, 4, 1], [0, 0, 10]])
    assert two is not None
    assert three is not None
    assert (two.observed, two.error, two.error_at_zero) == pytest.approx((0.70, 0.1270, 0.13856), abs=5e-5)
    assert two.wald() == pytest.approx((0.1511, 0.6489), abs=1e-4)
    assert (three.error, three.error_at_zero) == pytest.approx((0.0877, 0.0762), abs=5e-5)


def test_kappa_by_chance() -> None:
    """Educ. Psychol. Meas. 20 (1960) 37-46: observed 0.70, by chance 0.41."""
    found = kappa([[88, 14, 18], [10, 40, 10], [2, 6, 12]])
    assert found is not None
    assert (found.observed, found.by_chance) == pytest.approx((0.70, 0.41), abs=1e-12)


def test_kappa_of_one_cell_is_not_defined() -> None:
    assert kappa([[12, 0], [0, 0]]) is None


def test_ten_pumps_shrunk() -> None:
    """Gaver & O'Muircheartaigh, Technometrics 29 (1987) 1-15: failures and 1000 h of ten pumps."""
    s = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
    t = [94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]
    found = gamma_poisson(s, t)
    assert (found.alpha, found.beta) == pytest.approx((0.8229651, 1.2616533), rel=1e-5)
    assert found.loglik == pytest.approx(-32.257836, rel=1e-7)
    shrunk = [0.0609, 0.1075, 0.0908, 0.1165, 0.5880, 0.6069, 0.7886, 0.7886, 1.4347, 1.9405]
    assert found.rates == pytest.approx(shrunk, abs=5e-5)


@pytest.mark.parametrize(("centre", "low", "high"), [(16, 4, 28)])
def test_limits_of_a_count_chart(centre: float, low: float, high: float) -> None:
    """e-Handbook 6.3.3.1: 400 defects on 25 wafers, limits 4 and 28; 31 is outside, 28 on the line not."""
    assert count_limits(centre) == pytest.approx((low, high))
    counts = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
    assert sum(counts) / len(counts) == centre
    assert [i for i, c in enumerate(counts, start=1) if outside(c, centre)] == [24]


def test_limits_of_a_rate_chart() -> None:
    """193 defects in 20 samples of 5 units: centre 1.93 a unit, limits 0.066133 and 3.793867 (textbook)."""
    low, high = count_limits(1.93 * 5)
    assert (low / 5, high / 5) == pytest.approx((0.066133, 3.793867), rel=1e-5)
