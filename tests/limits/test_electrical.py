"""Windings, insulation, sensors, heater: what the limits make of them. Expected values by hand from the formulas
named."""

import math

import pytest

from tests.limits.made import by_rule, insulation, judged, notices, one, reading, winding

METER = {"accuracy": "0.5% + 0.02", "temperature": 24}


def test_balance_of_the_contract_example():
    """0.86, 0.83, 0.83 ohm, sheet ±2 %: the mean is 0.84, so +2.381 %; only the 0.02 ohm is each reading's own:
    100/0.84 · 0.02/√3 · √(s1 + s2) with the derivatives written out."""
    pairs = [winding("U-V", 0.86, **METER), winding("V-W", 0.83, **METER), winding("W-U", 0.83, **METER)]
    first = by_rule("winding_balance", *pairs, model="K4-150", motor="star")[0]
    slope = 0.86 / (3 * 0.84)
    spread = 100 / 0.84 * 0.02 / math.sqrt(3) * math.sqrt((1 - slope) ** 2 + 2 * slope**2)
    assert first.judged == pytest.approx(100 * 0.02 / 0.84)
    assert first.judged_uncertainty == pytest.approx(spread)
    assert (first.limits(), first.tier, first.verdict) == ((-2.0, 2.0), "limit", "open")
    assert first.source == "limit sheet K4-150, issue 3: invented demo sheet"
    assert first.corrected is not None
    assert first.corrected.value == pytest.approx(0.863327, rel=1e-6)  # copper to 25 degC, IEEE Std 112
    assert first.corrected.uncertainty == pytest.approx(0.0142, abs=1e-4)
    assert first.corrected.corrections == ("copper to 25 degC",)


def test_without_a_sheet_the_class_limit_stands_and_the_uncertainty_grows_by_half():
    pairs = [winding("U-V", 0.86, **METER), winding("V-W", 0.83, **METER), winding("W-U", 0.83, **METER)]
    known = by_rule("winding_balance", *pairs, model="K4-150", motor="star")[0]
    unknown = by_rule("winding_balance", *pairs)[0]
    assert unknown.judged_uncertainty == pytest.approx(1.5 * known.judged_uncertainty)
    assert unknown.limits() == (-5.0, 5.0)
    assert unknown.source.startswith("class limit: common practice, no source")


def test_a_gain_error_falls_out_of_a_balance():
    pairs = [winding(b, v, accuracy="5%") for b, v in (("U-V", 1.0), ("V-W", 1.04), ("W-U", 1.0))]
    assert [j.judged_uncertainty for j in by_rule("winding_balance", *pairs)] == pytest.approx([0, 0, 0], abs=1e-12)


def test_on_the_limit_is_not_outside():
    """1.00, 1.02, 0.98: ±2 % of the mean, the sheet's limit; no uncertainty of its own."""
    pairs = [winding(b, v, accuracy="1%") for b, v in (("U-V", 1.0), ("V-W", 1.02), ("W-U", 0.98))]
    found = by_rule("winding_balance", *pairs, model="K4-150", motor="star")
    assert [j.verdict for j in found] == ["within", "within", "within"]
    assert [j.tier for j in found] == [None, "notice", "notice"]


def test_halves_of_a_part_winding_are_compared_inside_a_half_only():
    first = [winding(b, 1.0, accuracy="1%") for b in ("1U-1V", "1V-1W", "1W-1U")]
    second = [winding(b, 0.7, accuracy="1%") for b in ("2U-2V", "2V-2W", "2W-2U")]
    found = by_rule("winding_balance", *first, *second, motor="part_winding")
    assert [j.judged for j in found] == pytest.approx([0.0] * 6, abs=1e-9)


def test_terminals_and_leads_are_not_mixed():
    pairs = [winding("U-V", 1.0), winding("V-W", 1.0), winding("U-V", 2.0, at="leads"), winding("V-W", 2.0, at="leads")]
    assert [j.judged for j in by_rule("winding_balance", *pairs)] == pytest.approx([0.0] * 4)


def test_a_single_phase_motor_has_no_balance():
    pairs = [winding("C-S", 3.0), winding("C-R", 1.0), winding("S-R", 4.0)]
    found = judged(*pairs, motor="single_phase")
    assert [(j.rule, j.verdict) for j in found] == [(None, "no_limit")] * 3


@pytest.mark.parametrize("value", ["open", "short"])
@pytest.mark.parametrize(
    ("entry", "rule"),
    [
        (winding("U-V", 1.0), "winding_balance"),
        (reading("sensor_resistance", 1, "ohm", between="common-1"), "sensor_value"),
        (reading("heater_resistance", 1, "ohm"), "heater_resistance"),
    ],
)
def test_open_and_short_are_bad_at_winding_sensor_and_heater(entry, rule, value):
    found = one(rule, entry | {"value": value})
    assert (found.judged, found.probability_within, found.verdict) == (None, 0.0, "outside")


