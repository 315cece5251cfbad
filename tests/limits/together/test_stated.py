"""Readings and findings against what the record states elsewhere: common practice, no source."""

import pytest

from tests.limits.made import clashes, hard, reading, soft


def sensors(*ohms: object, **more: object) -> list[dict]:
    return [reading("sensor_resistance", o, "ohm", between=f"common-{n}") | more for n, o in enumerate(ohms, 1)]


# Parts that are not there


def test_a_pump_that_is_missing_gives_no_pressure():
    (found,) = clashes(reading("net_oil_pressure", 31, "psi"), seen=("oil_pump.missing heavy",))
    assert (found.rule, found.rate) == ("missing_part", 0.003)
    assert found.labels == ("oil_pump.missing heavy", "net_oil_pressure 31 psi")
    both = [reading("oil_pump_pressure", 70, "psi"), reading("crankcase_pressure", 40, "psi")]
    assert hard(*both, seen=("oil_pump.missing heavy",)) == ["missing_part"]


@pytest.mark.parametrize("psi", [0, 2, 7])
def test_no_pressure_is_what_a_missing_pump_gives(psi):
    assert not clashes(reading("net_oil_pressure", psi, "psi"), seen=("oil_pump.missing heavy",))


def test_what_was_read_before_removal_was_there_then():
    on_site = reading("net_oil_pressure", 31, "psi", site=True)
    assert not clashes(on_site, seen=("oil_pump.missing heavy",))


def test_two_other_looks_at_a_missing_part():
    looks = ("oil_pump.missing heavy", "oil_pump.worn heavy", "oil_pump.gouged none")
    assert hard(seen=looks) == ["missing_part"]
    assert soft(seen=looks[:2]) == ["missing_part"]
    ticked = ("oil_check_valve.missing heavy", "oil_check_valve.stuck_open none", "oil_check_valve.stuck_closed none")
    assert soft(seen=ticked) == ["missing_part"]
    assert not clashes(seen=("oil_pump.missing heavy", "oil_pump.worn unreadable"))
    assert not clashes(seen=("oil_pump.missing none", "oil_pump.worn none", "oil_pump.gouged none"))


def test_of_parts_that_a_machine_has_several_of_one_may_be_missing():
    assert not clashes(seen=("head_bolts.missing heavy", "head_bolts.loose heavy", "head_bolts.broken none"))


@pytest.mark.parametrize(
    ("part", "read"),
    [
        ("crankcase_heater", reading("heater_resistance", 529, "ohm")),
        ("main_bearing", reading("main_bearing_play", 60, "um")),
        ("rotor", reading("rotor_air_gap", 0.3, "mm", between="top")),
        ("crankshaft", reading("crankshaft_end_float", 0.3, "mm")),
    ],
)
def test_what_is_not_there_is_not_measured(part, read):
    assert hard(read, seen=(f"{part}.missing heavy",)) == ["missing_part"]
    assert not clashes(read, seen=(f"{part}.missing none",))


def test_an_open_heater_may_be_none():
    assert not clashes(reading("heater_resistance", "open", "ohm"), seen=("crankcase_heater.missing heavy",))


def test_sensors_that_read_are_there():
    assert hard(*sensors(118, 121, 119), seen=("motor_sensor.missing heavy",)) == ["torn_sensors"]
    assert soft(*sensors(118, 121, 119), seen=("motor_sensor.lead_broken heavy",)) == ["torn_sensors"]


@pytest.mark.parametrize("ohms", [(118, 121), (118, 121, "open"), (118, "short", 119), (118, 121, 4)])
def test_one_of_them_may_be_the_one_that_is_torn_off(ohms):
    assert not clashes(*sensors(*ohms), seen=("motor_sensor.missing heavy", "motor_sensor.lead_broken heavy"))


def test_sensors_read_before_removal_or_never_doubted():
    assert not clashes(*sensors(118, 121, 119, site=True), seen=("motor_sensor.missing heavy",))
    assert not clashes(*sensors(118, 121, 119), seen=("motor_sensor.damaged slight",))


# The head of the record


