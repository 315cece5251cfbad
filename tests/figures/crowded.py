"""A record with more in it than any bench writes down: every part looked at, the windings read at both places."""

from functools import cache
from itertools import cycle
from typing import Any

from stripdown import vocabulary
from stripdown.case import Case, judge
from stripdown.record import Record, parse

_WINDINGS = {"U-V": 0.86, "V-W": 0.5, "W-U": 0.87}
_TO_FRAME = {"U-frame": 620, "V-frame": 0.3, "W-frame": 3000, "all-frame": 0.2}
_OF_THE_SITE = {
    ("oil_pump_pressure", "bar"): 3.1,
    ("crankcase_pressure", "bar"): 2.4,
    ("suction_pressure", "bar"): 2.0,
    ("discharge_pressure", "bar"): 21.0,
    ("suction_gas_temperature", "degC"): -10,
    ("discharge_line_temperature", "degC"): 131,
    ("oil_sump_temperature", "degC"): 20,
    ("starts_per_hour", "1/h"): 19,
}


@cache
def crowded() -> Case:
    """Over 60 findings are weighed; the values are invented and belong to no machine."""
    raw = {
        "format": 1,
        "claim": "W" * 100,
        "unit": {"serial": "W" * 60, "model": "K4-150", "refrigerant": "R449A", "oil": "POE 32", "run_hours": 21400},
        "history": {"failed_when": "start", "hours_off": 9, "alarms": {"oil": 3, "motor_heat": 2, "phase": 4}},
        "observations": _observations(),
        "readings": _readings(),
    }
    record = parse(raw, file="crowded.toml", folder=".")
    assert isinstance(record, Record), record
    return judge(record)


def _observations() -> list[dict[str, Any]]:
    """Two conditions of each part; `crank` and `pumping` state what is true and would clash."""
    extents = cycle(("heavy", "heavy", "slight", "unreadable", "heavy", "none"))
    return [
        {"part": part, "condition": condition, "extent": next(extents)}
        for part, conditions in vocabulary.parts().items()
        if part not in ("crank", "pumping")
        for condition in conditions[:2]
    ]


def _readings() -> list[dict[str, Any]]:
    def reading(quantity: str, value: float | str, unit: str, **more: Any) -> dict[str, Any]:
        return {"quantity": quantity, "value": value, "unit": unit} | more

    return [
        *(reading("winding_resistance", v, "ohm", between=b, at="terminals") for b, v in _WINDINGS.items()),
        *(reading("winding_resistance", "open", "ohm", between=b, at="leads") for b in _WINDINGS),
        *(reading("insulation_resistance", v, "Mohm", between=b, at="terminals") for b, v in _TO_FRAME.items()),
        *(reading("insulation_resistance", "short", "Mohm", between=b, at="leads") for b in _TO_FRAME),
        *(reading(quantity, value, unit, site=True) for (quantity, unit), value in _OF_THE_SITE.items()),
        *(reading("rod_play", 300, "um", cylinder=c) for c in (1, 2, 3, 4)),
        reading("head_bolt_torque", 20, "Nm", cylinder=1),
        reading("oil_moisture", 180, "ppm"),
    ]
