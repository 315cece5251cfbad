"""The intervals of the fleet hold what they promise, measured on invented fleets; docs/fleet-methods.md has the table.

A share of hits over n runs has a standard error of sqrt(0.95·0.05/n): 0.9 points for 600 runs. The bounds below are the
promise (2 points from 20 failures up, 4 points from 5 to 20) and two such errors; a two-sided interval may hold more.
"""

import numpy as np
import pytest

from tests.fleet.simulate import (
    alarms,
    cumulative_incidence,
    plain_share,
    poisson,
    prediction,
    ratio,
    share,
    survival,
    weibull,
)

pytestmark = pytest.mark.slow
LEVEL = 0.95


def missing(points: float, runs: int) -> float:
    """Least share of hits that so many runs of an interval within `points` of its level would give."""
    return LEVEL - points / 100 - 2 * float(np.sqrt(LEVEL * (1 - LEVEL) / runs))


@pytest.mark.parametrize(("failures", "points"), [(5, 4), (20, 2)])
def test_weibull_intervals_hold(failures: int, points: float) -> None:
    """Likelihood ratio on 30 % failed samples of shape 1.8; plain chi-square limits would hold some points less."""
    held = np.mean(list(weibull(failures, 0.3, 1.8, 200)), axis=0)
    assert np.all(held >= missing(points, 200))


@pytest.mark.parametrize("expected", [5, 20])
def test_intervals_of_counts_shares_and_ratios_hold(expected: int) -> None:
    points = 4 if expected < 20 else 2
    assert share(poisson(expected, 600)) >= missing(points, 600)
    assert share(ratio(expected, 10 * expected, 2.0, 600)) >= missing(points, 600)
    assert share(plain_share(0.1, 10 * expected, 600)) >= missing(points, 600)


def test_curves_without_assumption_hold() -> None:
    assert share(survival(20, 300)) >= missing(2, 300)
    assert share(cumulative_incidence(20, 300)) >= missing(2, 300)


def test_prediction_limits_hold() -> None:
    assert share(prediction(10, 60)) >= missing(4, 60)


def test_a_quiet_fleet_is_quiet_and_a_planted_fault_is_found() -> None:
    """Of fleets without a fault at most one in twenty may raise an alert; 15 of 20 at least show both planted ones."""
    quiet, loud = alarms(20), alarms(20, bad_site=4.0, bad_batch=5.0)
    assert sum(map(bool, quiet)) <= 4  # binomial(20, 0.05): more than 4 in one of four hundred
    for planted in (("site", "site 7"), ("build_month", "2021-01")):
        assert sum(planted in found for found in loud) >= 15
