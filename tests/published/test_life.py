"""Life data with published answers. "Recomputed": from the printed data with an independent library."""

import math
from fractions import Fraction

import numpy as np
import pytest
import statsmodels.api as statsmodels
import surpyval

from stripdown.fleet.ages import Ages, ages
from stripdown.fleet.forecast import expected_failures, limits
from stripdown.fleet.life_intervals import critical, failure_limits, intervals, weibayes
from stripdown.fleet.nonparametric import incidence, life_table
from stripdown.fleet.weibull import fit
from tests.published.data_life import (
    BALL23,
    BALL23_TEXT,
    C5,
    CAGE,
    COMP_A,
    CRACKS,
    DEVICE_RUNNING,
    F25,
    FAN,
    JQT20,
    NIST20,
    SHOCK,
    SHOCK_1,
    SHOCK_2,
    SHOCK_RUNNING,
    SIX,
    SURGE,
    TUBES,
    WEAR,
    numbers,
    of,
)


@pytest.mark.parametrize(
    ("data", "shape", "scale"),
    [
        (NIST20, 1.7207973, 606.52756),  # e-Handbook 8.4.1.3 prints 1.7208, 606.5280
        (CAGE, 2.0353186, 11792.178),  # Meeker & Escobar ex. 8.16 print 2.035, 11792
        (SHOCK, 3.1604703, 27718.719),  # Meeker & Escobar print 3.16, 27719
        (of(SHOCK_1, f"{SHOCK_2} {SHOCK_RUNNING}"), 3.3839462, 31205.798),  # mode 1, the other mode removes
        (of(SHOCK_2, f"{SHOCK_1} {SHOCK_RUNNING}"), 2.8222110, 40865.861),  # mode 2
        (FAN, 1.0584458, 26296.845),  # Nelson; Meeker & Escobar print 1.058, 26297
        (of(WEAR, f"{SURGE} {DEVICE_RUNNING}"), 4.3372822, 340.38419),  # Meeker & Escobar, device G, print 4.337, 340.4
        (of(SURGE, f"{WEAR} {DEVICE_RUNNING}"), 0.6709927, 449.46891),  # the same, print 0.671, 449.5
        (of(f"{SURGE} {WEAR}", DEVICE_RUNNING), 0.9267892, 242.59028),  # modes mixed up: another answer
        (BALL23, 2.1018469, 81.874559),  # Lieblein & Zelen 1956; many books print 2.102, 81.87
        (of(BALL23_TEXT.replace("48.40", "48.48")), 2.1020589, 81.878334),  # the misprint of many books
        (JQT20, 2.7539529, 67.918834),  # J. Quality Technology 29, 1997, prints 2.7540, 67.9188
        (C5, 2.2570433, 4900.1057),  # The New Weibull Handbook C.5 prints 2.257, 4900.1
        (SIX, 1.9326780, 73.526074),  # Kececioglu 1993 prints 1.933, 73.526
        (F25, 3.0170186, 87.956292),  # The New Weibull Handbook fig. 2-5, by maximum likelihood (recomputed)
        (CRACKS, 1.4853673, 71.690405),  # Nelson p. 415 prints 1.4854, 71.6904
        (TUBES, 1.3455150, 23.619925),  # Meeker & Escobar ch. 3, pooled plants (recomputed)
    ],
)
def test_maximum_likelihood(data: Ages, shape: float, scale: float) -> None:
    curve = fit(data)
    assert curve.shape == pytest.approx(shape, rel=1e-5)
    assert curve.scale == pytest.approx(scale, rel=1e-5)


@pytest.mark.parametrize(
    ("data", "loglik"),
    [
        (NIST20, -75.134618),
        (CAGE, -76.436896),
        (SHOCK, -123.99536),
        (FAN, -135.15272),
        (CRACKS, -309.66841),
        (TUBES, -54.414705),
    ],
)
def test_log_likelihood_at_the_top(data: Ages, loglik: float) -> None:
    """Recomputed from the printed data; Nelson p. 415 prints -309.668 for the cracks."""
    assert fit(data).loglik == pytest.approx(loglik, rel=1e-7)


@pytest.mark.parametrize(
    ("data", "share", "age"),
    [(CAGE, 0.10, 3903.1267), (CAGE, 0.01, 1230.3205), (SHOCK, 0.10, 13600.035), (FAN, 0.10, 3137.241)],
)
def test_age_by_which_a_share_has_failed(data: Ages, share: float, age: float) -> None:
    """Meeker & Escobar print B10 3903 h for the cages and 13600 km for the shock absorbers."""
    assert fit(data).quantile(share) == pytest.approx(age, rel=1e-5)


