"""Records made for these tests, and short ways to their verdicts."""

from collections.abc import Sequence
from typing import Any

from stripdown.limits import Clash, Judged, Sheets, judge_readings, load_sheets
from stripdown.record import Fault, Record, parse

SHEETS = load_sheets()
NO_MODEL = "no sheet for this"


def record(
    *readings: dict[str, Any],
    history: dict[str, Any] | None = None,
    seen: Sequence[str] = (),
    observations: Sequence[dict[str, Any]] = (),
    **unit: Any,
) -> Record:
    """A record with these readings, and observations written 'part.condition extent' or as a file holds them; the
    model has no sheet unless said."""
    raw = {
        "format": 1,
        "claim": "T-1",
        "unit": {"serial": "1", "model": NO_MODEL} | unit,
        "history": history or {},
        "readings": list(readings),
        "observations": [*(observation(s) for s in seen), *observations],
    }
    made = parse(raw, file="t.json", folder=".")
    assert isinstance(made, Record), made
    return made


def observation(text: str) -> dict[str, Any]:
    finding, extent = text.split()
    part, condition = finding.split(".")
    return {"part": part, "condition": condition, "extent": extent}


def clashes(*readings: dict[str, Any], **more: Any) -> list[Clash]:
    """What cannot all be true of a record made of these."""
    return list(judge_readings(record(*readings, **more), SHEETS)[2])


def hard(*readings: dict[str, Any], **more: Any) -> list[str]:
    """The rules that make a conflict of it."""
    return [c.rule for c in clashes(*readings, **more) if c.rate is not None]


def soft(*readings: dict[str, Any], **more: Any) -> list[str]:
    """The rules that are told and no more."""
    return [c.rule for c in clashes(*readings, **more) if c.rate is None]


def judged(*readings: dict[str, Any], sheets: Sheets = SHEETS, **unit: Any) -> list[Judged]:
    """All verdicts of these readings."""
    return list(judge_readings(record(*readings, **unit), sheets)[0])


def by_rule(rule: str, *readings: dict[str, Any], **unit: Any) -> list[Judged]:
    """The verdicts of one rule."""
    return [j for j in judged(*readings, **unit) if j.rule == rule]


def one(rule: str, *readings: dict[str, Any], **unit: Any) -> Judged:
    """The only verdict of one rule."""
    (found,) = by_rule(rule, *readings, **unit)
    return found


def notices(*readings: dict[str, Any], **unit: Any) -> list[Fault]:
    """What a person should know."""
    return list(judge_readings(record(*readings, **unit), SHEETS)[1])


def reading(quantity: str, value: object, unit: str, **more: Any) -> dict[str, Any]:
    """One reading as a file holds it."""
    return {"quantity": quantity, "value": value, "unit": unit} | more


def winding(between: str, value: object, **more: Any) -> dict[str, Any]:
    return reading("winding_resistance", value, "ohm", between=between, at="terminals") | more


def insulation(value: object, between: str = "all-frame", **more: Any) -> dict[str, Any]:
    return reading("insulation_resistance", value, "Mohm", between=between, at="terminals", test_voltage=500) | more
