"""Refrigerant figures: CoolProp 8.0.0 and, in brackets of the source, ASHRAE Fundamentals, chapter on thermophysical
properties."""

from itertools import pairwise

import numpy as np
import pytest

from stripdown.bench import refrigerant as rf
from stripdown.bench.fluid import OutsideTableError, UnsupportedRefrigerantError, fluid_of
from stripdown.record import units

PSI, ATM = 6.894757, 101.325
"""kPa, NIST SP 811."""

SATURATION = {
    "R134a": {-40: 51.21, -20: 132.73, 0: 292.80, 25: 665.38, 40: 1016.59},
    "R22": {-40: 105.23, -20: 245.31, 0: 497.99, 25: 1043.92, 40: 1533.58},
    "R290": {-40: 111.12, 0: 474.46, 25: 952.07, 40: 1369.42},
    "R744": {-40: 1004.50, -20: 1969.63, 0: 3485.14, 25: 6434.2},
    "R717": {-40: 71.63, -20: 190.03, 0: 429.25, 25: 1002.69, 40: 1554.53},
    "R32": {-40: 177.41, 0: 813.10, 40: 2478.31},
    "R600a": {-20: 72.48, 0: 156.96, 40: 531.21},
    "R1234yf": {0: 315.88, 40: 1018.47},
    "R1234ze(E)": {0: 216.55, 40: 766.45},
}
BOOK = {  # kPa as printed, and the tolerance of the comparison
    "R134a": ({-20: 132.73, 0: 292.80, 25: 665.38, 40: 1016.6}, 1e-4),
    "R22": ({-40: 105.23, 0: 498.0, 40: 1533.6}, 1e-4),
    "R290": ({0: 474.5, 25: 952.1}, 1e-4),
    "R744": ({0: 3485.1}, 1e-4),
    "R717": ({0: 429.4, 40: 1555.0}, 5e-4),  # the book holds an older equation
}


@pytest.mark.parametrize("name", SATURATION)
def test_saturation_pressure(name):
    """CoolProp 8.0.0, 1e-4."""
    fluid = fluid_of(name)
    t = np.array(list(SATURATION[name]), dtype=float)
    expected = list(SATURATION[name].values())
    assert rf.dew_pressure(fluid, t) == pytest.approx(expected, rel=1e-4)
    assert rf.bubble_pressure(fluid, t) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("name", BOOK)
def test_saturation_pressure_of_the_book(name):
    """ASHRAE Fundamentals, rounded as printed."""
    table, rel = BOOK[name]
    for t, p in table.items():
        assert rf.dew_pressure(fluid_of(name), float(t)) == pytest.approx(p, rel=rel)


def test_boiling_point_and_gas_of_r134a():
    """Boils at 101.325 kPa at -26.07 degC; vapour at 0 degC 0.0693087 m³/kg (book 0.06931)."""
    fluid = fluid_of("R134a")
    assert rf.dew_temperature(fluid, ATM) == pytest.approx(-26.07, abs=0.005)
    assert 1 / rf.gas_density(fluid, rf.dew_pressure(fluid, 0.0), 0.0) == pytest.approx(0.0693087, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "critical"), [("R134a", 101.06), ("R22", 96.15), ("R290", 96.74), ("R717", 132.41), ("R744", 30.98)]
)
def test_critical_temperature(name, critical):
    """CoolProp 8.0.0, degC."""
    assert fluid_of(name).critical == pytest.approx(critical, abs=0.005)


def test_carbon_dioxide_at_35_degrees_is_above_the_critical_point():
    """A clean message, no number."""
    with pytest.raises(OutsideTableError, match="above the critical point"):
        rf.dew_pressure(fluid_of("R744"), 35.0)


@pytest.mark.parametrize(
    ("name", "psig", "side", "fahrenheit"),
    [
        ("R22", 68.5, "dew", 39.96),
        ("R134a", 35.0, "dew", 39.95),
        ("R404A", 62.0, "dew", 24.95),
        ("R404A", 62.0, "bubble", 23.99),
    ],
)
def test_service_chart(name, psig, side, fahrenheit):
    """Service charts to ±0.5 degF (from memory); recomputed to 0.02 degF."""
    at = rf.dew_temperature if side == "dew" else rf.bubble_temperature
    found = at(fluid_of(name), psig * PSI + ATM) * 1.8 + 32
    assert found == pytest.approx(fahrenheit, abs=0.02)


