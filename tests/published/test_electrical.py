"""Electrical figures as published or worked by hand. Relative tolerance 1e-6 unless a test says otherwise.

Caution: such measurements are made only on a circuit isolated, locked off and proven dead, by a licensed person.
"""

import math

import numpy as np
import pytest

from stripdown.bench import electrical as e


@pytest.mark.parametrize(
    ("volts", "mean", "percent", "extra"),
    [
        ((462, 463, 455), 460, 1.086957, 2.3629),  # US DOE Motor Systems Tip Sheet 7, printed 1.1
        ((462, 468, 450), 460, 2.173913, 9.4518),  # recomputed
        ((480, 476, 472), 476, 0.840336, 1.4123),  # printed 0.84; spread over mean would wrongly give 1.68
        ((460, 467, 450), 459, 1.960784, 7.6894),  # NEMA MG 1 example, printed 1.96
        ((400, 395, 388), 394.3333, 1.606086, 5.1590),  # recomputed
        ((220, 231, 235), 228.6667, 3.790087, 28.7295),  # recomputed
        ((400, 400, 400), 400, 0, 0),  # by hand
    ],
)
def test_voltage_unbalance(volts, mean, percent, extra):
    """NEMA MG 1-2011; US DOE Motor Systems Tip Sheet 7, DOE/GO-102012-3733, Nov 2012."""
    assert e.mean_of([float(v) for v in volts]) == pytest.approx(mean, rel=1e-6)
    found = e.unbalance([float(v) for v in volts])
    assert found == pytest.approx(percent, rel=1e-6, abs=1e-9)
    assert e.extra_heating(found) == pytest.approx(extra, rel=5e-5, abs=1e-9)


def test_a_rise_of_80_kelvin_becomes_86_4_at_two_percent():
    """Tip Sheet 7: total rise = balanced rise · (1 + 2·pct²/100)."""
    assert 80 * (1 + e.extra_heating(2.0) / 100) == pytest.approx(86.4, rel=1e-12)


@pytest.mark.parametrize(("percent", "share"), [(1, 1.00), (2, 0.95), (3, 0.89), (4, 0.82), (5, 0.76), (1.96, 0.95)])
def test_derating_is_a_reading_off_a_curve(percent, share):
    """NEMA MG 1, figure 14-1, read off; hold ±0.02."""
    assert e.derating(percent) == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize("percent", [5.1, -0.1, math.nan])
def test_above_five_percent_there_is_no_derating(percent):
    """NEMA MG 1: above 5 % do not run."""
    with pytest.raises(ValueError, match="not to be run"):
        e.derating(percent)


@pytest.mark.parametrize(
    ("amperes", "percent"), [((10.2, 9.8, 10.0), 2.0), ((30.3, 28.7, 31.0), 4.3333), ((18, 18, 26), 25.8065)]
)
def test_current_unbalance(amperes, percent):
    """By hand, the same rule."""
    assert e.unbalance([float(a) for a in amperes]) == pytest.approx(percent, rel=1e-5)


TEMPERATURES = (0, 10, 20, 24, 40, 75)


@pytest.mark.parametrize(
    ("constant", "factors"),
    [
        (e.COPPER, (1.106610, 1.061350, 1.019646, 1.003868, 0.945355, 0.838449)),  # IEEE Std 112
        (e.COPPER_IEC, (1.106383, 1.061224, 1.019608, 1.003861, 0.945455, 0.838710)),  # IEC 60034-1, 8.6.2
    ],
)
def test_winding_resistance_to_25_degrees(constant, factors):
    """IEEE Std 112 and IEC 60034-1, whole row and its sum."""
    found = e.at_temperature(1.0, np.array(TEMPERATURES, dtype=float), 25.0, constant)
    assert found == pytest.approx(factors, rel=1e-6)
    assert found.sum() == pytest.approx(sum(factors), rel=1e-6)


def test_worked_resistances():
    """Recomputed to 1e-6 with 234.5 (IEEE Std 112) and 235 (IEC 60034-1)."""
    assert e.at_temperature(0.86, 24.0, 25.0) == pytest.approx(0.863327, rel=1e-6)
    assert e.at_temperature(0.86, 24.0, 25.0, e.COPPER_IEC) == pytest.approx(0.863320, rel=1e-6)
    assert e.winding_temperature(1.0, 20.0, 1.35) == pytest.approx(109.075, rel=1e-6)
    assert e.winding_temperature(1.0, 20.0, 1.35, e.COPPER_IEC) == pytest.approx(109.25, rel=1e-6)
    assert e.winding_temperature(1.0, 20.0, 1.35) - 25 == pytest.approx(84.075, rel=1e-6)
    assert e.winding_temperature(1.0, 20.0, 1.35, e.COPPER_IEC) - 25 == pytest.approx(84.25, rel=1e-6)


def test_the_two_constants_differ_by_less_than_any_fault():
    """Recomputed: at most 3.2e-4 over 0 to 75 degC."""
    t = np.linspace(0, 75, 751)
    ratio = e.at_temperature(1.0, t, 25.0) / e.at_temperature(1.0, t, 25.0, e.COPPER_IEC)
    assert np.abs(ratio - 1).max() == pytest.approx(3.1e-4, abs=0.1e-4)


