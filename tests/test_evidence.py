"""What a record says becomes one likelihood a finding, and nothing is counted twice.

Levels: none, slight, heavy. Limits used: supply unbalance 2 % and 4 %, net oil pressure, head bolt torque of the sheet
T3-075 (28 to 52 N·m, invented demo sheet); common practice, no source.
"""

import itertools
from typing import Any

import pytest

from stripdown import evidence, knowledge
from stripdown.evidence import gather
from stripdown.limits import effective_unit, judge_readings, load_sheets
from stripdown.reasoning.checks import open_checks
from stripdown.reasoning.infer import FAILED_WHEN
from stripdown.reasoning.model import Evidence
from stripdown.record import Fault, Record, parse
from tests.limits.made import reading

KNOWLEDGE = knowledge.load()
SHEETS = load_sheets()


def record(
    *seen: str | dict[str, Any], readings: tuple[dict[str, Any], ...] = (), history: Any = None, **unit: Any
) -> Record:
    """A record with these observations, written 'part.condition extent' or as a file holds them."""
    raw = {
        "format": 1,
        "claim": "T-1",
        "unit": {"serial": "1", "model": "T3-075"} | unit,
        "history": history or {},
        "readings": list(readings),
        "observations": [observation(s) if isinstance(s, str) else s for s in seen],
    }
    made = parse(raw, file="t.toml", folder=".")
    assert isinstance(made, Record), made
    return made


def observation(text: str, **more: Any) -> dict[str, Any]:
    finding, extent = text.split()
    part, condition = finding.split(".")
    return {"part": part, "condition": condition, "extent": extent} | more


def told(made: Record) -> tuple[Evidence, list[Fault]]:
    return gather(made, judge_readings(made, SHEETS)[0], KNOWLEDGE, effective_unit(made, SHEETS).cylinders)


def levels(made: Record, finding: str) -> list[float]:
    return [float(x) for x in told(made)[0].likelihoods[finding]]


# Observations


@pytest.mark.parametrize(("extent", "level"), [("none", 0), ("slight", 1), ("heavy", 2)])
def test_an_extent_is_a_level(extent: str, level: int) -> None:
    made = record(f"main_bearing.worn {extent}")
    assert levels(made, "main_bearing.worn") == [float(i == level) for i in range(3)]
    assert ("main_bearing.worn" in told(made)[0].stated) == (level > 0)


def test_not_looked_at_and_unreadable_are_no_evidence() -> None:
    assert told(record())[0].likelihoods == {}
    assert told(record("main_bearing.worn unreadable"))[0].likelihoods == {}


def test_the_worst_cylinder_counts() -> None:
    seen = [
        observation(f"wrist_pin.worn {extent}", cylinder=i) for i, extent in ((1, "none"), (2, "heavy"), (3, "none"))
    ]
    assert levels(record(*seen, cylinders=4), "wrist_pin.worn") == [0, 0, 1]


@pytest.mark.parametrize(
    ("seen", "finding", "there"),
    [
        ("crank.turns_freely heavy", "crank.will_not_turn", False),
        ("crank.will_not_turn heavy", "crank.will_not_turn", True),
        ("pumping.pumps heavy", "pumping.does_not_pump", False),
        ("pumping.does_not_pump heavy", "pumping.does_not_pump", True),
    ],
)
def test_the_two_sides_of_one_question_are_one_finding(seen: str, finding: str, there: bool) -> None:
    assert levels(record(seen), finding) == [float(not there), float(there)]


def test_a_part_that_is_missing_or_wrong_speaks_for_assembly_and_by_its_own_name() -> None:
    known = told(record("oil_pickup.wrong_part heavy", "head_gasket.missing none", "piston.missing unreadable"))[0]
    assert float(known.likelihoods["assembly.part_missing_or_wrong"][-1]) == 1.0
    assert known.also == {"oil_pickup.wrong_part"}


@pytest.mark.parametrize(
    ("damaged", "cylinders", "few"),
    [((1,), 4, True), ((1, 2), 4, True), ((1, 2, 3), 4, False), ((1,), 2, True), ((1, 2), 2, False)],
)
def test_one_or_two_of_many_cylinders_is_a_finding_of_its_own(
    damaged: tuple[int, ...], cylinders: int, few: bool
) -> None:
    made = record(*(observation("suction_reed.broken heavy", cylinder=c) for c in damaged), cylinders=cylinders)
    known = told(made)[0]
    assert list(known.likelihoods["cylinders.one_or_two_of_many"]) == [float(not few), float(few)]
    assert known.labels["cylinders.one_or_two_of_many"] == f"{len(damaged)} of {cylinders} cylinders damaged"


