"""Pressures and temperatures of one moment that no machine shows together.

Saturation of R134a by the NIST Chemistry WebBook (from memory): 200.6 kPa at -10 degC, 292.8 at 0, 665.4 at 25,
1016.6 at 40 and 1318 at 50. Air at 2000 m: 79.5 kPa, ISO 2533 (from memory). Gauges 1.5 psi, probes 1 and 2.5 K: the
class's instruments; everything else is worked by hand.
"""

import pytest

from tests.limits.made import clashes, hard, reading, soft


def at(quantity: str, value: float, unit: str, **more: object) -> dict:
    return reading(quantity, value, unit, site=True) | more


def absolute(quantity: str, kilopascal: float) -> dict:
    return at(quantity, kilopascal, "kPa", absolute=True)


SUCTION, CONDENSING = absolute("suction_pressure", 200.6), absolute("discharge_pressure", 1016.6)
CURRENT = at("running_current", 20, "A", between="L1")


# Suction and discharge


def test_gauges_exchanged_on_a_running_machine():
    exchanged = [absolute("suction_pressure", 1016.6), absolute("discharge_pressure", 200.6)]
    assert hard(*exchanged, CURRENT) == ["suction_below_discharge"]
    assert hard(*exchanged, at("net_oil_pressure", 30, "psi")) == ["suction_below_discharge"]
    assert soft(*exchanged) == ["suction_below_discharge"]  # it may stand, with a cold condenser
    assert not clashes(SUCTION, CONDENSING, CURRENT, at("discharge_line_temperature", 70, "degC"))


def test_a_machine_that_does_not_pump_has_one_pressure():
    """30 kPa between two gauges of 1.5 psi each: 3 x 10.3 / sqrt(3) x sqrt(2) = 25 kPa, and 20 on the way."""
    assert not clashes(absolute("suction_pressure", 530), absolute("discharge_pressure", 500), CURRENT)
    assert hard(absolute("suction_pressure", 550), absolute("discharge_pressure", 500), CURRENT)


def test_gauge_and_absolute_are_brought_together():
    """4 bar gauge is 5 bar absolute: no more than 5.2."""
    assert not clashes(at("suction_pressure", 4, "bar"), absolute("discharge_pressure", 520), CURRENT)


# Vacuum and oil


def test_a_vacuum_is_no_deeper_than_the_air():
    """27 inHg are 91.4 kPa; the air at 2000 m has 79.5."""
    deep = reading("vacuum_pull_down", 27, "inHg")
    (found,) = clashes(deep, history={"altitude": 2000})
    assert (found.rule, found.rate) == ("vacuum_in_air", None)
    assert found.entries == ("history.altitude", "readings[1]")
    assert not clashes(deep, history={"altitude": 300})
    assert not clashes(deep)  # how high it stands is not known
    assert not clashes(reading("vacuum_pull_down", 10, "kPa", absolute=True), history={"altitude": 2000})
    assert not clashes(reading("vacuum_pull_down", 23, "inHg"), history={"altitude": 2000})  # 77.9 kPa


def test_net_oil_pressure_below_nothing():
    below = [at("oil_pump_pressure", 20, "psi"), at("crankcase_pressure", 45, "psi")]
    assert soft(*below) == ["oil_above_crankcase"]
    assert soft(at("net_oil_pressure", -25, "psi")) == ["oil_above_crankcase"]
    assert not clashes(at("oil_pump_pressure", 44, "psi"), at("crankcase_pressure", 45, "psi"))
    assert not clashes(at("oil_pump_pressure", 20, "psi"), at("suction_pressure", 45, "psi"))  # another port


def test_pump_and_crankcase_of_unlike_scales():
    """1 bar gauge is 2 bar absolute."""
    assert not clashes(at("oil_pump_pressure", 1, "bar"), absolute("crankcase_pressure", 190))


# Condensing


HOT_AIR = at("ambient_temperature", 38, "degC")


def cold_condensing(
    *more: dict, seen: tuple[str, ...] = (), refrigerant: str | None = "R134a", kilopascal: float = 500
):
    """R134a at 500 kPa condenses at 15.7 degC (interpolated between 414.6 at 10 and 571.7 at 20)."""
    unit = {"refrigerant": refrigerant} if refrigerant else {}
    return clashes(SUCTION, absolute("discharge_pressure", kilopascal), HOT_AIR, *more, seen=seen, **unit)


