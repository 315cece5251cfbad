"""Uncertainty and conformity as the guides print them; recomputed figures tight, printed ones loose."""

import math

import numpy as np
import pytest
from scipy import stats

from stripdown.bench import measurement as m


def test_one_sided_tolerance():
    """JCGM 106:2012, clause 7: y = -5.47 V, u = 0.05 V, upper limit -5.40 V; 0.919243 (printed 0.92)."""
    assert m.probability_within(-5.47, 0.05, high=-5.40) == pytest.approx(0.919243, abs=1e-6)


def test_two_sided_tolerance():
    """JCGM 106:2012, clause 7: 13.6, u = 1.8, limits 12.5 to 16.3 mm²/s; 0.662630 (printed 0.66)."""
    assert m.probability_within(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.662630, abs=1e-6)
    assert m.conformity(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.662630, abs=1e-6)


@pytest.mark.parametrize("u", [1e-6, 0.1, 3.0, 1e6])
def test_on_the_limit_is_one_half(u):
    """Property: y = upper limit gives 0.5 for any u, exactly; on one of two limits as verdicts use it."""
    assert m.probability_within(2.0, u, high=2.0) == 0.5
    assert m.conformity(2.0, u, -2.0, 2.0) == 0.5
    assert m.conformity(-2.0, u, -2.0, 2.0) == 0.5


@pytest.mark.parametrize(
    ("value", "u", "low", "high", "probability"),
    [(0.86, 0.014, None, 0.88, 0.923436), (10.1, 0.05, 9.8, 10.2, 0.977250), (4.0, 1.0, 2.0, 5.0, 0.818595)],
)
def test_worked_probabilities(value, u, low, high, probability):
    """Recomputed with scipy 1.17 to 1e-6."""
    assert m.probability_within(value, u, low, high) == pytest.approx(probability, abs=1e-6)


def test_guard_band():
    """JCGM 106, clause 8: 95 % one-sided is 1.644854 · u."""
    assert m.guard_band(0.3) == pytest.approx(1.644854 * 0.3, rel=1e-6)


@pytest.mark.parametrize(("value", "answer"), [(1.9, 1.0), (2.0, 1.0), (2.1, 0.0)])
def test_no_uncertainty(value, answer):
    """Property: 0 or 1; equal to the limit counts as conforming."""
    assert m.probability_within(value, 0.0, high=2.0) == answer
    assert m.probability_within(np.array([value]), 0.0, high=2.0).tolist() == [answer]


def test_voltmeter_specification():
    """JCGM 100:2008, 4.3.7 example 2 and 5.1.5: half-width 15.0 µV, u 8.66 (printed 8.7), with 12 µV u_c 14.8
    (printed 15)."""
    half = m.half_width(0.928571, 14e-6, 2e-6 * 1.0)
    assert half == pytest.approx(15.0e-6, rel=1e-3)
    assert m.rectangular(half) == pytest.approx(8.66e-6, rel=1e-3)
    assert m.combined(m.rectangular(half), 12e-6) == pytest.approx(14.8e-6, rel=1e-3)


def test_ohmmeter_with_its_last_digit():
    """Recomputed to 1e-6: "0.5% + 0.02" at 0.86 ohm, digit 0.01; the same, digit 0.001; "1% + 0.3" at 10.0, digit
    0.1."""
    half = m.half_width(0.86, 0.005, 0.02)
    assert half == pytest.approx(0.0243, rel=1e-12)
    assert m.rectangular(half) == pytest.approx(0.0140296, rel=5e-6)
    assert m.digit_step(0.01) == pytest.approx(0.0028868, abs=5e-8)
    both = m.combined(m.rectangular(half), m.digit_step(0.01))
    assert both == pytest.approx(0.0143235, rel=5e-6)
    assert 2 * both == pytest.approx(0.0286470, rel=5e-6)
    assert m.combined(m.rectangular(half), m.digit_step(0.001)) == pytest.approx(0.0140326, rel=5e-6)
    wide = m.combined(m.rectangular(m.half_width(10.0, 0.01, 0.3)), m.digit_step(0.1))
    assert wide == pytest.approx(0.232737, rel=5e-6)