@pytest.mark.parametrize(("value", "probability", "verdict"), [("open", 1.0, "within"), ("short", 0.0, "outside")])
def test_open_insulation_is_good_and_short_is_earthed(value, probability, verdict):
    found = one("insulation_minimum", insulation(value))
    assert (found.judged, found.probability_within, found.verdict) == (None, probability, verdict)


def test_pair_value_against_the_sheet_at_20_degrees():
    """0.86 ohm at 24 degC is 0.86 · 254.5/258.5 at 20; the sheet of this model says 0.86 ±10 %."""
    found = one("winding_value", winding("U-V", 0.86, **METER), model="K4-150")
    assert found.judged == pytest.approx(0.86 * 254.5 / 258.5)
    assert found.limits() == pytest.approx((0.774, 0.946))
    assert found.verdict == "within"


def test_pair_value_does_not_hold_for_another_connection():
    assert not by_rule("winding_value", winding("U-V", 0.86, **METER), model="K4-150", motor="delta")


def test_missing_temperature_means_no_correction_and_more_uncertainty():
    cold = one("winding_value", winding("U-V", 0.86, temperature=20, accuracy="0.2%"), model="K4-150")
    unknown = one("winding_value", winding("U-V", 0.86, accuracy="0.2%"), model="K4-150")
    assert unknown.judged == 0.86
    assert unknown.judged_uncertainty > 2 * cold.judged_uncertainty
    assert "Temperature not stated" in (unknown.remark or "")
    assert any(n.entry == "readings[1].temperature" for n in notices(winding("U-V", 0.86), model="K4-150"))


def test_insulation_names_its_rule():
    """IEEE 43-2013: 10 Mohm at 20 degC is 7.6223 thermosetting, 2.5 by halving."""
    found = one("insulation_minimum", insulation(10, temperature=20, accuracy="1%"))
    assert found.judged == pytest.approx(7.6223, rel=1e-4)
    assert found.judged_unit == "Mohm"
    assert found.corrected is not None
    assert found.corrected.corrections == ("thermosetting to 40 degC",)
    assert "halving rule would give 2.5 Mohm" in (found.remark or "")
    assert found.verdict == "within"


@pytest.mark.parametrize(
    ("megohm", "verdict", "tier"),
    [
        (0.5, "outside", "danger"),
        (1.5, "open", "limit"),
        (4.5, "open", "limit"),
        (5.0, "open", None),
        (9.0, "within", None),
    ],
)
def test_insulation_between_1_and_5_megohm_is_open(megohm, verdict, tier):
    found = one("insulation_minimum", insulation(megohm, temperature=40, accuracy="1%"))
    assert (found.verdict, found.tier) == (verdict, tier)


@pytest.mark.parametrize("temperature", [None, 5, 90])
def test_insulation_without_a_usable_temperature_is_not_corrected(temperature):
    more = {} if temperature is None else {"temperature": temperature}
    found = one("insulation_minimum", insulation(6, accuracy="1%", **more))
    sure = one("insulation_minimum", insulation(6, accuracy="1%", temperature=40))
    assert found.judged == 6
    assert (found.verdict, sure.verdict) == ("open", "within")


def test_one_earthed_phase_beside_a_good_one_is_said():
    found = judged(insulation(0.01, "U-frame", temperature=20), insulation(200, "V-frame", temperature=20))
    assert all("parted" in (j.remark or "") for j in found)
    alike = judged(insulation(0.01, "U-frame", temperature=20), insulation(0.02, "V-frame", temperature=20))
    assert not any("parted" in (j.remark or "") for j in alike)


def test_bad_at_the_terminals_and_good_at_the_leads_points_to_the_plate():
    found = judged(insulation("short"), insulation(480, temperature=20) | {"at": "leads"})
    assert all("terminal plate" in (j.remark or "") for j in found)
    both_bad = judged(insulation("short"), insulation("short") | {"at": "leads"})
    assert not any("terminal plate" in (j.remark or "") for j in both_bad)


def sensors(*ohms: float) -> list[dict[str, object]]:
    return [reading("sensor_resistance", v, "ohm", between=f"common-{n}") for n, v in enumerate(ohms, 1)]


def test_sensors_are_compared_among_themselves_with_a_notice_only():
    found = [j for j in judged(*sensors(100, 100, 200)) if j.judged_unit == "%"]
    assert [j.judged for j in found] == pytest.approx([-25, -25, 50])
    assert [(j.rule, j.verdict, j.tier) for j in found] == [(None, "no_limit", None)] * 2 + [
        (None, "no_limit", "notice")
    ]