TWICE = ("condenser.fan_failed heavy", "condenser.fouled heavy")


def test_a_condenser_hindered_in_two_ways_is_no_colder_than_its_air():
    (found,) = cold_condensing(seen=TWICE)
    assert (found.rule, found.rate) == ("condensing_above_air", 0.003)
    assert found.labels[-2:] == ("condenser.fouled heavy", "condenser.fan_failed heavy")
    assert "condenses at 16 degC in air of 38 degC" in found.why


@pytest.mark.parametrize("seen", [TWICE[:1], ("condenser.fan_failed heavy", "condenser.fouled slight")])
def test_one_failed_fan_may_be_of_another_day(seen):
    """A condenser on the roof in winter, the air read in a warm machine room."""
    (found,) = cold_condensing(seen=seen)
    assert found.rate is None


def test_the_condenser_may_stand_in_other_air():
    (found,) = cold_condensing(seen=("condenser.fan_failed none",))
    assert found.rate is None
    assert "other air" in found.why
    (near,) = cold_condensing(seen=TWICE, kilopascal=770)  # 30 degC: 8 K below
    assert near.rate is None
    assert not cold_condensing(kilopascal=1016.6)
    assert not cold_condensing(refrigerant=None)
    assert not cold_condensing(refrigerant="no such")


def test_a_standing_machine_condenses_nothing():
    equal = [absolute("suction_pressure", 480), absolute("discharge_pressure", 500), HOT_AIR]
    assert not clashes(*equal, refrigerant="R134a", seen=TWICE)


# Discharge gas


def leaving(celsius: float, *more: dict, drawn: float | None = 10, seen: tuple[str, ...] = ()):
    """Suction at -10 degC saturated, `drawn` degC; condensing at 50 degC."""
    gas = [] if drawn is None else [at("suction_gas_temperature", drawn, "degC")]
    pressures = [SUCTION, absolute("discharge_pressure", 1318)]
    line = at("discharge_line_temperature", celsius, "degC")
    return clashes(*pressures, *gas, line, *more, seen=seen, refrigerant="R134a")


def test_dry_gas_leaves_above_its_boiling_point():
    (found,) = leaving(30)
    assert (found.rule, found.rate) == ("discharge_gas", 0.003)
    assert "below the 50 degC at which it boils" in found.why
    (found,) = leaving(30, at("superheat", 20, "K"), drawn=None)
    assert found.rate == 0.003


@pytest.mark.parametrize("celsius", [48, 51, 75, 110])
def test_gas_at_or_above_it_is_no_clash(celsius):
    assert not leaving(celsius)


def test_wet_gas_a_light_touch_or_air_in_it_is_only_told():
    assert [c.rate for c in leaving(30, drawn=-9)] == [None]
    assert [c.rate for c in leaving(30, drawn=None)] == [None]
    assert [c.rate for c in leaving(37)] == [None]  # 13 K below, 4.7 of them by chance
    assert [c.rate for c in leaving(30, seen=("discharge_side.non_condensables heavy",))] == [None]


def test_a_machine_at_rest_cools_down():
    rest = [absolute("suction_pressure", 600), absolute("discharge_pressure", 650)]
    line, gas = at("discharge_line_temperature", 5, "degC"), at("suction_gas_temperature", 25, "degC")
    assert not [c for c in clashes(*rest, line, gas, refrigerant="R134a") if c.rule == "discharge_gas"]


def test_probes_exchanged_without_a_known_refrigerant():
    pressures = [SUCTION, CONDENSING]
    probes = [at("suction_gas_temperature", 70, "degC"), at("discharge_line_temperature", 10, "degC")]
    assert soft(*pressures, *probes) == ["discharge_gas"]


# Suction gas


