"""A `Record` back into its JSON and TOML form, and the hash of what it says."""

import hashlib
import json
from collections.abc import Mapping
from contextlib import suppress
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from stripdown.record import schema, units
from stripdown.record.model import Accuracy, Observation, Reading, Record, stated


def as_mapping(record: Record) -> dict[str, Any]:
    """The record as its JSON form: dates as ISO text, only what is stated; it reads back to an equal record."""
    out: dict[str, Any] = {"format": schema.FORMAT, "claim": record.claim}
    for name in ("revision", "examined_by", "examined_on"):
        if (value := getattr(record, name)) is not None:
            out[name] = value.isoformat() if isinstance(value, date) else value
    if record.instruments:
        out["instruments"] = list(record.instruments)
    out["unit"] = stated(record.unit)
    if history := stated(record.history):
        out["history"] = history
    lists: dict[str, list[dict[str, Any]]] = {
        "readings": [_reading(r) for r in record.readings],
        "observations": [_observation(o) for o in record.observations],
        "statements": [stated(s) for s in record.statements],
        "confirmed": [stated(c) | ({"causes": list(c.causes)} if c.causes else {}) for c in record.confirmed],
    }
    return out | {name: entries for name, entries in lists.items() if entries}


def canonical(record: Record) -> str:
    """The content as JSON with sorted keys and no blanks: one text for one content, whatever form it came in."""
    return json.dumps(as_mapping(record), ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest(record: Record) -> str:
    """`sha256:…` of the canonical JSON."""
    return "sha256:" + hashlib.sha256(canonical(record).encode()).hexdigest()


def write_toml(record: Record) -> str:
    """The record in its hand-written form."""
    return toml_of(as_mapping(record))


def toml_of(content: Mapping[str, Any]) -> str:
    """The JSON form in the hand-written form. Its fields may have faults, but they are those of the form, and no list
    is empty."""
    blocks = ["".join(_line(k, v, "", k) for k, v in content.items() if not _is_table(v))]
    for name, value in content.items():
        if isinstance(value, dict):
            blocks.append(f"[{name}]\n" + _lines(name, value))
        elif _is_table(value):
            blocks.extend(f"[[{name}]]\n" + _lines(name, entry) for entry in value)
    return "\n".join(blocks)


def _is_table(value: object) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and isinstance(value[0], dict))


def _lines(section: str, table: Mapping[str, Any]) -> str:
    return "".join(_line(k, v, section, k) for k, v in table.items())


def _line(key: str, value: object, section: str, name: str) -> str:
    field = schema.SECTIONS[section][name]
    bare = field.kind in ("date", "moment") and _is_iso(value)  # TOML has dates of its own
    return f"{key} = {value if bare else _toml(value)}\n"


def _is_iso(value: object) -> bool:
    """Whether a text is a date or moment as TOML writes it."""
    if isinstance(value, str):
        for kind in (date, datetime):
            with suppress(ValueError):
                return kind.fromisoformat(value).isoformat() == value
    return False


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False)  # text, numbers and truth are written alike in both


def _reading(reading: Reading) -> dict[str, Any]:
    out = {
        k: v
        for k, v in stated(reading).items()
        if k not in ("entry", "base", "base_unit", "accuracy", "absolute", "site")
    }
    if isinstance(reading.time, datetime):
        out["time"] = reading.time.isoformat()
    if reading.accuracy is not None:
        out["accuracy"] = _accuracy(reading.accuracy, reading)
    if reading.site:
        out["site"] = True
    if reading.absolute:
        out["absolute"] = True
    return out


def _accuracy(accuracy: Accuracy, reading: Reading) -> str:
    """The text that reads back to the same `Accuracy`: nine digits, as were read."""
    scale = units.lookup(reading.unit, schema.QUANTITIES[reading.quantity].family)
    assert scale is not None, reading.unit
    terms = []
    if accuracy.relative:
        terms.append(f"{_plain(accuracy.relative * 100)}%")
    if accuracy.absolute:
        terms.append(_plain(accuracy.absolute / scale.factor))
    return " + ".join(terms)


def _plain(number: float) -> str:
    """Nine significant digits without an exponent."""
    return format(Decimal(f"{number:.9g}"), "f")


def _observation(observation: Observation) -> dict[str, Any]:
    out: dict[str, Any] = {"part": observation.part, "condition": observation.condition, "extent": observation.extent}
    if observation.cylinders:
        out["cylinder"] = list(observation.cylinders)
    if observation.where is not None:
        out["where"] = observation.where
    if observation.photos:
        out["photo"] = list(observation.photos)
    if observation.note is not None:
        out["note"] = observation.note
    return out
