"""What holds for every reading: arrays as numbers, and the floor of the two-sided probability."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripdown.bench import electrical, lubrication, wear
from stripdown.bench import measurement as m

FINITE = st.floats(-1e6, 1e6)
SPREAD = st.floats(1e-6, 1e6)


@given(FINITE, SPREAD, st.tuples(FINITE, FINITE).map(sorted))
def test_arrays_give_what_numbers_give(value, u, limits):
    low, high = limits
    for function in (m.probability_within, m.conformity):
        alone = function(value, u, low, high)
        together = function(np.array([value, value]), np.array([u, 0.0]), low, high)
        assert together[0] == pytest.approx(alone, abs=1e-12)
        assert together[1] == (1.0 if low <= value <= high else 0.0)


@given(FINITE, SPREAD, SPREAD, st.tuples(FINITE, FINITE).map(sorted))
def test_a_wider_instrument_is_never_surer(value, u, more, limits):
    """The probability moves towards one half, from whichever side."""
    low, high = limits
    fine, coarse = m.conformity(value, u, low, high), m.conformity(value, u + more, low, high)
    if fine >= 0.5:
        assert 0.5 - 1e-12 <= coarse <= fine + 1e-12
    else:
        assert fine - 1e-12 <= coarse <= 0.5 + 1e-12


def test_a_useless_instrument_does_not_condemn():
    """Two-sided, JCGM 106 alone would say 0.0008: the window is a thousandth of the spread."""
    assert m.probability_within(0.0, 1000.0, -1.0, 1.0) == pytest.approx(0.0008, abs=1e-4)
    assert m.conformity(0.0, 1000.0, -1.0, 1.0) == 0.5


@given(st.lists(st.floats(0.1, 100), min_size=2, max_size=6))
def test_deviations_sum_to_nothing(values):
    assert math.fsum(electrical.deviations(values)) == pytest.approx(0.0, abs=1e-9)
    assert electrical.unbalance(values) == max(abs(d) for d in electrical.deviations(values))
    assert math.fsum(wear.gap_shares(values)) == pytest.approx(len(values))


def test_deviation_uncertainty_against_drawn_readings():
    """Seeded draws of three readings with their own errors: the spread of the deviation is what the formula says,
    within 2 %."""
    values, parts = [0.90, 0.80, 0.85], [0.012, 0.006, 0.009]
    drawn = np.random.default_rng(7).normal(values, parts, size=(40_000, 3)).T
    found = np.std(np.array(electrical.deviations(list(drawn))), axis=1)
    assert electrical.deviation_uncertainty(values, parts) == pytest.approx(found, rel=0.02)


def test_arrays_of_triples():
    """462, 463, 455 and 480, 476, 472 V at once: 1.086957 and 0.840336 % (US DOE tip sheet 7)."""
    lines = [np.array([462.0, 480.0]), np.array([463.0, 476.0]), np.array([455.0, 472.0])]
    assert electrical.unbalance(lines) == pytest.approx([1.086957, 0.840336], rel=1e-6)


def test_oil_figures():
    """By hand: 2 psi is 13.79 kPa; 3.2 of 4 l is 80 %."""
    assert lubrication.crankcase_from_suction(100.0) == pytest.approx(100 - 13.789514)
    assert lubrication.net_oil_pressure(460.0, 240.0) == 220.0
    assert lubrication.oil_charge(np.array([3.2, 2.0]), 4.0) == pytest.approx([80.0, 50.0])
    assert lubrication.acid_rise(0.11, 0.02) == pytest.approx(0.09)


@pytest.mark.parametrize(("metal", "um"), [("shells", 45.0), ("aluminium", 120.0)])
def test_new_clearance(metal, um):
    """0.75 µm per mm, and 2 µm per mm at most: a 60 mm journal."""
    assert wear.new_clearance(60.0, metal) * 1000 == pytest.approx(um)