def test_cylinders_without_numbers_or_without_damage_say_nothing_of_how_many() -> None:
    for seen in ("suction_reed.broken heavy", observation("suction_reed.broken none", cylinder=1)):
        assert "cylinders.one_or_two_of_many" not in told(record(seen, cylinders=4))[0].likelihoods


@pytest.mark.parametrize(
    ("seen", "cylinders", "everywhere"),
    [
        ([((1, 2, 3, 4), "heavy")], 4, True),
        ([((1, 2), "heavy"), ((3,), "heavy"), ((4,), "heavy")], 4, True),
        ([((1, 2, 3), "heavy"), ((4,), "slight")], 4, False),
        ([((1, 2, 3), "heavy"), ((4,), "none")], 4, False),
        ([((), "heavy")], 4, False),
        ([((), "heavy")], 1, True),
        ([((1, 2, 3, 4), "none")], 4, False),
    ],
)
def test_heavy_at_every_cylinder_needs_each_of_them_by_number(
    seen: list[tuple[tuple[int, ...], str]], cylinders: int, everywhere: bool
) -> None:
    made = record(*(at_cylinders("connecting_rod.broken", *s) for s in seen), cylinders=cylinders)
    assert ("connecting_rod.broken" in told(made)[0].everywhere) == everywhere


@pytest.mark.parametrize(
    ("seen", "in_part"),
    [
        ([((1,), "none")], True),
        ([((1, 2), "none"), ((3, 4), "none")], False),
        ([((), "none")], False),
        ([((1,), "none"), ((2,), "slight")], False),
        ([((1,), "none"), ((2,), "unreadable")], True),
    ],
)
def test_what_is_sound_at_some_cylinders_does_not_speak_of_the_others(
    seen: list[tuple[tuple[int, ...], str]], in_part: bool
) -> None:
    made = record(*(at_cylinders("suction_reed.broken", *s) for s in seen), cylinders=4)
    assert ("suction_reed.broken" in told(made)[0].not_as_found) == in_part


def at_cylinders(finding: str, cylinders: tuple[int, ...], extent: str) -> dict[str, Any]:
    return observation(f"{finding} {extent}", **({"cylinder": list(cylinders)} if cylinders else {}))


# Readings


def torque(value: float) -> dict[str, Any]:
    return reading("head_bolt_torque", value, "N·m", accuracy="1%")


def test_a_reading_of_a_two_sided_limit_speaks_for_its_own_side_only() -> None:
    loose, tight = told(record(readings=(torque(14),)))[0], told(record(readings=(torque(70),)))[0]
    for known, there, not_there in (
        (loose, "head_bolts.loose", "head_bolts.overtightened"),
        (tight, "head_bolts.overtightened", "head_bolts.loose"),
    ):
        assert float(known.likelihoods[there][0]) == pytest.approx(0.0, abs=1e-6)
        assert float(known.likelihoods[not_there][0]) == pytest.approx(1.0, abs=1e-6)
        assert known.stated == {there}
    assert loose.labels == {
        "head_bolts.loose": "head_bolt_torque low",
        "head_bolts.overtightened": "head_bolt_torque not high",
    }
    assert tight.labels["head_bolts.loose"] == "head_bolt_torque not low"


def test_a_reading_that_speaks_of_two_findings_stands_under_two_names() -> None:
    fine = told(record(readings=(torque(40),)))[0]
    assert set(fine.labels.values()) == {"head_bolt_torque not low", "head_bolt_torque not high"}


def test_a_reading_in_the_middle_of_its_uncertainty_is_half_an_evidence() -> None:
    """28 N·m is the limit itself."""
    assert levels(record(readings=(torque(28),)), "head_bolts.loose")[0] == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("order", list(itertools.permutations((371, 398, 404))))
def test_of_several_readings_the_worst_counts_in_whatever_order(order: tuple[int, ...]) -> None:
    """371, 398, 404 V: mean 391, greatest deviation 20 V = 5.1 %, above the 4 % band, whichever line pair has it."""
    volts = tuple(
        reading("supply_voltage", v, "V", between=b, accuracy="0.1%", time="2026-01-01T10:00:00")
        for v, b in zip(order, ("L1-L2", "L2-L3", "L3-L1"), strict=True)
    )
    assert levels(record(readings=volts), "supply_unbalance.high") == pytest.approx([0.0, 0.0, 1.0], abs=0.01)