def test_a_splash_lubricated_machine_has_no_oil_pump():
    found = clashes(reading("oil_pump_pressure", 34, "psi"), seen=("oil_pump.gouged heavy",), oil_feed="splash")
    assert [(c.rule, c.rate) for c in found] == [("no_oil_pump", 0.003)]
    assert found[0].entries == ("unit.oil_feed", "observations[1]", "readings[1]")
    assert soft(seen=("oil_pump.gouged heavy",), oil_feed="splash") == ["no_oil_pump"]
    assert soft(reading("net_oil_pressure", 30, "psi"), oil_feed="splash") == ["no_oil_pump"]


def test_no_pump_and_a_ticked_sheet_is_no_clash():
    assert not clashes(seen=("oil_pump.gouged none", "oil_pump.missing heavy", "oil.low heavy"), oil_feed="splash")
    assert not clashes(reading("oil_pump_pressure", 34, "psi"), seen=("oil_pump.gouged heavy",), oil_feed="pump")
    assert not clashes(reading("oil_pump_pressure", 34, "psi"), seen=("oil_pump.gouged heavy",))


def test_the_sheet_of_the_model_says_how_its_oil_is_fed():
    """The demo's sheet T2-045 is of a splash-lubricated machine (invented)."""
    (found,) = clashes(reading("net_oil_pressure", 30, "psi"), model="T2-045")
    assert found.entries == ("unit.model", "readings[1]")


def test_a_single_phase_motor_has_no_two_phases_to_burn():
    assert hard(seen=("stator.burnt_two_phases heavy",), motor="single_phase") == ["one_phase"]
    assert soft(seen=("stator.burnt_one_phase heavy",), motor="single_phase") == ["one_phase"]
    assert not clashes(seen=("stator.burnt_two_phases none", "stator.burnt_one_winding heavy"), motor="single_phase")
    assert not clashes(seen=("stator.burnt_two_phases heavy",), motor="star")


def amperes(*values: float, **more: object) -> list[dict]:
    return [reading("running_current", a, "A", between=f"L{n}", site=True) | more for n, a in enumerate(values, 1)]


def test_a_single_phase_motor_has_two_lines():
    assert soft(*amperes(9, 9, 9), motor="single_phase") == ["one_phase"]
    assert not clashes(*amperes(9, 9), motor="single_phase")
    assert not clashes(*amperes(9, 9, 0), motor="single_phase")


# Dates


LIFE = {"installed": "2021-05-25", "failed": "2026-01-14", "returned": "2026-02-02", "failed_when": "running"}
PLATE = {"plate": {"current": 27}}
STOPPED = ("stator.burnt_two_phases heavy",)


def on(day: str, *values: float) -> list[dict]:
    return amperes(*(values or (22.4, 22.1, 22.6)), time=f"{day}T10:05:00")


def test_a_burnt_motor_did_not_run_days_later():
    found = clashes(*on("2026-01-23"), seen=STOPPED, history=LIFE, **PLATE)
    assert [(c.rule, c.rate) for c in found] == [("ran_after_failure", 0.003)]
    assert found[0].labels[0] == "failed 2026-01-14"
    assert hard(*on("2026-01-23"), seen=("crank.will_not_turn heavy",), history=LIFE, **PLATE) == ["ran_after_failure"]
    oil = reading("net_oil_pressure", 30, "psi", site=True, time="2026-01-23T10:05:00")
    assert hard(oil, seen=STOPPED, history=LIFE) == ["ran_after_failure"]


def test_the_day_of_the_complaint_may_not_be_the_last():
    unsaid = {k: v for k, v in LIFE.items() if k != "failed_when"}
    assert soft(*on("2026-01-23"), seen=STOPPED, history=unsaid, **PLATE) == ["ran_after_failure"]


def test_a_weak_machine_may_have_run_on():
    assert soft(*on("2026-01-23"), history=LIFE, **PLATE) == ["ran_after_failure"]
    assert not clashes(*on("2026-01-16"), seen=STOPPED, history=LIFE, **PLATE)
    assert not clashes(*on("2026-01-10"), seen=STOPPED, history=LIFE, **PLATE)


