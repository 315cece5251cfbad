"""Every kind of fault: found, at its entry, with what would be right."""

from typing import Any

import pytest

from stripdown.record import Record

from .made import accepted, faults, good, read, with_observations, with_reading


def _spoilt(path: str, value: object) -> dict[str, Any]:
    raw = good()
    *way, last = path.split(".")
    table = raw
    for step in way:
        table = table.setdefault(step, {})
    table[last] = value
    return raw


@pytest.mark.parametrize(
    ("path", "value", "what", "fix"),
    [
        ("claim", "../NB-1", "is no claim", "letters A to Z, digits"),
        ("claim", "-NB", "is no claim", "a letter or digit first"),
        ("claim", "NB 1", "is no claim", "letters"),
        ("claim", "NÉ-1", "is no claim", "letters A to Z"),
        ("claim", "", "is no claim", "letters"),
        ("claim", "Index", "name of an output", "another number"),
        ("claim", "ledger", "name of an output", "another number"),
        ("claim", "FLEET", "name of an output", "another number"),
        ("claim", "index.html", "name of an output", "another number"),
        ("claim", "N" * 101, "101 characters", "at most 100 characters"),
        ("claim", 117, "must be text; got 117", "quotes"),
        ("unit.serial", 4127, "must be text; got 4127", "quotes"),
        ("unit.serial", "  ", "is empty", "write it"),
        ("unit.serial", "K4\u202e7719", "invisible character U+202E", "type it again"),
        ("unit.serial", "K4\x007719", "invisible character U+0000", "type it again"),
        ("unit.serial", "K\ud800", "invisible character U+D800", "type it again"),
        ("unit.model", "K" * 201, "201 characters", "at most 200 characters"),
        ("unit.cooling", "refigerant", '"refigerant" is not known here', "did you mean refrigerant?"),
        ("unit.cooling", "water", '"water" is not', "write refrigerant or air"),
        ("unit.motor", True, "true is not known", "star, delta, part_winding or single_phase"),
        ("unit.run_hours", "21400", "must be a number", "without quotes"),
        ("unit.run_hours", -1, "-1 h cannot be", "from 0 to 1000000 h"),
        ("unit.run_hours", float("nan"), "finite", "leave the field out"),
        ("unit.run_hours", float("inf"), "finite", "leave the field out"),
        ("unit.run_hours", 10**400, "finite", "leave the field out"),
        ("unit.cylinders", 4.0, "whole number", "without decimal point"),
        ("unit.cylinders", 0, "0 cannot be", "from 1 to 99"),
        ("unit.inverter", 0, "must be true or false", "true or false"),
        ("unit.built", "11/04/2019", "day and month can be confused", "2026-01-31"),
        ("unit.built", "2019-02-30", "not in the calendar", "2026-01-31"),
        ("unit.built", "0219-04-11", "year 219", "from 1900 to 2199"),
        ("unit.built", "April 2019", "must be a date", "2026-01-31"),
        ("unit.plate", 400, "must be a table", "[unit.plate]"),
        ("unit.plate.voltage", 0, "cannot be", "from 1 to 20000 V"),
        ("history.alarms.oil", -1, "cannot be", "from 0"),
        ("history.alarms.oil", 1.5, "whole number", "decimal point"),
        ("history.altitude", 12000, "cannot be", "from -500 to 9000 m"),
        ("history.reported", ["a"], "must be text; got a list", "quotes"),
        ("history.reported", "x" * 20_001, "20001 characters", "at most 20000 characters"),
        ("history.opened_before", "Site", '"Site" is not', "did you mean site?"),
        ("history.failed_when", "after-defrost", "not known", "did you mean after_defrost?"),
        ("history.replaces", "S-1", "cannot replace itself", "stood there before"),
        ("history.log", "../log.csv", "leads out of the record's folder", "beside the record"),
        ("history.log", "/etc/passwd", "not relative", "beside the record"),
        ("history.log", "C:\\logs\\x.csv", "not relative", "beside the record"),
        ("history.log", "\\\\server\\x.csv", "not relative", "beside the record"),
        ("history.log", "a/..\\..\\x.csv", "leads out", "beside the record"),
        ("revision", True, "whole number", "without decimal point"),
        ("examined_on", "2026-13-01", "not in the calendar", "2026-01-31"),
        ("instruments", ["meter", 4], "must be text; got 4", "quotes"),
        ("instruments", ["m"] * 1001, "1001 entries", "at most 1000"),
        ("statements", [{"text": "x"}] * 1001, "1001 entries", "at most 1000"),
        ("observations", {"part": "oil"}, "must be a list", "[[observations]]"),
        ("observations", ["oil"], "must be a table", "[[observations]]"),
        ("statements", [{"by": "site"}], "is missing", "text"),
        ("statements", [{"text": "\x07"}], "is empty", "take the entry out"),
        ("confirmed", [{"first": "flood_back"}], "not known", "did you mean floodback?"),
        ("confirmed", [{"causes": ["low_laod"]}], "not known", "did you mean low_load?"),
        ("confirmed", [{"liability": "maker"}], "not known", "works"),
    ],
)
def test_a_field_out_of_order(path: str, value: object, what: str, fix: str) -> None:
    found = faults(_spoilt(path, value))
    assert len(found) == 1
    entry, said, right = found[0]
    assert entry.startswith(path)
    assert what in said
    assert fix in right


