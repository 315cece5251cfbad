"""Superheat, ratio, envelope, discharge temperature. Expected values from published saturation pressures or by hand."""

import pytest

from tests.limits.made import by_rule, judged, notices, one, reading

SEA = {"history": {"altitude": 0}}


def state(low: float, high: float, suction: float, discharge: float) -> list[dict[str, object]]:
    """Absolute pressures in kPa, temperatures in degC, of one moment on the site."""
    return [
        reading("suction_pressure", low, "kPa", absolute=True, site=True),
        reading("discharge_pressure", high, "kPa", absolute=True, site=True),
        reading("suction_gas_temperature", suction, "degC", site=True),
        reading("discharge_line_temperature", discharge, "degC", site=True),
    ]


# R134a, CoolProp 8.0.0: 200.60 kPa is -10 degC, 1016.59 kPa is 40 degC.
R134A = {"refrigerant": "R134a"}


def test_superheat_at_the_compressor_uses_the_dew_line():
    """R449A (CoolProp 8.0.0): dew 244.0 kPa at -20 degC; its bubble line would give about 5 K less."""
    found = one("suction_superheat", *state(244.0, 1650, -5, 90), refrigerant="R449A")
    assert found.judged == pytest.approx(15.0, abs=0.05)
    assert (found.limits(), found.verdict) == ((11.0, None), "within")
    assert found.corrected is not None
    assert "dew" in found.corrected.corrections[0]


@pytest.mark.parametrize(("suction", "verdict"), [(-9, "outside"), (1, "open"), (15, "within")])
def test_superheat_verdicts(suction, verdict):
    assert one("suction_superheat", *state(200.60, 1016.59, suction, 70), **R134A).verdict == verdict


def test_gauge_pressures_need_the_altitude():
    """ISO 2533: 89.87 kPa at 1000 m. 200.60 kPa absolute is 99.28 gauge at sea level and 110.73 at 1000 m."""
    gas = reading("suction_gas_temperature", 5, "degC")
    at_sea = one("suction_superheat", reading("suction_pressure", 99.275, "kPa"), gas, **SEA, **R134A)
    high = one(
        "suction_superheat", reading("suction_pressure", 110.725, "kPa"), gas, history={"altitude": 1000}, **R134A
    )
    unknown = one("suction_superheat", reading("suction_pressure", 99.275, "kPa"), gas, **R134A)
    assert at_sea.judged == pytest.approx(15.0, abs=0.02)
    assert high.judged == pytest.approx(15.0, abs=0.02)
    assert unknown.judged == pytest.approx(at_sea.judged)
    assert unknown.judged_uncertainty > at_sea.judged_uncertainty
    assert "Altitude" in (unknown.remark or "")


def test_compression_ratio_is_of_absolute_pressures():
    """35 and 225 psig at sea level: 4.82325."""
    low, high = reading("suction_pressure", 35, "psig"), reading("discharge_pressure", 225, "psig")
    found = one("compression_ratio", low, high, **SEA, **R134A)
    assert found.judged == pytest.approx(4.82325, rel=1e-6)
    assert found.verdict == "within"


def test_a_superheat_read_directly_gives_way_to_both_ends():
    direct = reading("superheat", 3, "K", site=True)
    assert one("suction_superheat", direct, **R134A).verdict == "outside"
    found = [j for j in judged(direct, *state(200.60, 1016.59, 10, 70), **R134A) if j.rule == "suction_superheat"]
    assert [j.quantity for j in found] == ["suction_gas_temperature"]
    assert any("does not agree" in n.what for n in notices(direct, *state(200.60, 1016.59, 10, 70), **R134A))


@pytest.mark.parametrize(
    ("celsius", "verdict", "tier"),
    [(95, "within", None), (107, "open", None), (115, "outside", "limit"), (126, "outside", "danger")],
)
def test_discharge_temperature(celsius, verdict, tier):
    """Common practice: limit 107, danger 121 degC."""
    found = one("discharge_temperature", reading("discharge_line_temperature", celsius, "degC"), **R134A)
    assert (found.verdict, found.tier) == (verdict, tier)