@pytest.mark.parametrize(
    ("name", "bar", "celsius"), [("R134a", 2.0, 0.794), ("R22", 4.0, 0.205), ("R290", 3.0, -5.367)]
)
def test_gauge_pressure(name, bar, celsius):
    """Recomputed with 1.01325 bar of air, 1e-3 K."""
    assert rf.dew_temperature(fluid_of(name), bar * 100 + ATM) == pytest.approx(celsius, abs=1e-3)


def test_compression_ratio_is_of_absolute_pressures():
    """35 and 225 psig: 239.696/49.696 = 4.82325; gauge would wrongly give 6.43."""
    low, high = 35 + ATM / PSI, 225 + ATM / PSI
    assert rf.compression_ratio(high, low) == pytest.approx(4.82325, rel=1e-6)


@pytest.mark.parametrize(
    ("unit", "family", "factor"),
    [
        ("psi", "pressure", 6.894757),
        ("inHg", "pressure", 3.386389),
        ("lbf·ft", "torque", 1.355818),
    ],
)
def test_units(unit, family, factor):
    """NIST SP 811."""
    scale = units.lookup(unit, family)
    assert scale is not None
    assert scale.factor == pytest.approx(factor, rel=5e-7)


def test_standard_atmosphere():
    """NIST SP 811: 101.325 kPa; ISO 2533: 89.87 kPa at 1000 m (from memory)."""
    assert units.ATMOSPHERE == rf.atmosphere(0.0) == ATM
    assert rf.atmosphere(1000.0) == pytest.approx(89.87, abs=0.01)


BLENDS = [
    "R404A",
    "R407A",
    "R407C",
    "R407F",
    "R410A",
    "R448A",
    "R449A",
    "R452A",
    "R454C",
    "R455A",
    "R507A",
    "R513A",
    "R450A",
]
BLEND_ROWS = {  # kPa, CoolProp 8.0.0 mixtures
    ("bubble", -20): "307.1 297.4 279.9 312.0 400.7 311.0 306.7 320.1 292.6 371.9 314.5 152.1 118.8",
    ("dew", -20): "300.2 234.3 214.7 246.2 399.3 243.1 244.0 272.8 212.8 227.4 314.4 151.6 115.8",
    ("bubble", 0): "610.2 600.7 567.9 629.1 800.7 623.3 614.9 637.3 578.1 706.4 624.4 323.4 262.0",
    ("dew", 0): "600.3 498.3 460.7 522.2 798.1 510.6 510.9 556.8 442.2 472.5 624.0 323.2 256.2",
    ("bubble", 40): "1829.4 1837.0 1749.0 1921.4 2425.6 1883.1 1858.3 1901.9 1702.1 1966.9 1869.6 1066.7 907.9",
    ("dew", 40): "1814.6 1645.1 1541.3 1719.3 2418.7 1659.9 1652.2 1740.6 1419.4 1520.1 1868.0 1066.7 893.2",
}


@pytest.mark.parametrize(("side", "t"), BLEND_ROWS)
def test_blends(side, t):
    """CoolProp 8.0.0 `.mix`, four digits; pseudo-pure fluids differ from it by up to 2.4e-4. Whole row and its sum."""
    at = rf.dew_pressure if side == "dew" else rf.bubble_pressure
    expected = [float(p) for p in BLEND_ROWS[side, t].split()]
    found = [at(fluid_of(name), float(t)) for name in BLENDS]
    assert found == pytest.approx(expected, rel=6e-4)
    assert sum(found) == pytest.approx(sum(expected), rel=2e-4)


@pytest.mark.parametrize("name", BLENDS)
def test_number_or_clean_message(name):
    """From -70 to 80 degC each temperature gives a number or says why not; the gaps of the solver are filled."""
    fluid = fluid_of(name)
    for at in (rf.dew_pressure, rf.bubble_pressure):
        found = []
        for t in np.arange(-70.0, 80.0, 0.5):
            if fluid.low <= t <= fluid.high:
                found.append(at(fluid, float(t)))
                continue
            with pytest.raises(OutsideTableError, match=r"the table goes from|above the critical point"):
                at(fluid, float(t))
        assert len(found) > 240
        assert all(b > a for a, b in pairwise(found))