@pytest.mark.parametrize(
    ("section", "field", "most"),
    [
        ("statements", "text", 20_000),
        ("statements", "by", 20_000),
        ("observations", "note", 20_000),
        ("observations", "where", 20_000),
        ("observations", "photo", 200),
        ("readings", "between", 200),
        ("readings", "accuracy", 200),
    ],
)
def test_a_text_that_no_person_writes_is_told_with_both_lengths(section: str, field: str, most: int) -> None:
    """The limits that docs/records.md states; one character more is the only fault, and names its field."""
    raw = good()
    raw.setdefault(section, [{}])[0][field] = "x" * (most + 1)
    told = [f for f in faults(raw) if f[0] == f"{section}[1].{field}"]
    assert told == [(f"{section}[1].{field}", f"{most + 1} characters long", f"write at most {most} characters")]


def test_the_longest_text_and_list_may_stand() -> None:
    raw = good() | {"claim": "N" * 100, "statements": [{"text": "x" * 20_000}] * 1000}
    raw["unit"]["model"] = "K" * 200
    assert len(accepted(raw).statements) == 1000


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        ([], "this is a list"),
        ("x", "this is"),
        (None, "this is"),
        ({"claim": "NB-1"}, "is missing: this is not a record"),
        (good() | {"format": 2}, "format 2 is not known"),
        (good() | {"format": "1"}, 'format "1" is not known'),
        (good() | {"format": True}, "format true is not known"),
        (good() | {"format": 1.0}, "format 1.0 is not known"),
    ],
)
def test_another_format_is_the_only_fault(raw: object, what: str) -> None:
    found = faults(raw)
    assert len(found) == 1
    assert what in found[0][1]


@pytest.mark.parametrize(
    ("section", "key", "fix"),
    [
        ("", "revison", "did you mean revision?"),
        ("", "serial", "under [unit]"),
        ("unit", "failed", "under [history]"),
        ("unit", "examined_by", "at the top of the file"),
        ("history", "colour", "the fields are installed, failed"),
        ("", "readings[x]", "did you mean readings?"),
        ("", "[", "the fields are format, claim"),
        ("", "readings[٣]", "did you mean readings?"),
    ],
)
def test_an_unknown_field_is_named_with_the_one_that_was_meant(section: str, key: str, fix: str) -> None:
    raw = good()
    (raw[section] if section else raw)[key] = "x"
    ((entry, what, right),) = faults(raw)
    assert entry == (f"{section}.{key}" if section else key)
    assert "is not a field of" in what
    assert fix in right


