"""Oil pressure, charge, acid, moisture. Expected values by hand."""

import math

import pytest

from tests.limits.made import by_rule, judged, notices, one, reading

PSI = 6.894757293168361
EXACT = {"accuracy": "0.001"}


def pressures(pump: float, below: float, where: str = "crankcase_pressure", **more: object) -> list[dict[str, object]]:
    return [reading("oil_pump_pressure", pump, "psi") | more, reading(where, below, "psi") | more]


@pytest.mark.parametrize(
    ("net", "verdict", "tier"),
    [
        (5, "outside", "danger"),
        (10, "outside", "limit"),
        (15, "within", "notice"),
        (30, "within", None),
        (55, "within", "notice"),
        (65, "outside", "limit"),
    ],
)
def test_net_oil_pressure(net, verdict, tier):
    """Common practice: 20 to 50 psi normal, runs at 15, trips at 7 to 9, by-pass near 60."""
    found = one("net_oil_pressure", *pressures(40 + net, 40, **EXACT))
    assert found.quantity == "oil_pump_pressure"
    assert found.judged == pytest.approx(net * PSI)
    assert (found.judged_unit, found.verdict, found.tier) == ("kPa", verdict, tier)


def test_uncertainties_of_both_gauges_are_carried():
    """Two of 1.5 psi half-width, class limit: 1.5/√3 · √2 · 1.5."""
    found = one("net_oil_pressure", *pressures(70, 40))
    assert found.judged_uncertainty == pytest.approx(1.5 * PSI / math.sqrt(3) * math.sqrt(2) * 1.5)
    assert "1.5 psi assumed" in (found.remark or "")


def test_suction_stands_in_for_the_crankcase_two_psi_lower_and_wider():
    """40 - (20 - 2) = 22 psi; 1 psi half-width more."""
    found = one("net_oil_pressure", *pressures(40, 20, "suction_pressure", **EXACT), cooling="refrigerant")
    right = one("net_oil_pressure", *pressures(40, 18, **EXACT))
    assert found.judged == pytest.approx(22 * PSI)
    assert found.judged_uncertainty > right.judged_uncertainty
    assert "suction port stands in" in (found.remark or "")


def test_an_air_cooled_motor_drops_no_pressure():
    found = one("net_oil_pressure", *pressures(40, 20, "suction_pressure", **EXACT), cooling="air")
    assert found.judged == pytest.approx(20 * PSI)


def test_without_a_reference_there_is_no_verdict():
    (found,) = judged(reading("oil_pump_pressure", 60, "psi"))
    assert (found.rule, found.verdict) == (None, "no_limit")
    assert "crankcase" in found.source


def test_gauge_and_absolute_are_brought_together():
    """300 kPa absolute pump, 50 kPa gauge crankcase at sea level: 300 - 151.325."""
    pump = reading("oil_pump_pressure", 300, "kPa", absolute=True)
    crankcase = reading("crankcase_pressure", 50, "kPa")
    assert one("net_oil_pressure", pump, crankcase, history={"altitude": 0}).judged == pytest.approx(148.675)


def test_bench_and_site_are_two_moments():
    pump, crankcase = pressures(60, 40)
    assert not by_rule("net_oil_pressure", pump | {"site": True}, crankcase)


def test_a_direct_reading_is_judged_alone_and_compared_beside_both_ends():
    direct = reading("net_oil_pressure", 30, "psi", accuracy="0.5")
    assert one("net_oil_pressure", direct).quantity == "net_oil_pressure"
    beside = judged(direct, *pressures(70, 40, **EXACT))
    assert [j.quantity for j in beside if j.rule == "net_oil_pressure"] == ["oil_pump_pressure"]
    assert beside[0].verdict == "no_limit"
    assert "within what both instruments allow" in (beside[0].remark or "")
    assert any("does not agree" in n.what for n in notices(direct, *pressures(50, 40, **EXACT)))


def test_oil_charge():
    """3.0 of 4.0 l is 75 %, below 80."""
    found = one("oil_charge", reading("oil_drained", 3.0, "l"), model="K4-150")
    assert found.judged == pytest.approx(75.0)
    assert found.verdict == "outside"
    assert judged(reading("oil_drained", 3.0, "l"))[0].verdict == "no_limit"


@pytest.mark.parametrize(
    ("acid", "verdict", "tier"), [(0.03, "within", None), (0.06, "within", "notice"), (0.21, "outside", "danger")]
)
def test_acid(acid, verdict, tier):
    found = one("oil_acid", reading("oil_acid_number", acid, "mg KOH/g", accuracy="0.005"))
    assert (found.verdict, found.tier) == (verdict, tier)


@pytest.mark.parametrize(
    ("oil", "limit"), [("POE 32", 50.0), ("Polyolester 68", 50.0), ("mineral 3GS", 30.0), ("MO 32", 30.0)]
)
def test_moisture_depends_on_the_oil(oil, limit):
    found = one("oil_moisture", reading("oil_moisture", 40, "ppm", accuracy="1"), oil=oil)
    assert found.limits() == (None, limit)
    assert found.verdict == ("within" if limit == 50 else "outside")


@pytest.mark.parametrize("unit", [{}, {"oil": "PVE 32"}])
def test_moisture_of_an_unknown_oil_is_not_judged(unit):
    (found,) = judged(reading("oil_moisture", 40, "ppm"), **unit)
    assert found.verdict == "no_limit"
    assert any(n.entry == "unit.oil" for n in notices(reading("oil_moisture", 40, "ppm"), **unit))