def test_a_sensor_below_20_ohm_is_a_short():
    """IEC 60947-8, type A (from memory)."""
    assert [j.verdict for j in by_rule("sensor_value", *sensors(5, 100))] == ["outside", "within"]


def test_heater_against_its_rating():
    """230 V, 100 W: 529 ohm ±10 %."""
    good = one("heater_resistance", reading("heater_resistance", 530, "ohm"), model="K4-150")
    bad = one("heater_resistance", reading("heater_resistance", 700, "ohm"), model="K4-150")
    assert good.limits() == pytest.approx((476.1, 581.9))
    assert (good.verdict, bad.verdict) == ("within", "outside")
    (unknown,) = judged(reading("heater_resistance", 530, "ohm"))
    assert (unknown.rule, unknown.verdict) == (None, "no_limit")


def test_phases_are_named_once_a_pair_is_off():
    """Star: A = (AB + CA - BC)/2. Pairs 2.0, 2.0, 3.0 come to U 1.5, V 0.5, W 1.5."""
    pairs = [winding(b, v) for b, v in (("U-V", 2.0), ("V-W", 2.0), ("W-U", 3.0))]
    assert "By phase: U 1.5, V 0.5, W 1.5 ohm." in (by_rule("winding_balance", *pairs, motor="star")[2].remark or "")
    assert "By coil" in (by_rule("winding_balance", *pairs, motor="delta")[2].remark or "")
    assert "By phase" not in (by_rule("winding_balance", *pairs)[2].remark or "")


@pytest.mark.parametrize("pairs", [(6.0, 3.0, 3.0), (6.02, 3.0, 3.0), (5.98, 3.01, 2.99)])
def test_an_open_coil_of_a_delta_is_named(pairs):
    """By hand: three 3 ohm coils, one open: its pair reads the two others in series, 6 ohm, and these read 3."""
    entries = [winding(b, v) for b, v in zip(("U-V", "V-W", "W-U"), pairs, strict=True)]
    found = by_rule("winding_balance", *entries, motor="delta")
    assert {j.verdict for j in found} == {"outside"}
    assert "By coil: U-V open, V-W " in (found[0].remark or "")


def test_an_open_phase_of_a_star_opens_two_pairs():
    """By hand: star with one coil open: two pairs open, one normal."""
    found = judged(winding("U-V", "open"), winding("V-W", 0.86), winding("W-U", "open"), motor="star")
    assert [(j.rule, j.verdict) for j in found] == [
        ("winding_balance", "outside"),
        (None, "no_limit"),
        ("winding_balance", "outside"),
    ]


def test_insulation_minimum_follows_the_rated_voltage():
    """IEEE 43-2013: 5 Mohm random-wound or below 1 kV, 100 Mohm form-wound; 40 Mohm at 40 degC is between them."""
    entry = insulation(40, temperature=40)
    assert one("insulation_minimum", entry, plate={"voltage": 400}).verdict == "within"
    high = one("insulation_minimum", entry, plate={"voltage": 4160})
    assert (high.verdict, high.limits()) == ("outside", (100.0, None))
    assert "4.16 kV" in high.source


def test_another_test_voltage_is_said():
    """IEEE 43-2013, table 1: 500 V below 1 kV."""
    odd = one("insulation_minimum", insulation(40, temperature=40) | {"test_voltage": 1000})
    assert "Tested with 1000 V" in (odd.remark or "")
    assert "Tested with" not in (one("insulation_minimum", insulation(40, temperature=40)).remark or "")


def test_start_to_run_is_both_in_series():
    """C-S 3.0 and C-R 1.0 make S-R 4.0."""
    good = judged(winding("C-S", 3.0), winding("C-R", 1.0), winding("S-R", 4.02), motor="single_phase")
    bad = judged(winding("C-S", 3.0), winding("C-R", 1.0), winding("S-R", 5.0), motor="single_phase")
    assert "in series" not in (good[2].remark or "")
    assert "in series, 4 ohm" in (bad[2].remark or "")


def test_a_failed_sensor_is_for_the_maker_to_decide():
    found = one("sensor_value", reading("sensor_resistance", "open", "ohm", between="common-1"))
    assert "maker's written instructions" in (found.remark or "")
    assert "never run with a protection removed" in (found.remark or "")


def test_a_tripped_sensor_asks_whether_the_motor_was_hot():
    """IEC 60947-8, type A: trips by 4000 ohm (from memory)."""
    assert "still hot" in (by_rule("sensor_value", *sensors(4100))[0].remark or "")
    assert "still hot" not in (by_rule("sensor_value", *sensors(100))[0].remark or "")
