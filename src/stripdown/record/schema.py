"""What a record may hold, as data: the same tables check, word the message, name the columns and feed the tests."""

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from functools import cache
from math import inf
from typing import Literal

from stripdown import vocabulary

FORMAT = 1

Kind = Literal[
    "claim", "id", "text", "choice", "count", "number", "truth", "date", "moment", "path", "value", "table", "tables"
]


@dataclass(frozen=True, slots=True)
class Field:
    """One field: `id` is text all of whose characters can be seen, `text` is free, `value` a number, "open" or "short";
    `many` = one or a list; numbers lie within low..high in `unit`."""

    kind: Kind
    required: bool = False
    many: bool = False
    choices: Callable[[], Collection[str]] | None = None
    low: float = -inf
    high: float = inf
    unit: str = ""
    refused: tuple[tuple[str, str, str], ...] = ()
    """Words that deserve an answer of their own: (word, what is wrong, what would be right)."""


def _choice(*ids: str, refused: tuple[tuple[str, str, str], ...] = ()) -> Field:
    return Field("choice", choices=lambda: ids, refused=refused)


def _vocabulary(ids: Callable[[], Iterable[str]], *, required: bool = False, many: bool = False) -> Field:
    return Field("choice", choices=cache(lambda: dict.fromkeys(ids())), required=required, many=many)


@cache
def conditions() -> dict[str, tuple[str, ...]]:
    """Part → the conditions that may be recorded for it."""
    return vocabulary.parts()


@cache
def every_condition() -> tuple[str, ...]:
    """All conditions of all parts, each once."""
    return tuple(dict.fromkeys(c for own in conditions().values() for c in own))


CLAIM = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*", re.ASCII)
CLAIM_LENGTH = 100
RESERVED_CLAIMS = frozenset({"index", "ledger", "fleet", "index.html", "index.csv", "ledger.jsonl"})
"""Names that stand beside the claims' own folders in the output, case ignored."""

LONGEST_ID = 200
"""Characters of serials, models, units, file names and the like."""
LONGEST_TEXT = 20_000
"""Characters of free text."""
MOST_ENTRIES = 1_000
"""Entries of any list."""
FIRST_YEAR, LAST_YEAR = 1900, 2199

EXCLUSIVE = ("crank", "pumping")
"""Parts whose own two conditions state what is true: one of them, never `none`."""

_UNDER_VACUUM = (
    "vacuum",
    "insulation is never measured under vacuum: it damages the motor",
    "break the vacuum with dry nitrogen, then measure again",
)

_TEXT, _ID, _DATE, _TRUTH = Field("text"), Field("id"), Field("date"), Field("truth")
_COUNT = Field("count", low=0, high=1_000_000)
_HOURS = Field("number", low=0, high=1_000_000, unit="h")
_CYLINDER = Field("count", low=1, high=99)