@pytest.mark.parametrize(
    ("ohms", "percent"),
    [
        ((0.86, 0.84, 0.85), (1.1765, -1.1765, 0)),
        ((1.00, 1.02, 0.98), (0, 2, -2)),
        ((0.62, 0.60, 0.64), (0, -3.2258, 3.2258)),
    ],
)
def test_balance_is_each_deviation_from_the_mean(ohms, percent):
    """By hand; limit ±2 % of ANSI/EASA AR100-2020."""
    assert e.deviations(ohms) == pytest.approx(percent, rel=5e-5, abs=1e-9)


def test_terminal_pairs():
    """By hand: star phases, delta of three 3 ohm coils, one of them open, single phase."""
    assert e.star_phases(0.86, 0.84, 0.85) == pytest.approx((0.435, 0.425, 0.415), rel=1e-12)
    assert e.delta_pairs(3.0, 3.0, 3.0) == pytest.approx((2.0, 2.0, 2.0))
    assert e.delta_pairs(math.inf, 3.0, 3.0) == pytest.approx((6.0, 3.0, 3.0))
    assert e.delta_coils(*e.delta_pairs(3.0, 2.5, 3.5)) == pytest.approx((3.0, 2.5, 3.5), rel=1e-12)
    assert e.start_to_run(3.2, 1.1) == pytest.approx(4.3)


@pytest.mark.parametrize(
    ("kilovolt", "megohm"), [(0.230, 1.23), (0.400, 1.40), (0.460, 1.46), (0.480, 1.48), (4.160, 5.16)]
)
def test_insulation_minimum_of_old_windings(kilovolt, megohm):
    """IEEE Std 43-2013: kV + 1 for windings made before about 1970."""
    assert e.insulation_minimum("old", kilovolt) == pytest.approx(megohm, rel=1e-12)


def test_insulation_minimum_of_newer_windings():
    """IEEE Std 43-2013: 5 random-wound and form-wound below 1 kV, 100 form-wound."""
    assert e.insulation_minimum("random", 0.4) == 5
    assert e.insulation_minimum("form", 0.4) == 5
    assert e.insulation_minimum("form", 4.16) == 100


WARM = (10, 20, 25, 30, 40, 50, 60, 70, 80)
HALVING = (0.125, 0.25, 0.353553, 0.5, 1, 2, 4, 8, 16)
THERMOSETTING = (0.6560, 0.7622, 0.8186, 0.8770, 1, 1.5195, 2.2517, 3.2609, 4.6245)


@pytest.mark.parametrize(("rule", "row", "rel"), [("halving", HALVING, 2e-6), ("thermosetting", THERMOSETTING, 1e-4)])
def test_insulation_to_40_degrees(rule, row, rel):
    """IEEE Std 43-2013, both corrections, whole row and its sum."""
    found = e.insulation_at_40(1.0, np.array(WARM, dtype=float), rule)
    assert found == pytest.approx(row, rel=rel)
    assert found.sum() == pytest.approx(sum(row), rel=rel)


def test_thermosetting_rounds_to_the_printed_table():
    """IEEE Std 43-2013: 0.7 0.8 0.9 1.0 1.5 2.3 3.3 4.6 at 10, 20 … 80 degC."""
    t = np.arange(10.0, 81.0, 10.0)
    assert np.round(e.insulation_at_40(1.0, t), 1) == pytest.approx([0.7, 0.8, 0.9, 1.0, 1.5, 2.3, 3.3, 4.6])


@pytest.mark.parametrize(
    ("megohm", "t", "halving", "thermosetting"),
    [(10, 20, 2.5, 7.6223), (8, 24, 2.6390, 6.4570), (6, 25, 2.1213, 4.9113), (3, 60, 12.0, 6.7550)],
)
def test_worked_insulation(megohm, t, halving, thermosetting):
    """Recomputed to 1e-4: the page must name its rule."""
    assert e.insulation_at_40(megohm, t, "halving") == pytest.approx(halving, rel=1e-4)
    assert e.insulation_at_40(megohm, t) == pytest.approx(thermosetting, rel=1e-4)


@pytest.mark.parametrize("t", [9.9, 85.1, math.inf])
def test_thermosetting_ends_where_the_standard_ends(t):
    """IEEE Std 43-2013: 10 to 85 degC."""
    with pytest.raises(ValueError, match="10 to 85"):
        e.insulation_at_40(10.0, t)


@pytest.mark.parametrize(
    ("offset", "one", "three"),
    [
        (-20, (None, 250), (None, 750)),
        (-5, (None, 550), (None, 1650)),
        (5, (1330, None), (3990, None)),
        (15, (4000, None), (12000, None)),
    ],
)
def test_motor_sensors(offset, one, three):
    """DIN 44081 single, DIN 44082 three in one (a chain is three times a single)."""
    assert e.ptc_limits(offset) == one
    assert e.ptc_limits(offset, 3) == three
    assert e.ptc_limits(-60) == (None, 250)


def test_motor_sensors_between_the_stated_points():
    """DIN 44081 states nothing at +10 K."""
    with pytest.raises(ValueError, match="no limit is stated"):
        e.ptc_limits(10)


@pytest.mark.parametrize(
    ("ohm", "state"),
    [
        (0, "short"),
        (19.9, "short"),
        (20, "reset"),
        (750, "reset"),
        (751, "undefined"),
        (3999, "undefined"),
        (4000, "tripped"),
    ],
)
def test_type_a_control_unit(ohm, state):
    """IEC 60947-8 type A: trips 1650 to 4000, resets 1650 to 750, short below 20 ohm (from memory)."""
    assert e.ptc_state(ohm) == state


def test_heater_of_230_volt_and_100_watt():
    """By hand: V²/P."""
    assert e.heater_resistance(230.0, 100.0) == 529