def test_levels_of_a_reading_are_the_probabilities_of_its_bands() -> None:
    """3 % lies between 2 and 4 %: high, and not very high. 388, 400, 412 V: mean 400, greatest deviation 12."""
    volts = tuple(
        reading("supply_voltage", v, "V", between=b, accuracy="0.1%", time="2026-01-01T10:00:00")
        for v, b in ((388, "L1-L2"), (400, "L2-L3"), (412, "L3-L1"))
    )
    got = levels(record(readings=volts), "supply_unbalance.high")
    assert got == pytest.approx([0.0, 1.0, 0.0], abs=0.01)


@pytest.mark.parametrize(("amperes", "beyond"), [(16.0, [1.0, 0.0, 0.0]), (21.0, [0.0, 1.0, 0.0])])
def test_a_running_current_speaks_once_it_is_above_the_plate(amperes: float, beyond: list[float]) -> None:
    """A plate of 18 A, which is not the maximum; a model without a sheet has no other limit. 1 % = 0.2 A."""
    line = reading("running_current", amperes, "A", between="L1", accuracy="1%")
    made = record(readings=(line,), model="X-1", plate={"current": 18.0})
    assert levels(made, "running_current.high") == pytest.approx(beyond, abs=0.01)


def test_an_open_heater_reading_means_what_an_open_heater_means() -> None:
    made = record(readings=(reading("heater_resistance", "open", "ohm"),))
    assert levels(made, "crankcase_heater.open_circuit") == [0.0, 1.0]


def test_a_second_failed_motor_sensor_is_told() -> None:
    sensors = [reading("sensor_resistance", "open", "ohm", between=f"common-{i}") for i in (1, 2)]
    assert "motor_sensor.second_failed" not in told(record(readings=(sensors[0],)))[0].also
    assert "motor_sensor.second_failed" in told(record(readings=tuple(sensors)))[0].also


def test_what_cannot_be_read_any_more_is_no_evidence_and_is_not_asked_for_again() -> None:
    known = told(record("rotor.rubbed unreadable", "stator.rubbed none"))[0]
    assert (set(known.likelihoods), known.unreadable) == ({"stator.rubbed"}, {"rotor.rubbed"})
    asked = open_checks(KNOWLEDGE, known)
    assert "rotor.rubbed" not in asked
    assert "rotor.rubbed" in open_checks(KNOWLEDGE, told(record("stator.rubbed none"))[0])


@pytest.mark.parametrize(
    ("site", "in_doubt"), [((True,), True), ((False,), False), ((True, False), False), ((False, True), False)]
)
def test_what_was_read_on_the_running_system_does_not_speak_of_the_machine_as_found(
    site: tuple[bool, ...], in_doubt: bool
) -> None:
    """2 and 1 psi/min are within the 3 psi/min of the class (common practice, no source)."""
    read = [reading("leak_back_rate", 2.0 - i, "psi/min", site=s) for i, s in enumerate(site)]
    known = told(record(readings=tuple(read)))[0]
    assert float(known.likelihoods["leak_back_rate.high"][0]) > 0.95
    assert ("leak_back_rate.high" in known.not_as_found) == in_doubt


def test_a_reading_of_the_running_system_that_is_worse_than_that_of_the_bench_is_not_of_the_machine_as_found() -> None:
    read = (reading("leak_back_rate", 9, "psi/min", site=True), reading("leak_back_rate", 1, "psi/min"))
    known = told(record(readings=read))[0]
    assert known.not_as_found == {"leak_back_rate.high"}


# A reading and an observation of one fact


def test_a_sure_reading_and_an_observation_are_one_event() -> None:
    made = record("head_bolts.loose slight", readings=(torque(14),))
    known, notices = told(made)
    assert known.labels["head_bolts.loose"] == "head_bolt_torque low"
    assert notices == []


def test_where_they_disagree_the_reading_counts_and_a_notice_says_so() -> None:
    made = record("head_bolts.loose none", readings=(torque(14),))
    known, (notice,) = told(made)
    assert "head_bolts.loose" in known.stated
    assert (notice.file, notice.entry) == ("t.toml", "observations[1]")
    assert notice.what == "head_bolts.loose none, but head_bolt_torque low"


def test_what_a_law_has_told_is_not_told_again() -> None:
    made = record("main_bearing.worn heavy", readings=(reading("main_bearing_play", 50, "um"),))
    judged, of_laws, clashes = judge_readings(made, SHEETS)
    assert "observations[1], readings[1]" in {n.entry for n in of_laws}
    known, notices = gather(made, judged, KNOWLEDGE, None, clashes)
    assert notices == []
    assert known.clash is not None