@pytest.mark.parametrize(
    ("data", "level", "which", "low", "high"),
    [
        (NIST20, 0.95, 0, 0.905645, 2.885738),
        (CAGE, 0.95, 0, 0.970932, 3.579538),
        (CAGE, 0.95, 2, 2094.281, 22144.427),
        (CAGE, 0.90, 2, 2237.961, 14428.409),
        (SHOCK, 0.95, 0, 1.898532, 4.771391),
        (SHOCK, 0.95, 2, 9371.20, 17291.24),
    ],
)
def test_likelihood_ratio_interval(data: Ages, level: float, which: int, low: float, high: float) -> None:
    """Recomputed; Meeker & Escobar ex. 8.16 print [2093, 22144] for B10 of the cages (its low end is 1 h off)."""
    estimate = intervals(data, fit(data), level=level, adjust=False)[which]
    assert estimate.low == pytest.approx(low, rel=1e-4)
    assert estimate.high == pytest.approx(high, rel=1e-4)


def test_cage_interval_as_printed() -> None:
    """Meeker & Escobar ex. 8.16: 95 % likelihood ratio, B10 [2093, 22144] h."""
    b10 = intervals(CAGE, fit(CAGE), adjust=False)[2]
    assert (b10.low, b10.high) == pytest.approx((2093, 22144), rel=1e-3)


@pytest.mark.parametrize(("width", "shape", "scale"), [(50, 1.7601486, 600.89240), (100, 1.6704592, 608.86628)])
def test_ages_binned(width: float, shape: float, scale: float) -> None:
    """e-Handbook 8.4.1.3 put into bins, the last: running at 500 (recomputed)."""
    lower = np.floor(np.array(numbers("54 187 216 240 244 335 361 373 375 386")) / width) * width
    curve = fit(ages(running=[500], running_count=[10], between=np.column_stack([lower, lower + width])))
    assert (curve.shape, curve.scale) == pytest.approx((shape, scale), rel=1e-5)


def test_extreme_value_form_of_the_cracks() -> None:
    """Nelson p. 415: smallest extreme values of ln age, location 4.2724 = ln scale and scale 0.6732 = 1 / shape."""
    curve = fit(CRACKS)
    assert math.log(curve.scale) == pytest.approx(4.2723569, rel=1e-6)
    assert 1 / curve.shape == pytest.approx(0.6732341, rel=1e-6)


def test_exponential_mean_is_total_time_over_failures() -> None:
    """Nelson, fans: 28700 h printed; 344440 h / 12 exactly: shape 1 given."""
    assert weibayes(FAN, 1.0)[0].value == pytest.approx(344440 / 12, rel=1e-9)


@pytest.mark.parametrize(
    ("shape", "scale", "b10", "low", "high", "ratio"),
    [
        (1.5, 28982.157, 6465.210, 4149.64, 12613.02, 0.769590),
        (2.0, 12320.337, 3999.093, 2867.69, 6601.44, 0.002844),
        (3.0, 5408.9505, 2554.694, 2046.69, 3568.27, 1.668523),
    ],
)
def test_weibayes_of_the_cages(shape: float, scale: float, b10: float, low: float, high: float, ratio: float) -> None:
    """Bearing cages with the shape given: scale (sum t^shape / r)^(1/shape); limits by chi-square of 2r."""
    to_b10 = (-math.log(0.9)) ** (1 / shape)
    fixed, at_b10 = weibayes(CAGE, shape)
    ends = failure_limits(CAGE, shape)
    assert fixed.value == pytest.approx(scale, rel=1e-6)
    assert at_b10.value == pytest.approx(b10, rel=1e-6)
    assert ends.low is not None
    assert ends.high is not None
    assert (ends.low * to_b10, ends.high * to_b10) == pytest.approx((low, high), rel=1e-5)
    z = (CAGE.failed_at / scale) ** shape
    dead = np.isfinite(CAGE.upper)
    log_density = np.log(shape / scale) + (shape - 1) * np.log(CAGE.failed_at[dead] / scale)
    assert 2 * (fit(CAGE).loglik - log_density.sum() + (CAGE.count * z).sum()) == pytest.approx(ratio, abs=1e-4)


def test_weibayes_without_a_failure() -> None:
    """Meeker & Escobar ch. 8, shape 2: lower 95 % scale 10250 h, lower B10 3327 h; one failure assumed 17741.195 h."""
    scale, b10 = weibayes(COMP_A, 2.0)
    assert scale.low == pytest.approx(10250.177, rel=1e-6)
    assert b10.low == pytest.approx(3327.134, rel=1e-6)
    assert scale.value == pytest.approx(17741.195, rel=1e-6)
    assert scale.high is None


def test_critical_value_of_many_failures_is_chi_square() -> None:
    """3.841459 = the 95 % point of chi-square with one degree (any table)."""
    assert critical(20, adjust=False) == pytest.approx(3.841459, rel=1e-6)
    assert critical(1e7) == pytest.approx(3.841459, rel=1e-6)


EHB = life_table(ages([10, 32, 56, 98, 122, 181], [50, 100, 125, 150, *[200] * 10]))


