"""A record written and read again is the same record, in JSON and in TOML."""

import json
import tomllib
from dataclasses import replace
from datetime import date
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from stripdown import vocabulary
from stripdown.record import Record, as_mapping, canonical, schema, toml_of, units, write_toml

from .made import CASES, EXAMPLE, accepted, good

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
IDS = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9 ./-]{0,20}", fullmatch=True)
NUMBERS = st.floats(0, 99, allow_nan=False) | st.integers(0, 99)
VALUE_IN = {"pressure": st.floats(0.01, 30), "temperature": st.floats(10, 300)}


def _up_to_the_bound(quantity: schema.Quantity, unit: str) -> st.SearchStrategy[float | int]:
    """Numbers that can be a reading of the quantity: 11 MPa is no oil pressure."""
    scale = units.lookup(unit, quantity.family)
    assert scale is not None
    most = min(99.0, quantity.high / scale.factor)
    return st.floats(0, most) | st.integers(0, int(most))


@st.composite
def readings(draw: st.DrawFn) -> dict[str, Any]:
    name = draw(st.sampled_from(sorted(schema.QUANTITIES)))
    quantity = schema.QUANTITIES[name]
    family = quantity.family
    out: dict[str, Any] = {"quantity": name, "unit": draw(st.sampled_from(units.names(family)))}
    out["value"] = draw(VALUE_IN["temperature"] if family == "temperature" else _up_to_the_bound(quantity, out["unit"]))
    if quantity.reference in ("vacuum", "absolute"):
        out |= {"unit": draw(st.sampled_from(["Pa", "mbar", "micron"])), "value": draw(st.floats(0, 900))}
    if quantity.reference == "vacuum" and draw(st.booleans()):
        out |= {"unit": "inHg", "value": draw(st.floats(0, 29))}
    if quantity.reference == "either":
        out["unit"] = draw(st.sampled_from(["psi", "psig", "psia", "bar", "kPa"]))
        if out["unit"] in ("psi", "bar", "kPa"):
            out["absolute"] = draw(st.booleans())
    if quantity.meter and draw(st.booleans()):
        out["value"] = draw(st.sampled_from(["open", "short"]))
    if quantity.between:
        places = [b for b in quantity.between if not quantity.at or b in schema.BY_MOTOR["star"]]
        out["between"] = draw(st.sampled_from(places))
    if quantity.numbered:
        out["between"] = "common-1"
    if draw(st.booleans()):
        percent, absolute = draw(st.decimals(0, 5, places=3)), draw(st.decimals(1, 5, places=4))
        out["accuracy"] = draw(st.sampled_from([f"{absolute}", f"{percent}% + {absolute}", f"{absolute}% of 37.5"]))
    if draw(st.booleans()):
        out |= {"temperature": draw(st.floats(0, 100)), "temperature_unit": draw(st.sampled_from(["degC", "degF"]))}
    out["site"] = draw(st.booleans())
    if draw(st.booleans()):
        out["time"] = draw(st.datetimes().filter(lambda t: 1900 <= t.year < 2200)).isoformat()
    return out


@st.composite
def observations(draw: st.DrawFn) -> dict[str, Any]:
    part = draw(st.sampled_from(sorted(set(vocabulary.parts()) - {"crank", "pumping"})))
    out: dict[str, Any] = {"part": part, "condition": draw(st.sampled_from(vocabulary.parts()[part]))}
    out["extent"] = draw(st.sampled_from(["none", "slight", "heavy", "unreadable"]))
    out |= draw(st.fixed_dictionaries({}, optional={"where": TEXT, "note": TEXT, "photo": st.just("a/b.jpg")}))
    return out | draw(st.fixed_dictionaries({}, optional={"cylinder": st.integers(1, 4) | st.just([1, 2])}))


@st.composite
def raws(draw: st.DrawFn) -> dict[str, Any]:
    raw = good()
    raw["unit"] |= draw(
        st.fixed_dictionaries(
            {"serial": IDS},
            optional={
                "run_hours": NUMBERS,
                "inverter": st.booleans(),
                "oil": IDS,
                "plate": st.fixed_dictionaries(
                    {}, optional={"voltage": st.floats(1, 690), "current": st.floats(1, 90)}
                ),
            },
        )
    )
    raw["history"] |= draw(
        st.fixed_dictionaries(
            {},
            optional={"reported": TEXT, "site": TEXT, "altitude": NUMBERS, "alarms": st.just({"oil": 3, "phase": 0})},
        )
    )
    raw["readings"] = draw(st.lists(readings(), max_size=6, unique_by=lambda r: r["quantity"]))
    raw["observations"] = draw(st.lists(observations(), max_size=6, unique_by=lambda o: (o["part"], o["condition"])))
    raw["statements"] = [{"by": "a", "text": draw(TEXT) + "x"}]
    raw["confirmed"] = [{"first": "floodback", "causes": draw(st.lists(st.sampled_from(["low_load", "age"])))}]
    return raw


def same(one: Record, other: Record) -> bool:
    """Equal but for the notices on what was taken out of the text the first time."""
    return replace(one, notices=()) == replace(other, notices=())


@given(raws())
@settings(max_examples=60, deadline=None)
def test_written_and_read_again_it_is_the_same(raw: dict[str, Any]) -> None:
    record = accepted(raw)
    assert same(record, accepted(as_mapping(record)))
    assert same(record, accepted(json.loads(json.dumps(as_mapping(record)))))
    assert same(record, accepted(tomllib.loads(write_toml(record))))


@pytest.mark.parametrize("path", sorted(CASES.glob("C*.toml")), ids=lambda p: p.stem)
def test_case_records_survive_the_round(path: Any) -> None:
    record = accepted(tomllib.loads(path.read_text(encoding="utf-8")))
    assert same(record, accepted(tomllib.loads(write_toml(record))))


def test_the_hash_is_of_the_content_alone() -> None:
    raw = tomllib.loads(EXAMPLE)
    digest = accepted(raw).digest
    other = dict(reversed(raw.items()))
    other["unit"] = dict(reversed(raw["unit"].items()))
    other["readings"] = [r | {"value": float(r["value"])} for r in raw["readings"]]
    assert accepted(other, "/elsewhere").digest == digest
    assert digest.startswith("sha256:")
    raw["readings"][0]["value"] = 0.87
    assert accepted(raw).digest != digest


def test_the_canonical_text_of_a_small_record() -> None:
    raw = {"format": 1, "claim": "A", "unit": {"serial": "S", "model": "M", "run_hours": 5}, "observations": []}
    assert canonical(accepted(raw)) == '{"claim":"A","format":1,"unit":{"model":"M","run_hours":5.0,"serial":"S"}}'


def test_a_date_that_is_none_is_written_as_text_so_that_the_file_can_be_read() -> None:
    content: dict[str, Any] = {"format": 1, "claim": "A", "unit": {"serial": "1", "model": "M", "built": "2026-02-30"}}
    assert tomllib.loads(toml_of(content)) == content
    content["unit"] = {"serial": "1", "model": "M", "built": "2026-02-28"}
    assert tomllib.loads(toml_of(content))["unit"]["built"] == date(2026, 2, 28)