@pytest.mark.parametrize("path", ["claim", "unit", "unit.serial", "unit.model"])
def test_a_required_field_that_is_missing(path: str) -> None:
    raw = good()
    *way, last = path.split(".")
    (raw[way[0]] if way else raw).pop(last)
    assert [(entry, what) for entry, what, _ in faults(raw)] == [(path, "is missing")]


def test_null_is_the_same_as_not_said() -> None:
    raw = good()
    raw["history"]["site"] = None
    assert accepted(raw).digest == accepted(good()).digest
    raw["unit"]["serial"] = None
    assert faults(raw)[0][:2] == ("unit.serial", "is missing")


def test_all_faults_come_at_once_and_in_the_order_of_the_form() -> None:
    raw = good()
    raw["observations"] = [{"part": "oil", "condition": "dark_burned", "extent": "heavy"}, {"part": "crank"}]
    raw["readings"] = [
        {"quantity": "oil_moisture", "value": 20, "unit": "kPa"},
        {"quantity": "wrist_pin_drop", "value": "x", "unit": "um", "cylinder": 7},
    ]
    raw["history"]["failed"] = "2019-01-01"
    raw["unit"]["colour"] = "grey"
    assert [f[0] for f in faults(raw)] == [
        "unit.colour",
        "history.failed",
        "readings[1].unit",
        "readings[2].value",
        "readings[2].cylinder",
        "observations[1].condition",
        "observations[2].condition",
    ]


def test_a_flood_of_faults_is_cut() -> None:
    found = faults(good() | {f"x{i}": i for i in range(5_000)})
    assert len(found) == 501
    assert "more than 500 faults" in found[-1][1]


@pytest.mark.parametrize(
    ("dates", "entries"),
    [
        ({"built": "2020-02-04"}, ["history.installed"]),
        ({"installed": "2026-01-15"}, ["history.failed"]),
        ({"returned": "2026-01-13"}, ["history.returned"]),
        ({"examined_on": "2026-01-28"}, ["examined_on"]),
        ({"built": "2019-05-01", "warranty_until": "2019-04-30"}, ["history.warranty_until"]),
        ({"built": "2026-02-01", "installed": None, "failed": None}, ["history.returned"]),
    ],
)
def test_dates_never_go_backwards(dates: dict[str, str | None], entries: list[str]) -> None:
    raw = good()
    for key, value in dates.items():
        table = raw if key == "examined_on" else raw["unit"] if key == "built" else raw["history"]
        table[key] = value
    found = faults(raw)
    assert [f[0] for f in found] == entries
    assert "is before" in found[0][1]


def test_dates_of_one_day_are_in_order() -> None:
    raw = good() | {"examined_on": "2026-01-14"}
    raw["history"] = dict.fromkeys(("installed", "failed", "returned"), "2026-01-14")
    assert accepted(raw)