def test_beyond_135_degrees_the_oil_breaks_down():
    found = one("discharge_temperature", reading("discharge_line_temperature", 140, "degC"), **R134A)
    assert "oil breaks down" in (found.remark or "")


@pytest.mark.parametrize(
    ("celsius", "judged_as", "says"),
    [(70.3, 0.0, ""), (120, None, "Hotter than its pressures explain"), (40, None, "liquid carried over")],
)
def test_discharge_against_expected(celsius, judged_as, says):
    """R134a, -10/40 degC, 10 K superheat, efficiency 0.7 gives 70.28 degC (CoolProp 8.0.0), inside the band."""
    found = one("discharge_against_expected", *state(200.60, 1016.59, 0, celsius), **R134A)
    if judged_as is not None:
        assert found.judged == judged_as
        assert found.verdict == "within"
    else:
        assert found.verdict == "outside"
    assert says in (found.remark or "")
    assert "estimate" in (found.remark or "")


@pytest.mark.parametrize("name", ["R744", "R717", "R290"])
def test_class_figures_end_where_their_trade_ends(name):
    """107 degC, ratio 10 and 11 K are for single-stage halocarbon machines."""
    hot = reading("discharge_line_temperature", 140, "degC")
    (found,) = judged(hot, refrigerant=name)
    assert (found.rule, found.verdict) == (None, "no_limit")
    assert "no halocarbon" in found.source
    assert judged(reading("superheat", 3, "K"), refrigerant=name)[0].verdict == "no_limit"


def test_an_unsupported_refrigerant_is_named_and_the_rest_stands():
    entries = [*state(200.60, 1016.59, 0, 130)]
    found = judged(*entries, refrigerant="R999X")
    assert [j.rule for j in found] == [None, "compression_ratio", None, "discharge_temperature"]
    assert any(n.entry == "unit.refrigerant" and "R999X" in n.what for n in notices(*entries, refrigerant="R999X"))


def test_a_missing_refrigerant_is_named():
    assert any(n.entry == "unit.refrigerant" for n in notices(*state(200.60, 1016.59, 0, 70)))


def test_pressures_beyond_the_table_leave_a_notice():
    entries = state(200.60, 9000, 0, 70)
    assert any("table" in n.what for n in notices(*entries, **R134A))
    assert not by_rule("discharge_against_expected", *entries, **R134A)


def test_envelope_of_the_sheet():
    """Sheet of this model: evaporating -45 to 12.5, condensing 10 to 60 degC."""
    low = one("envelope_evaporating", *state(200.60, 1016.59, 0, 70), model="K4-150", **R134A)
    high = one("envelope_condensing", *state(200.60, 1016.59, 0, 70), model="K4-150", **R134A)
    assert low.judged == pytest.approx(-10.0, abs=0.01)
    assert high.judged == pytest.approx(40.0, abs=0.01)
    assert (low.verdict, high.verdict) == ("within", "within")


def test_return_gas_of_the_sheet():
    hot = reading("suction_gas_temperature", 29, "degC")
    assert one("return_gas", hot, model="T3-075").verdict == "outside"
    assert judged(hot)[0].verdict == "no_limit"


@pytest.mark.parametrize(("celsius", "verdict"), [(-8, "outside"), (40, "within")])
def test_sump_stands_above_saturated_suction(celsius, verdict):
    oil = reading("oil_sump_temperature", celsius, "degC", site=True)
    assert one("sump_margin", oil, *state(200.60, 1016.59, 0, 70), **R134A).verdict == verdict


def test_superheat_at_the_bulb_is_a_notice():
    bulb = reading("evaporator_outlet_temperature", 5, "degC", site=True)
    found = judged(bulb, *state(200.60, 1016.59, 0, 70), **R134A)[0]
    assert found.judged == pytest.approx(15.0, abs=0.01)
    assert (found.rule, found.verdict, found.tier) == (None, "no_limit", "notice")


def test_subcooling_is_a_notice():
    found = judged(reading("subcooling", 1, "K"), **R134A)[0]
    assert (found.rule, found.verdict, found.tier) == (None, "no_limit", "notice")


def test_ambient_has_no_limit():
    (found,) = judged(reading("ambient_temperature", 45, "degC"))
    assert found.verdict == "no_limit"