def test_gas_drawn_in_is_no_colder_than_its_boiling_point():
    """292.8 kPa: 0 degC."""
    cold = [absolute("suction_pressure", 292.8), at("suction_gas_temperature", -20, "degC")]
    assert hard(*cold, CONDENSING, refrigerant="R134a") == ["suction_gas"]
    assert hard(*cold, CURRENT, refrigerant="R134a") == ["suction_gas"]
    assert soft(*cold, refrigerant="R134a") == ["suction_gas"]  # refrigerant gathers in a standing, cold machine
    assert not clashes(*cold, CURRENT)
    wet = [cold[0], at("suction_gas_temperature", -1, "degC")]
    assert not clashes(*wet, CONDENSING, refrigerant="R134a")


def test_other_moments_are_not_held_together():
    hours = ("08", "12", "16")
    entries = [SUCTION, absolute("discharge_pressure", 1318), at("discharge_line_temperature", 5, "degC")]
    apart = [e | {"time": f"2026-02-03T{h}:00:00"} for e, h in zip(entries, hours, strict=True)]
    assert not clashes(*apart, refrigerant="R134a")


# Hotter than compression makes it

TIGHT = (
    "suction_reed.broken none",
    "discharge_valve.broken none",
    "head_gasket.blown none",
    "relief_valve.leaking none",
)


def hot(celsius: float, *more: dict, drawn: float = -9, seen: tuple[str, ...] = TIGHT, **unit: object):
    """From -10 degC saturated to 50 degC. By the tables of NIST (from memory) 392.7 kJ/kg before, some 432 after
    lossless compression, 480 at an efficiency of 0.45: 50 K above 423.4, the dew point's, at 1.13 kJ/kg K: 100 degC.
    With 10 K of an air-cooled machine 110, with 40 K of a refrigerant-cooled one 140."""
    pressures = [SUCTION, absolute("discharge_pressure", 1318)]
    entries = [at("suction_gas_temperature", drawn, "degC"), at("discharge_line_temperature", celsius, "degC")]
    return clashes(*pressures, *entries, *more, seen=seen, **{"refrigerant": "R134a", "cooling": "air"} | unit)


def test_wet_gas_leaves_no_hotter_than_its_losses_make_it():
    (found,) = hot(143)
    assert (found.rule, found.rate) == ("too_hot", 0.003)
    assert found.labels[-4:] == TIGHT
    assert "of one moment" in found.fix
    assert [c.rate for c in hot(170, cooling="refrigerant")] == [0.003]


@pytest.mark.parametrize(("celsius", "cooling"), [(75, "air"), (108, "air"), (75, "refrigerant"), (138, "refrigerant")])
def test_what_losses_and_motor_explain_is_no_clash(celsius, cooling):
    assert not hot(celsius, cooling=cooling)


def test_where_a_leak_inside_was_not_looked_for_it_is_only_told():
    for left_out in TIGHT:
        (found,) = hot(143, seen=tuple(s for s in TIGHT if s != left_out))
        assert found.rate is None
        assert "leak back inside" in found.why
    assert [c.rate for c in hot(143, inverter=True)] == [None]
    assert [c.rate for c in hot(170, cooling=None)] == [None]


@pytest.mark.parametrize(
    "leak", ["relief_valve.lifted heavy", "piston_rings.broken slight", "valve_plate.cracked heavy"]
)
def test_a_leak_inside_heats_the_gas_again(leak):
    assert not hot(143, seen=(*TIGHT, leak))


def test_what_was_drawn_in_hot_is_not_held_to_it():
    assert not hot(143, drawn=10)
    assert not hot(143, at("superheat", 20, "K"))
    assert [c.rate for c in hot(143, at("superheat", 0.5, "K"))] == [0.003]
    assert not hot(143, refrigerant="R744")
    assert not hot(143, refrigerant="no such")
    assert not hot(143, refrigerant=None)


def test_hot_gas_of_another_moment_is_not_held_to_it():
    later = at("discharge_line_temperature", 143, "degC", time="2026-02-03T16:00:00")
    early = [e | {"time": "2026-02-03T08:00:00"} for e in (SUCTION, absolute("discharge_pressure", 1318))]
    gas = at("suction_gas_temperature", -9, "degC", time="2026-02-03T08:00:00")
    assert not clashes(*early, gas, later, refrigerant="R134a", cooling="air", seen=TIGHT)