def test_kaplan_meier_of_the_handbook() -> None:
    """e-Handbook 8.2.1.5: 20 units, taken off 50 100 125 150, running at 200 h."""
    reliability = [Fraction(*f) for f in ((19, 20), (9, 10), (72, 85), (27, 34), (351, 476), (1755, 2618))]
    assert EHB.survival == pytest.approx([float(f) for f in reliability], rel=1e-14)
    assert EHB.at_risk.tolist() == [20, 19, 17, 16, 14, 11]
    assert EHB.error == pytest.approx([0.048734, 0.067082, 0.081388, 0.091921, 0.101357, 0.112141], rel=1e-5)
    assert EHB.hazard == pytest.approx([0.05, 0.102632, 0.161455, 0.223955, 0.295384, 0.386293], rel=1e-5)


def test_kaplan_meier_puts_a_failure_before_a_removal_of_the_same_age() -> None:
    """Meeker & Escobar, shock absorbers, both modes; a failure and a removal tie at 20100 km."""
    printed = [0.0263, 0.0550, 0.0913, 0.1292, 0.1727, 0.2162, 0.2816, 0.3714, 0.4612, 0.5689, 0.7126]
    assert 1 - life_table(SHOCK).survival == pytest.approx(printed, abs=5e-5)


def test_share_failed_of_inspected_tubes() -> None:
    """Meeker & Escobar ch. 3, pooled, print 0.0133 and 0.0384; all three years by hand: 4/300, 5/197, 2/97."""
    second = Fraction(296, 300) * Fraction(192, 197)
    exact = [Fraction(4, 300), 1 - second, 1 - second * Fraction(95, 97)]
    assert 1 - life_table(TUBES).survival == pytest.approx([float(f) for f in exact], rel=1e-12)


def test_competing_causes() -> None:
    """By hand: 37/77, 2/7, 18/77 of 11 units; one minus Kaplan-Meier would wrongly give 29/44 for cause 1."""
    cause = np.array([1, 2, 2, 0, 2, 0, 0, 1, 0, 1, 0])
    table = incidence(np.arange(1, 12), np.ones(11), np.column_stack([cause == 1, cause == 2]))
    assert table.value[-1] == pytest.approx([37 / 77, 2 / 7], rel=1e-14)
    assert 1 - table.value[-1].sum() == pytest.approx(18 / 77, rel=1e-14)
    steps = [10 / 11, 9 / 11, 8 / 11, 48 / 77, 36 / 77, 18 / 77]
    assert 1 - table.value.sum(axis=1) == pytest.approx(steps, rel=1e-14)


def test_failures_to_come() -> None:
    """Bearing cages, next 300 h: 5.057 printed (Meeker & Escobar), 5.0582088 recomputed; naive 90 % limits [2, 9]."""
    curve = fit(CAGE)
    running = ~np.isfinite(CAGE.upper)
    ahead = expected_failures(
        np.array([curve.shape]), np.array([curve.scale]), CAGE.lower[running], CAGE.count[running], np.array([300.0])
    )
    assert ahead[0, 0] == pytest.approx(5.0582088, rel=1e-5)
    assert limits(ahead[:, 0], level=0.90) == (2, 9)


@pytest.mark.parametrize(
    ("age", "share"), [(50, 0.000763), (550, 0.002779), (1050, 0.004849), (1550, 0.006947), (2050, 0.009063)]
)
def test_share_of_a_unit_to_fail(age: float, share: float) -> None:
    """Bearing cages, next 300 h of one unit of an age (recomputed)."""
    curve = fit(CAGE)
    one = np.array([1.0])
    found = expected_failures(np.array([curve.shape]), np.array([curve.scale]), one * age, one, one * 300)
    assert found[0, 0] == pytest.approx(share, rel=1e-3)


def test_bearings_of_the_library() -> None:
    """surpyval `load_bearing_failures()`: 23 bearings, scale 81.87456, shape 2.101847."""
    data = surpyval.datasets.load_bearing_failures()
    curve = fit(ages(data.to_numpy(dtype=float).ravel()))
    assert (curve.shape, curve.scale) == pytest.approx((2.101847, 81.87456), rel=1e-5)


def test_cars_of_the_library() -> None:
    """surpyval `load_sae()`: 31 rows, 10 failures: shape 1.1544267, scale 134651.04, log likelihood -128.97383."""
    data = surpyval.datasets.load_sae()
    running = data["c"].to_numpy() == 1
    x = data["x"].to_numpy(dtype=float)
    curve = fit(ages(x[~running], x[running]))
    assert (curve.shape, curve.scale) == pytest.approx((1.1544267, 134651.04), rel=1e-5)
    assert curve.loglik == pytest.approx(-128.97383, rel=1e-6)


def test_median_of_the_heart_transplants() -> None:
    """statsmodels `datasets.heart`: 69 patients, 45 deaths, median 228 day."""
    data = statsmodels.datasets.heart.load_pandas().data
    dead = data["censors"].to_numpy() == 1
    days = data["survival"].to_numpy(dtype=float)
    table = life_table(ages(days[dead], days[~dead]))
    assert dead.sum() == 45
    assert table.age[np.flatnonzero(table.survival <= 0.5)[0]] == 228