@pytest.mark.parametrize(
    ("fields", "entry", "what", "fix"),
    [
        ({"unit": "kPa"}, "unit", '"kPa" is a unit of pressure, oil_moisture wants moisture', "write ppm"),
        ({"unit": "furlong"}, "unit", "no unit of moisture", "write ppm"),
        ({"unit": None}, "unit", "is missing", "write unit"),
        ({"value": None}, "value", "is missing", 'a number, "open" or "short"'),
        ({"value": "open"}, "value", "for resistances only", "the number"),
        ({"value": "12 ppm"}, "value", 'got "12 ppm"', "the unit stands in `unit`"),
        ({"value": True}, "value", "must be a number", "digits"),
        ({"value": -1}, "value", "cannot be a reading of oil_moisture", "between 0 and 1000000 ppm"),
        ({"quantity": "oil_moist"}, "quantity", "not known", "did you mean oil_moisture?"),
        ({"between": "U-V"}, "between", "not measured between two points", "take it out"),
        ({"at": "leads"}, "at", "takes no at", "winding and insulation"),
        ({"cylinder": 1}, "cylinder", "takes no cylinder", "torques"),
        ({"test_voltage": 500}, "test_voltage", "takes no test_voltage", "insulation"),
        ({"gas": "air"}, "gas", "takes no gas", "insulation"),
        ({"absolute": True}, "absolute", "takes no absolute", "pressures"),
        ({"accuracy": "a bit"}, "accuracy", "cannot be read", '"0.5% + 0.02"'),
        ({"accuracy": "200%"}, "accuracy", "is no accuracy", "0.5%"),
        ({"accuracy": "0"}, "accuracy", "is no accuracy", "0.5%"),
        ({"accuracy": 0.5}, "accuracy", "must be text", "quotes"),
        ({"temperature": -300}, "temperature", "-300 degC cannot be", "from -90 to 400"),
        ({"temperature": 20, "temperature_unit": "bar"}, "temperature_unit", "no unit of temperature", "degC or degF"),
        ({"temperature_unit": "degF"}, "temperature", "is missing", "take the unit out"),
        ({"time": "09:40"}, "time", "must be a date with time", "2026-01-31T09:40:00"),
        ({"time": "2026-02-03T25:00:00"}, "time", "must be a date with time", "2026-01-31T09:40:00"),
        ({"colour": 1}, "colour", "not a field of [[readings]]", "the fields are"),
    ],
)
def test_a_reading_out_of_order(fields: dict[str, object], entry: str, what: str, fix: str) -> None:
    raw = with_reading(**{"quantity": "oil_moisture", "value": 20, "unit": "ppm"} | fields)
    ((where, said, right),) = faults(raw)
    assert where == f"readings[1].{entry}"
    assert what in said
    assert fix in right


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "what"),
    [
        ("winding_resistance", -0.1, "ohm", "cannot be a reading"),
        ("winding_resistance", 1, "MOHM", "no unit of resistance"),
        ("supply_voltage", 1e9, "V", "cannot be a reading"),
        ("suction_pressure", -20, "psi", "cannot be a reading"),
        ("discharge_line_temperature", -500, "degF", "cannot be a reading"),
        ("main_bearing_play", 10_000, "in", "cannot be a reading"),
    ],
)
def test_a_value_that_cannot_be(quantity: str, value: float, unit: str, what: str) -> None:
    between = {"winding_resistance": "U-V", "supply_voltage": "L1-L2"}.get(quantity)
    ((_, said, _),) = faults(with_reading(quantity=quantity, value=value, unit=unit, between=between))
    assert what in said


def test_capitals_that_count_are_asked_for() -> None:
    ((_, _, fix),) = faults(with_reading(quantity="heater_resistance", value=1, unit="MOHM"))
    assert fix == "did you mean Mohm or mohm? Capitals count here"


@pytest.mark.parametrize("gas", ["vacuum", "Vacuum"])
def test_insulation_under_vacuum_is_refused_with_the_reason(gas: str) -> None:
    raw = with_reading(quantity="insulation_resistance", between="all-frame", value=5, unit="Mohm", gas=gas)
    ((entry, what, fix),) = faults(raw)
    assert entry == "readings[1].gas"
    assert "damages the motor" in what
    assert "dry nitrogen" in fix


@pytest.mark.parametrize(
    ("motor", "quantity", "between", "words"),
    [
        ("star", "winding_resistance", "1U-1V", "on a star motor"),
        ("delta", "winding_resistance", "C-S", "on a delta motor"),
        ("single_phase", "winding_resistance", "U-V", "on a single-phase motor"),
        ("single_phase", "insulation_resistance", "U-frame", "on a single-phase motor"),
        ("star", "insulation_resistance", "1-frame", "on a star motor"),
        (None, "winding_resistance", "U-X", "no place to measure"),
        (None, "supply_voltage", "L1", "no place to measure"),
        (None, "running_current", "L4", "no place to measure"),
        (None, "sensor_resistance", "common", "no place to measure"),
        (None, "sensor_resistance", "common-0", "no place to measure"),
        (None, "rotor_air_gap", "middle", "no place to measure"),
        (None, "winding_resistance", None, "is missing"),
        (None, "sensor_resistance", None, "is missing"),
    ],
)
def test_a_place_that_is_not_there(motor: str | None, quantity: str, between: str | None, words: str) -> None:
    unit = {"rotor_air_gap": "mm", "supply_voltage": "V", "running_current": "A"}.get(quantity, "ohm")
    raw = with_reading(quantity=quantity, between=between, value=1, unit=unit)
    raw["unit"]["motor"] = motor
    ((entry, what, _),) = faults(raw)
    assert entry == "readings[1].between"
    assert words in what