SECTIONS: dict[str, dict[str, Field]] = {
    "": {
        "format": Field("count", required=True),
        "claim": Field("claim", required=True),
        "revision": _COUNT,
        "examined_by": _TEXT,
        "examined_on": _DATE,
        "instruments": Field("text", many=True),
        "unit": Field("table", required=True),
        "history": Field("table"),
        "readings": Field("tables"),
        "observations": Field("tables"),
        "statements": Field("tables"),
        "confirmed": Field("tables"),
    },
    "unit": {
        "serial": Field("id", required=True),
        "model": Field("id", required=True),
        "built": _DATE,
        "refrigerant": _ID,
        "oil": _ID,
        "run_hours": _HOURS,
        "cooling": _choice("refrigerant", "air"),
        "motor": _choice("star", "delta", "part_winding", "single_phase"),
        "oil_feed": _choice("pump", "splash"),
        "cylinders": _CYLINDER,
        "inverter": _TRUTH,
        "plate": Field("table"),
    },
    "unit.plate": {
        "voltage": Field("number", low=1, high=20_000, unit="V"),
        "frequency": Field("number", low=1, high=1_000, unit="Hz"),
        "current": Field("number", low=0.01, high=10_000, unit="A"),
    },
    "history": {
        "installed": _DATE,
        "failed": _DATE,
        "returned": _DATE,
        "site": _TEXT,
        "altitude": Field("number", low=-500, high=9_000, unit="m"),
        "warranty_until": _DATE,
        "contractor": _TEXT,
        "duty": _choice("low", "medium", "high"),
        "reported": _TEXT,
        "replaces": _ID,
        "failed_when": _choice("running", "start", "after_defrost", "standing"),
        "hours_off": _HOURS,
        "opened_before": _choice("never", "site", "workshop"),
        "earlier_burn": _TRUTH,
        "alarms": Field("table"),
        "log": Field("path"),
    },
    "history.alarms": dict.fromkeys(("oil", "motor_heat", "discharge_heat", "phase", "locked_rotor"), _COUNT),
    "readings": {
        "quantity": Field("choice", choices=lambda: QUANTITIES, required=True),
        "between": _ID,
        "at": _choice("terminals", "leads"),
        "value": Field("value", required=True),
        "unit": Field("id", required=True),
        "temperature": Field("number"),
        "temperature_unit": _ID,
        "accuracy": _ID,
        "cylinder": _CYLINDER,
        "test_voltage": Field("number", low=1, high=20_000, unit="V"),
        "absolute": _TRUTH,
        "site": _TRUTH,
        "time": Field("moment"),
        "gas": _choice("air", "nitrogen", "refrigerant", refused=(_UNDER_VACUUM,)),
    },
    "observations": {
        "part": _vocabulary(conditions, required=True),
        "condition": Field("id", required=True),
        "extent": _choice("none", "slight", "heavy", "unreadable"),
        "cylinder": Field("count", many=True, low=1, high=99),
        "where": _TEXT,
        "photo": Field("path", many=True),
        "note": _TEXT,
    },
    "statements": {"by": _TEXT, "text": Field("text", required=True)},
    "confirmed": {
        "by": _TEXT,
        "first": _vocabulary(vocabulary.mechanisms),
        "causes": _vocabulary(vocabulary.causes, many=True),
        "outcome": _vocabulary(vocabulary.outcomes),
        "liability": _vocabulary(vocabulary.liabilities),
    },
}
"""Section → its fields; `[[…]]` lists and nested tables have a section of their own."""


