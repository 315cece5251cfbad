"""Every kind of fault of a record and its head: found, at its entry, with what would be right."""

from typing import Any

import pytest

from stripdown.record import Record

from .made import accepted, faults, good, read


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
