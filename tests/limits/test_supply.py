"""Supply, current, contactor. Expected values by hand."""

import pytest

from tests.limits.made import by_rule, judged, one, reading


def volts(*values: float, **more: object) -> list[dict[str, object]]:
    return [
        reading("supply_voltage", v, "V", between=b, site=True) | more
        for b, v in zip(("L1-L2", "L2-L3", "L3-L1"), values, strict=True)
    ]


def amperes(*values: float) -> list[dict[str, object]]:
    return [
        reading("running_current", v, "A", between=b, site=True)
        for b, v in zip(("L1", "L2", "L3"), values, strict=True)
    ]


def test_each_voltage_has_its_own_deviation():
    """400, 395, 388: mean 394.333, so +1.437, +0.169, -1.606 % (NEMA MG 1)."""
    found = by_rule("supply_unbalance", *volts(400, 395, 388))
    assert [j.judged for j in found] == pytest.approx([1.4370, 0.16906, -1.60609], rel=1e-4)
    assert [j.tier for j in found] == ["notice", None, "notice"]
    assert "temperature rise" in (found[0].remark or "")


def test_an_unbalance_above_five_percent_is_not_run_on():
    found = by_rule("supply_unbalance", *volts(400, 400, 360))
    assert found[2].tier == "danger"
    assert found[2].verdict == "outside"
    assert "not to be run" in (found[2].remark or "")


def test_voltage_against_the_plate():
    found = by_rule("supply_voltage", *volts(342, 343, 341), plate={"voltage": 400})
    assert [j.judged for j in found] == pytest.approx([85.5, 85.75, 85.25])
    assert {j.verdict for j in found} == {"outside"}
    assert not by_rule("supply_voltage", *volts(342, 343, 341))


def test_readings_of_other_moments_are_no_balance():
    one_moment = [r | {"time": f"2026-02-03T09:4{n}:00"} for n, r in enumerate(volts(400, 395, 388))]
    hours_apart = [r | {"time": f"2026-02-03T1{n}:40:00"} for n, r in enumerate(volts(400, 395, 388))]
    assert len(by_rule("supply_unbalance", *one_moment)) == 3
    assert not by_rule("supply_unbalance", *hours_apart)


def test_current_above_the_plate_is_a_notice_and_above_the_maximum_a_fault():
    """The sheet's maximum is 35 A, the plate says 28 A."""
    found = by_rule("running_current", *amperes(25, 31, 40), model="K4-150")
    assert [(j.tier, j.verdict) for j in found] == [(None, "within"), ("notice", "within"), ("limit", "outside")]


def test_current_without_a_maximum_is_not_judged():
    found = [j for j in judged(*amperes(25, 31, 40), plate={"current": 28}) if j.judged_unit == "A"]
    assert [(j.rule, j.verdict, j.tier) for j in found] == [
        (None, "no_limit", None),
        (None, "no_limit", "notice"),
        (None, "no_limit", "notice"),
    ]


def test_current_unbalance():
    """18, 18, 26: mean 20.667, the odd one +25.8065 %."""
    found = by_rule("current_unbalance", *amperes(18, 18, 26))
    assert found[2].judged == pytest.approx(25.8065, rel=1e-5)
    assert found[2].verdict == "outside"


def drops(*millivolts: float) -> list[dict[str, object]]:
    return [
        reading("contact_voltage_drop", v, "mV", between=b) for b, v in zip(("L1", "L2", "L3"), millivolts, strict=True)
    ]


def test_a_pole_is_held_against_twice_the_mean_of_the_others():
    found = by_rule("contact_drop", *drops(20, 20, 60))
    assert [j.verdict for j in found] == ["within", "within", "outside"]
    assert found[2].limits() == (None, pytest.approx(0.040))


def test_no_pole_may_drop_more_than_100_millivolt():
    found = by_rule("contact_drop", *drops(140, 150, 145))
    assert {j.verdict for j in found} == {"outside"}
    assert found[0].limits() == (None, pytest.approx(0.100))
    assert one("contact_drop", drops(40, 1, 1)[0]).verdict == "within"