REQUIRED = {section: tuple(k for k, f in fields.items() if f.required) for section, fields in SECTIONS.items()}
"""Section → the fields it cannot do without."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """What may be said of one measured quantity.

    `low`..`high` bound the value in the family's base unit: beyond them it is a slip of the pen, no measurement.
    `reference`: what a pressure counts from, "either" = gauge unless `absolute = true`.
    """

    family: str
    low: float = 0.0
    high: float = inf
    between: tuple[str, ...] = ()
    numbered: tuple[str, ...] = ()
    """Beginnings of `between` that a number follows, as common-1."""
    at: bool = False
    cylinder: bool = False
    meter: bool = False
    """Whether "open" and "short" are readings of it."""
    insulation: bool = False
    reference: Literal["either", "difference", "vacuum", "absolute"] | None = None
    repeats: bool = False
    """Whether several readings of the same place are usual: bolt by bolt, again after half a turn of the shaft."""


STAR_PAIRS = ("U-V", "V-W", "W-U")
HALF_PAIRS = ("1U-1V", "1V-1W", "1W-1U", "2U-2V", "2V-2W", "2W-2U")
SINGLE_PAIRS = ("S-R", "C-S", "C-R")
PHASE_FRAMES = ("U-frame", "V-frame", "W-frame")
HALF_FRAMES = ("1-frame", "2-frame")
LINES = ("L1", "L2", "L3")
LINE_PAIRS = ("L1-L2", "L2-L3", "L3-L1")

BY_MOTOR: dict[str, tuple[str, ...]] = {
    "star": (*STAR_PAIRS, *PHASE_FRAMES, "all-frame"),
    "delta": (*STAR_PAIRS, *PHASE_FRAMES, "all-frame"),
    "part_winding": (*HALF_PAIRS, *STAR_PAIRS, *PHASE_FRAMES, *HALF_FRAMES, "all-frame"),
    "single_phase": (*SINGLE_PAIRS, "all-frame"),
}
"""Motor → the places between which its winding and insulation can be measured."""

_RESISTANCE_HIGH = 1e15
_PRESSURE = Quantity("pressure", low=-101.325, high=1e5, reference="either")
_TEMPERATURE = Quantity("temperature", low=-150, high=1_000)
_TORQUE = Quantity("torque", high=10_000, cylinder=True, repeats=True)
_PLAY = Quantity("length", high=100)

QUANTITIES: dict[str, Quantity] = {
    "winding_resistance": Quantity(
        "resistance", high=_RESISTANCE_HIGH, between=(*STAR_PAIRS, *HALF_PAIRS, *SINGLE_PAIRS), at=True, meter=True
    ),
    "insulation_resistance": Quantity(
        "resistance",
        high=_RESISTANCE_HIGH,
        between=(*PHASE_FRAMES, "all-frame", *HALF_FRAMES),
        at=True,
        meter=True,
        insulation=True,
    ),
    "supply_voltage": Quantity("voltage", high=20_000, between=LINE_PAIRS),
    "running_current": Quantity("current", high=10_000, between=LINES),
    "sensor_resistance": Quantity("resistance", high=_RESISTANCE_HIGH, numbered=("common", "discharge"), meter=True),
    "oil_pump_pressure": _PRESSURE,
    "crankcase_pressure": _PRESSURE,
    "suction_pressure": _PRESSURE,
    "discharge_pressure": _PRESSURE,
    "suction_gas_temperature": _TEMPERATURE,
    "discharge_line_temperature": _TEMPERATURE,
    "oil_sump_temperature": _TEMPERATURE,
    "ambient_temperature": _TEMPERATURE,
    "evaporator_outlet_temperature": _TEMPERATURE,
    "oil_acid_number": Quantity("acid number", high=1_000),
    "oil_moisture": Quantity("moisture", high=1e6),
    "terminal_nut_torque": _TORQUE,
    "head_bolt_torque": _TORQUE,
    "backer_bolt_torque": _TORQUE,
    "main_bearing_play": _PLAY,
    "centre_bearing_play": _PLAY,
    "pump_end_bearing_play": _PLAY,
    "rod_play": Quantity("length", high=100, cylinder=True),
    "wrist_pin_drop": Quantity("length", high=100, cylinder=True),
    "crankshaft_end_float": _PLAY,
    "vacuum_pull_down": Quantity("pressure", high=101.325, reference="vacuum"),
    "leak_back_rate": Quantity("pressure rise", low=-100, high=10_000),
    "superheat": Quantity("temperature difference", low=-200, high=500),
    "subcooling": Quantity("temperature difference", low=-200, high=500),
    "net_oil_pressure": Quantity("pressure", low=-10_000, high=10_000, reference="difference"),
    "heater_resistance": Quantity("resistance", high=_RESISTANCE_HIGH, meter=True),
    "contact_voltage_drop": Quantity("voltage", high=1_000, between=LINES),
    "rotor_air_gap": Quantity("length", high=100, between=("top", "bottom", "left", "right"), repeats=True),
    "oil_drained": Quantity("volume", high=1_000),
    "evacuation_vacuum": Quantity("pressure", high=200, reference="absolute"),
    "starts_per_hour": Quantity("frequency of starts", high=3_600),
}

TABLE_COLUMNS: dict[str, dict[str, tuple[str, ...]]] = {
    "returns": {
        **{k: (k,) for k, f in SECTIONS[""].items() if f.kind not in ("table", "tables")},
        **{k: ("unit", k) for k, f in SECTIONS["unit"].items() if f.kind != "table"},
        **{f"plate_{k}": ("unit", "plate", k) for k in SECTIONS["unit.plate"]},
        **{k: ("history", k) for k, f in SECTIONS["history"].items() if f.kind != "table"},
        **{f"alarms_{k}": ("history", "alarms", k) for k in SECTIONS["history.alarms"]},
    },
    **{
        sheet: {"claim": ("claim",), **{k: (k,) for k in SECTIONS[sheet]}}
        for sheet in ("readings", "observations", "confirmed", "statements")
    },
}
"""Sheet → column → where it stands in the record."""

POPULATION = ("serial", "model", "site", "contractor", "built", "installed", "removed", "replaces", "month")
"""Columns of the sheet `units`: no record, but its own names stand in the same columns file."""