@pytest.mark.parametrize(
    ("quantity", "unit", "absolute", "entry", "what"),
    [
        ("suction_pressure", "psig", True, "absolute", "is a gauge unit"),
        ("discharge_pressure", "barg", True, "absolute", "is a gauge unit"),
        ("suction_pressure", "psia", False, "absolute", "is an absolute unit"),
        ("net_oil_pressure", "psia", None, "unit", "neither gauge nor absolute"),
        ("net_oil_pressure", "psi", True, "unit", "neither gauge nor absolute"),
        ("evacuation_vacuum", "psig", None, "unit", "is a gauge unit"),
        ("evacuation_vacuum", "inHg", None, "unit", "is a gauge unit"),
        ("evacuation_vacuum", "Pa", False, "absolute", "always absolute"),
        ("vacuum_pull_down", "kPa", None, "value", "is no vacuum"),
    ],
)
def test_gauge_and_absolute_never_mix(quantity: str, unit: str, absolute: bool | None, entry: str, what: str) -> None:
    ((where, said, _),) = faults(with_reading(quantity=quantity, value=20, unit=unit, absolute=absolute))
    assert where == f"readings[1].{entry}"
    assert what in said


def test_inches_of_vacuum_carry_no_minus() -> None:
    ((entry, what, fix),) = faults(with_reading(quantity="vacuum_pull_down", value=-24, unit="inHg"))
    assert (entry, what) == ("readings[1].value", "inHg counts downward here")
    assert "write 24" in fix


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({}, {}),
        ({"site": False}, {}),
        ({"value": 0.5}, {"value": 0.4}),
    ],
)
def test_the_same_reading_twice(first: dict[str, object], second: dict[str, object]) -> None:
    one = {"quantity": "main_bearing_play", "value": 0.44, "unit": "mm"}
    ((entry, what, _),) = faults(good() | {"readings": [one | first, one | second]})
    assert entry == "readings[2]"
    assert "stands already in readings[1]" in what


def test_readings_turned_round_are_the_same_reading() -> None:
    one = {"quantity": "winding_resistance", "value": 1, "unit": "ohm", "between": "U-V"}
    found = faults(good() | {"readings": [one, one | {"between": "v - u"}]})
    assert [f[0] for f in found] == ["readings[2]"]


@pytest.mark.parametrize(
    "other", [{"site": True}, {"time": "2026-02-03T09:40:00"}, {"temperature": 20}, {"quantity": "rod_play"}]
)
def test_readings_of_another_moment_stand_side_by_side(other: dict[str, object]) -> None:
    one = {"quantity": "main_bearing_play", "value": 0.44, "unit": "mm"}
    assert len(accepted(good() | {"readings": [one, one | other]}).readings) == 2


def test_bolts_and_air_gaps_may_be_read_several_times() -> None:
    bolt = {"quantity": "head_bolt_torque", "value": 14, "unit": "N·m", "cylinder": 1}
    gap = {"quantity": "rotor_air_gap", "value": 0.4, "unit": "mm", "between": "top"}
    assert len(accepted(good() | {"readings": [bolt, bolt, gap, gap]}).readings) == 4


def test_times_with_and_without_offset_do_not_mix() -> None:
    one = {"quantity": "superheat", "value": 8, "unit": "K"}
    times = ["2026-02-03T09:40:00", "2026-02-03T09:40:00+13:00"]
    ((entry, what, _),) = faults(good() | {"readings": [one | {"time": t} for t in times]})
    assert entry == "readings"
    assert "offset from UTC" in what


OIL_LOW = {"part": "oil", "condition": "low", "extent": "heavy"}
REED = {"part": "suction_reed", "condition": "broken", "extent": "heavy"}