@pytest.mark.parametrize("values", [(150, 148, 152), (0, 0, 0), (2, 2, 2)])
def test_a_held_or_idle_motor_is_measured_after_it_failed(values):
    assert not clashes(*on("2026-01-23", *values), seen=STOPPED, history=LIFE, **PLATE)
    assert not clashes(*on("2026-01-23"), seen=STOPPED, history=LIFE)  # no plate: it may be held


def test_readings_of_the_site_are_of_its_time_there():
    assert soft(*on("2026-02-05"), history=LIFE) == ["site_dates"]
    assert soft(*on("2021-05-01"), history=LIFE) == ["site_dates"]
    assert not clashes(*on("2026-02-02"), history=LIFE)
    supply = reading("supply_voltage", 400, "V", between="L1-L2", site=True, time="2026-02-05T10:05:00")
    assert not clashes(supply, history=LIFE)  # the site is still there
    bench = [r | {"site": False} for r in on("2026-02-05")]
    assert not clashes(*bench, history=LIFE)


# Too young for what it shows

YEARS = ("crankshaft.copper_plated heavy", "oil.sludge heavy", "body.corroded heavy")
WINTER = {"installed": "2025-11-20", "failed": "2026-01-14"}


def test_what_takes_years_is_not_found_after_some_days():
    (found,) = clashes(seen=YEARS, run_hours=90, history=WINTER)
    assert (found.rule, found.rate) == ("too_young", 0.003)
    assert found.entries[:3] == ("unit.run_hours", "history.installed", "history.failed")
    assert found.labels[0] == "90 run hours"
    assert "counter that was reset" in found.fix
    assert hard(seen=YEARS, run_hours=90) == ["too_young"]
    worn = ("cylinder_bore.worn heavy", "piston_rings.worn heavy", "oil_pump.worn heavy")
    assert hard(seen=worn, run_hours=40) == ["too_young"]


@pytest.mark.parametrize("unit", [{}, {"run_hours": 200}, {"run_hours": 21_400}])
def test_an_old_machine_or_one_without_a_counter_may_show_it(unit):
    assert not clashes(seen=YEARS, **unit)


def test_years_on_the_site_age_a_machine_that_stands():
    assert not clashes(seen=YEARS, run_hours=90, history={"installed": "2019-05-02", "failed": "2026-01-14"})


def test_two_of_them_are_told_and_one_is_not():
    assert soft(seen=YEARS[:2], run_hours=90) == ["too_young"]
    assert not clashes(seen=YEARS[:1], run_hours=90)
    assert not clashes(seen=(YEARS[0], "main_bearing.copper_plated heavy"), run_hours=90)
    assert not clashes(seen=(YEARS[0], "oil.sludge slight", "body.corroded none"), run_hours=90)
    alike = ("rod_bearings.worn_uniform heavy", "crankshaft.scored_uniform heavy")
    assert not clashes(seen=alike, run_hours=90)


def test_cylinders_alone_wear_out_in_days_where_their_oil_is_washed_off():
    worn = ("cylinder_bore.worn heavy", "piston_rings.worn heavy", "piston.worn heavy")
    assert soft(seen=worn, run_hours=90) == ["too_young"]


@pytest.mark.parametrize(
    "fast",
    ["crankshaft.heat_tinted heavy", "oil.milky heavy", "oil.low heavy", "suction_strainer.metal_debris heavy"],
)
def test_heat_water_dirt_or_no_oil_do_it_fast(fast):
    assert soft(seen=(*YEARS, fast), run_hours=90) == ["too_young"]
    little = fast.replace("heavy", "slight")
    assert hard(seen=(*YEARS, little), run_hours=90) == ["too_young"]


def test_a_machine_that_ran_before_is_older_than_its_counter():
    opened = {"opened_before": "workshop"}
    assert soft(seen=YEARS, run_hours=90, history=opened) == ["too_young"]
    assert soft(seen=YEARS, run_hours=90, history={"earlier_burn": True}) == ["too_young"]
    assert soft(seen=YEARS, run_hours=90, history=WINTER, built="2014-03-31") == ["too_young"]
    assert hard(seen=YEARS, run_hours=90, history=WINTER | {"opened_before": "never"}, built="2025-08-01")