def test_rectangular_coverage():
    """EA-4/02 S9: ±0.95 of the half-width, k = 1.645 (printed 1.65); 0.023085 for 0.0243."""
    covered = m.rectangular_coverage(0.0243)
    assert covered == pytest.approx(0.023085, rel=1e-6)
    assert covered / m.rectangular(0.0243) == pytest.approx(1.645, abs=5e-4)


def test_end_gauge():
    """JCGM 100, H.1: u_c 31.671 nm (32), 16.76 degrees (16, cut), t99(16) 2.92078, U99 93 nm; t from scipy."""
    parts, degrees = [25.0, 9.7, 2.9, 16.6], [18.0, 25.6, 50.0, 2.0]
    u = m.combined(*parts)
    assert u == pytest.approx(31.671, rel=1e-4)
    nu = m.effective_degrees(parts, degrees)
    assert nu == pytest.approx(16.76, rel=1e-3)
    factor = stats.t.ppf(0.995, int(nu))
    assert factor == pytest.approx(2.92078, rel=1e-5)
    assert factor * u == pytest.approx(93, abs=0.6)


VOLTS = [5.007, 4.994, 5.005, 4.990, 4.999]
AMPERES = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
PHASE = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def _impedance() -> tuple[np.ndarray, np.ndarray]:
    """R, X, Z and their derivatives by V, I and φ, by hand."""
    v, i, f = (float(np.mean(x)) for x in (VOLTS, AMPERES, PHASE))
    r, x, z = v / i * math.cos(f), v / i * math.sin(f), v / i
    return np.array([r, x, z]), np.array([[r / v, -r / i, -x], [x / v, -x / i, r], [z / v, -z / i, 0.0]])


def test_impedance_with_correlated_inputs():
    """JCGM 100, H.2, to 1e-5 recomputed: R 127.7322 (0.07107), X 219.8465 (0.29558, printed 0.295), Z 254.2597
    (0.23634)."""
    values, gradient = _impedance()
    inputs = m.covariance_of_means([VOLTS, AMPERES, PHASE])
    assert np.sqrt(np.diag(inputs)) == pytest.approx([0.0032, 0.0095e-3, 0.00075], rel=0.02)  # printed digits
    correlation = inputs / np.sqrt(np.outer(np.diag(inputs), np.diag(inputs)))
    assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.355, 0.858, -0.645], abs=6e-4)
    covariance = m.propagated(gradient, inputs)
    u = np.sqrt(np.diag(covariance))
    assert values == pytest.approx([127.7322, 219.8465, 254.2597], rel=1e-6)
    assert u == pytest.approx([0.07107, 0.29558, 0.23634], rel=5e-5)
    assert u[1] == pytest.approx(0.295, abs=0.001)
    r = covariance / np.outer(u, u)
    assert r[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=6e-4)


def test_correlations_are_not_ignored():
    """JCGM 100, H.2: without them u(R) would be 0.19454."""
    _, gradient = _impedance()
    inputs = m.covariance_of_means([VOLTS, AMPERES, PHASE])
    alone = m.propagated(gradient, np.diag(np.diag(inputs)))
    assert math.sqrt(alone[0, 0]) == pytest.approx(0.19454, rel=1e-4)


def test_thermometer_calibration():
    """JCGM 100, H.3, printed digits: y1 -0.1712 (0.0029), y2 0.00218 (0.00067), r -0.930, s 0.0035; at 30 degC
    -0.1494 (0.0041)."""
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    (y1, y2), covariance = m.calibration_line(t, b, 20.0)
    u1, u2 = np.sqrt(np.diag(covariance))
    assert (round(y1, 4), round(y2, 5)) == (-0.1712, 0.00218)
    assert (round(u1, 4), round(u2, 5)) == (0.0029, 0.00067)
    assert covariance[0, 1] / (u1 * u2) == pytest.approx(-0.930, abs=5e-4)
    rest = np.array(b) - y1 - y2 * (np.array(t) - 20)
    assert math.sqrt(rest @ rest / 9) == pytest.approx(0.0035, abs=5e-5)
    at_30 = np.array([1.0, 10.0])
    assert y1 + 10 * y2 == pytest.approx(-0.1494, abs=5e-5)
    assert math.sqrt(m.propagated([at_30], covariance)[0, 0]) == pytest.approx(0.0041, abs=5e-5)