@pytest.mark.parametrize(
    ("entries", "entry", "what"),
    [
        ([{"part": "oil", "condition": "low"}], "observations[1].extent", "is missing"),
        ([OIL_LOW | {"extent": "bad"}], "observations[1].extent", "is not known here"),
        ([OIL_LOW | {"part": "main_bearings"}], "observations[1].part", "is not known here"),
        ([OIL_LOW | {"condition": "cracked"}], "observations[1].condition", '"cracked" is no condition of oil'),
        ([OIL_LOW, OIL_LOW | {"extent": "none"}], "observations[2]", "stands already in observations[1]"),
        ([REED | {"cylinder": 2}, REED | {"cylinder": [1, 2]}], "observations[2]", "on cylinder 2 stands already"),
        ([REED | {"cylinder": [3, 3]}], "observations[1]", "on cylinder 3 stands already"),
        ([REED | {"cylinder": 5}], "observations[1].cylinder", "cylinder 5 of a machine with 4"),
        ([REED | {"cylinder": 0}], "observations[1].cylinder", "0 cannot be"),
        ([REED | {"cylinder": "2"}], "observations[1].cylinder", "whole number"),
        ([{"part": "crank", "condition": "turns_freely", "extent": "none"}], "observations[1].extent", "says nothing"),
        ([{"part": "pumping", "condition": "pumps", "extent": "none"}], "observations[1].extent", "says nothing"),
        (
            [{"part": "crank", "condition": "turns_freely"}, {"part": "crank", "condition": "will_not_turn"}],
            "observations[2]",
            "contradicts observations[1]",
        ),
        ([OIL_LOW | {"photo": "../x.jpg"}], "observations[1].photo", "leads out"),
        ([OIL_LOW | {"photo": ["a.jpg", "/x.jpg"]}], "observations[1].photo", "not relative"),
        ([OIL_LOW | {"photo": "a\x00.jpg"}], "observations[1].photo", "invisible"),
    ],
)
def test_an_observation_out_of_order(entries: list[dict[str, object]], entry: str, what: str) -> None:
    ((where, said, _),) = faults(with_observations(*entries))
    assert where == entry
    assert what in said


def test_conditions_that_are_there_or_not_need_no_extent() -> None:
    record = accepted(
        with_observations({"part": "crank", "condition": "turns_freely"}, {"part": "oil", "condition": "missing"})
    )
    assert [o.extent for o in record.observations] == ["heavy", "heavy"]


def test_the_last_cylinder_is_one_of_them() -> None:
    assert accepted(with_observations(REED | {"cylinder": 4})).observations[0].cylinders == (4,)


def test_one_cylinder_each_is_no_doubling() -> None:
    record = accepted(with_observations(REED | {"cylinder": 1}, REED | {"cylinder": [2, 3], "extent": "none"}))
    assert [o.cylinders for o in record.observations] == [(1,), (2, 3)]


def test_a_link_that_leads_out_is_a_fault(tmp_path: Any) -> None:
    home, outside = tmp_path / "home", tmp_path / "outside"
    home.mkdir()
    outside.mkdir()
    (home / "photos").symlink_to(outside)
    (home / "round").symlink_to(home / "round")
    for photo in ("photos/a.jpg", "round/a.jpg", "../home/a.jpg"):
        ((_, what, _),) = faults(with_observations(OIL_LOW | {"photo": photo}), home)
        assert "leads out" in what


def test_messages_hold_nothing_that_a_terminal_acts_on() -> None:
    raw = good()
    raw["unit"]["\x1b[31mred\u202e"] = 1
    raw["unit"]["cooling"] = "\x1b[2J"
    result = read(raw)
    assert not isinstance(result, Record)
    assert all(str(f).isprintable() for f in result.faults)


def test_a_rejected_record_keeps_a_claim_that_may_stand() -> None:
    bad = read(good() | {"unit": {}})
    assert (bad.claim, bad.file) == ("NB-1", "r.toml")
    assert read(good() | {"claim": "../x"}).claim is None