@pytest.mark.parametrize("name", ["401A", "402A", "408A", "409A", "437A", "438A", "453A", "515B"])
def test_blends_that_cannot_be_built_say_so(name):
    """CoolProp 8.0.0: a binary pair or the mixture itself is missing. The message names those that there are."""
    with pytest.raises(UnsupportedRefrigerantError, match=f"no table for refrigerant 'R{name}'; there are .*R449A"):
        fluid_of(f"R{name}")


def test_worked_discharge_temperature():
    """CoolProp 8.0.0: R134a, -10/40 degC, 10 K superheat, efficiency 0.7: 70.28 degC; 55.80 at efficiency 1."""
    fluid = fluid_of("R134a")
    low, high = rf.dew_pressure(fluid, -10.0), rf.dew_pressure(fluid, 40.0)
    assert low == pytest.approx(200.60, rel=1e-4)
    assert rf.compression_ratio(high, low) == pytest.approx(5.0677, rel=1e-4)
    assert rf.enthalpy(fluid, low, 0.0) == pytest.approx(401.18, abs=0.01)
    assert rf.entropy(fluid, low, 0.0) == pytest.approx(1.76511, abs=1e-4)
    assert rf.gas_density(fluid, low, 0.0) == pytest.approx(9.5716, rel=1e-4)
    assert rf.discharge_temperature(fluid, low, 0.0, high, 1.0) == pytest.approx(55.80, abs=0.05)
    assert rf.discharge_temperature(fluid, low, 0.0, high, 0.7) == pytest.approx(70.28, abs=0.05)
    h1, h2s = rf.enthalpy(fluid, low, 0.0), rf.enthalpy(fluid, high, 55.80)
    assert h2s == pytest.approx(436.78, abs=0.03)
    assert (h2s - h1) / 0.7 == pytest.approx(50.85, abs=0.05)
    assert rf.enthalpy(fluid, high, 70.28) == pytest.approx(452.03, abs=0.03)


@pytest.mark.parametrize(
    ("name", "celsius"),
    [
        ("R22", 93.69),
        ("R290", 69.12),
        ("R717", 170.43),
        ("R404A", 65.54),
        ("R407C", 81.03),
        ("R410A", 88.25),
        ("R507A", 64.79),
        ("R448A", 78.32),
        ("R449A", 77.17),
        ("R452A", 66.31),
        ("R513A", 62.30),
        ("R454C", 70.64),
        ("R455A", 73.32),
    ],
)
def test_discharge_temperature(name, celsius):
    """CoolProp 8.0.0: -10/40 degC (dew), 10 K superheat, efficiency 0.7, within 0.05 K."""
    fluid = fluid_of(name)
    low, high = rf.dew_pressure(fluid, -10.0), rf.dew_pressure(fluid, 40.0)
    assert rf.discharge_temperature(fluid, low, 0.0, high, 0.7) == pytest.approx(celsius, abs=0.05)


def test_order_of_the_rating_polynomial():
    """AHRI 540, order test by hand: C_i = i, S = 2, D = 3 gives 698 (C8 and C9 swapped: 692); all 1 gives 90."""
    assert rf.rating(range(1, 11), 2, 3) == 698
    assert rf.rating([1, 2, 3, 4, 5, 6, 7, 9, 8, 10], 2, 3) == 692
    assert rf.rating([1] * 10, 2, 3) == 90


def test_against_the_tables_maker():
    """ASHRAE Fundamentals (book 1294.8, 198.60) and the reference state, which only CoolProp itself holds."""
    cp = pytest.importorskip("CoolProp.CoolProp", exc_type=ImportError)
    state = cp.AbstractState("HEOS", "R134a")
    state.update(cp.QT_INPUTS, 0.0, 273.15)
    liquid, h_liquid, s_liquid = state.rhomass(), state.hmass() / 1e3, state.smass() / 1e3
    state.update(cp.QT_INPUTS, 1.0, 273.15)
    assert liquid == pytest.approx(1294.78, rel=1e-5)
    assert state.hmass() / 1e3 - h_liquid == pytest.approx(198.603, rel=1e-5)
    assert (h_liquid, s_liquid) == pytest.approx((200.0, 1.0), rel=1e-5)
    fluid = fluid_of("R134a")
    assert rf.enthalpy(fluid, rf.dew_pressure(fluid, 0.0), 0.0) - h_liquid == pytest.approx(198.603, abs=0.02)