def test_a_doubtful_reading_leaves_the_observation() -> None:
    known, notices = told(record("head_bolts.loose heavy", readings=(torque(28),)))
    assert known.labels["head_bolts.loose"] == "head_bolts.loose heavy"
    assert notices == []


def drained(value: float, accuracy: str) -> dict[str, Any]:
    return reading("oil_drained", value, "l", accuracy=accuracy)


def test_a_measured_quantity_of_oil_stands_in_place_of_the_glass() -> None:
    """The sheet K4-150 has a charge; a litre is far below any."""
    known, notices = told(record("oil.low heavy", readings=(drained(0.5, "1%"),), model="K4-150"))
    assert "oil_drained.low" in known.stated
    assert "oil.low" not in known.likelihoods
    assert notices == []


def test_a_glass_that_the_measured_oil_contradicts_is_named() -> None:
    known, notices = told(record("oil.low none", readings=(drained(0.5, "1%"),), model="K4-150"))
    assert "oil.low" not in known.likelihoods
    assert [n.what for n in notices] == ["oil.low none, but oil_drained outside"]


def test_a_measured_quantity_that_says_nothing_leaves_the_glass() -> None:
    known, _ = told(record("oil.low heavy", readings=(drained(2.5, "5"),), model="K4-150"))
    assert "oil_drained.low" not in known.likelihoods
    assert float(known.likelihoods["oil.low"][2]) == 1.0


# History and context


@pytest.mark.parametrize(("count", "there"), [(0, False), (1, True), (7, True)])
def test_alarms_are_there_or_not(count: int, there: bool) -> None:
    known = told(record(history={"alarms": {"oil": count}}))[0]
    assert list(known.likelihoods) == ["alarms.oil"]
    assert list(known.likelihoods["alarms.oil"]) == [float(not there), float(there)]


def test_an_earlier_burn_and_its_absence_speak_and_silence_does_not() -> None:
    finding = "history.earlier_burn"
    assert levels(record(history={"earlier_burn": True}), finding) == [0, 1]
    assert levels(record(history={"earlier_burn": False}), finding) == [1, 0]
    assert finding not in told(record())[0].likelihoods


@pytest.mark.parametrize(
    ("history", "likelihood"),
    [
        ({"failed_when": "running"}, [1, 0, 0, 0, 0]),
        ({"failed_when": "start", "hours_off": 2}, [0, 1, 0, 0, 0]),
        ({"failed_when": "start", "hours_off": 8}, [0, 0, 1, 0, 0]),
        ({"failed_when": "start"}, [0, 1, 1, 0, 0]),
        ({"failed_when": "after_defrost"}, [0, 0, 0, 1, 0]),
        ({"failed_when": "standing"}, [0, 0, 0, 0, 1]),
    ],
)
def test_a_start_is_after_a_long_stop_a_short_one_or_either(history: dict[str, Any], likelihood: list[int]) -> None:
    """Running, start, start after eight hours or more, after a defrost, standing."""
    assert levels(record(history=history), FAILED_WHEN) == likelihood


@pytest.mark.parametrize(
    ("hours", "band"),
    [(0, "0-500"), (499, "0-500"), (500, "500-5000"), (20_000, "20000-40000"), (71_200, "40000-"), (None, "unknown")],
)
def test_run_hours_fall_into_their_band(hours: float | None, band: str) -> None:
    made = record(**({} if hours is None else {"run_hours": hours}))
    assert evidence.context(made, cooling=None, motor=None, oil_feed=None)["hours"] == band


def test_the_context_is_what_the_record_says_and_unknown_where_it_is_silent() -> None:
    silent = evidence.context(record(), cooling="air", motor="delta", oil_feed=None)
    assert (silent["cooling"], silent["motor"], silent["oil_feed"]) == ("air", "delta", "unknown")
    assert {silent[k] for k in ("duty", "inverter", "opened_before", "replaced", "hours")} == {"unknown"}
    history = {"duty": "low", "opened_before": "site", "replaces": "0"}
    said = evidence.context(record(history=history, inverter=True), cooling=None, motor=None, oil_feed=None)
    assert (said["duty"], said["opened_before"], said["replaced"], said["inverter"]) == ("low", "site", "yes", "yes")


def test_findings_stand_in_one_order_whatever_the_record_s() -> None:
    seen = ["rotor.rubbed heavy", "main_bearing.worn slight", "oil.low none"]
    orders = [list(told(record(*order))[0].likelihoods) for order in (seen, seen[::-1])]
    assert orders[0] == orders[1] == sorted(orders[0])
