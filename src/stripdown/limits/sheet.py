"""A model's limits and what its sheet says of the machine; where it is silent, the limits of the class."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from stripdown.limits.model import Tier
from stripdown.record.model import Plate, Record, Unit

CLASS_WIDENING = 1.5
"""A limit of the class, not of the model, makes every standard uncertainty this much wider (estimate)."""

RULES: Mapping[str, tuple[str, str | None]] = MappingProxyType(
    {
        "winding_balance": ("%", None),
        "winding_value": ("ohm", "resistance"),
        "insulation_minimum": ("Mohm", "resistance"),
        "supply_unbalance": ("%", None),
        "supply_voltage": ("%", None),
        "current_unbalance": ("%", None),
        "running_current": ("A", "current"),
        "sensor_value": ("ohm", "resistance"),
        "sensor_equality": ("%", None),
        "heater_resistance": ("ohm", "resistance"),
        "contact_drop": ("V", "voltage"),
        "net_oil_pressure": ("kPa", "pressure"),
        "oil_charge": ("%", None),
        "oil_acid": ("mg KOH/g", "acid number"),
        "oil_moisture": ("ppm", "moisture"),
        "suction_superheat": ("K", "temperature difference"),
        "evaporator_superheat": ("K", "temperature difference"),
        "subcooling": ("K", "temperature difference"),
        "compression_ratio": ("1", None),
        "envelope_evaporating": ("degC", "temperature"),
        "envelope_condensing": ("degC", "temperature"),
        "return_gas": ("degC", "temperature"),
        "discharge_temperature": ("degC", "temperature"),
        "discharge_against_expected": ("K", "temperature difference"),
        "sump_margin": ("K", "temperature difference"),
        "sump_temperature": ("degC", "temperature"),
        "main_bearing_play": ("mm", "length"),
        "centre_bearing_play": ("mm", "length"),
        "pump_end_bearing_play": ("mm", "length"),
        "rod_play": ("mm", "length"),
        "wrist_pin_drop": ("mm", "length"),
        "crankshaft_end_float": ("mm", "length"),
        "air_gap": ("1", None),
        "terminal_nut_torque": ("N·m", "torque"),
        "head_bolt_torque": ("N·m", "torque"),
        "backer_bolt_torque": ("N·m", "torque"),
        "pull_down": ("kPa", "pressure"),
        "leak_back": ("kPa/min", "pressure rise"),
        "evacuation": ("kPa", "pressure"),
        "starts_per_hour": ("1/h", "frequency of starts"),
    }
)
"""Rule id → unit in which it judges, and the family of units its limits may be written in (None: only that unit)."""


@dataclass(frozen=True, kw_only=True)
class Limit:
    """One rule's limits, in the unit of the rule. `doubtful`: from the limit on to here the verdict is open, whatever
    the meter."""

    rule: str
    tiers: tuple[Tier, ...]
    source: str
    is_class: bool = False
    doubtful: tuple[float | None, float | None] = (None, None)
    nominal: float | None = None
    between: tuple[str, ...] = ()
    oil: str | None = None
    only: Literal["halocarbon"] | None = None

    @cached_property
    def limits(self) -> tuple[float | None, float | None]:
        """Low and high of the tier `limit`, (None, None) where there is none."""
        return next(((t.low, t.high) for t in self.tiers if t.name == "limit"), (None, None))

    @cached_property
    def has_limit(self) -> bool:
        """Whether there is a tier `limit`, on which a verdict can stand."""
        return any(t.name == "limit" for t in self.tiers)

    @cached_property
    def edges(self) -> tuple[float, ...]:
        """Every number at which a tier begins."""
        return tuple(edge for t in self.tiers for edge in (t.low, t.high) if edge is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """What is taken for an instrument whose accuracy the record does not state. Half-widths, in the base unit of the
    quantity.

    relative [1] and absolute make up the accuracy; placing is added whatever the instrument (how the probe sits);
    scatter [1] is each reading's own even where the gain is common (a supply moves between three readings).
    """

    relative: float = 0.0
    absolute: float = 0.0
    placing: float = 0.0
    scatter: float = 0.0
    text: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What a sheet says of the machine; None = silent. oil_charge [l], fresh_acid [mg KOH/g], journals [mm]."""

    cooling: Literal["refrigerant", "air"] | None = None
    motor: Literal["star", "delta", "part_winding", "single_phase"] | None = None
    oil_feed: Literal["pump", "splash"] | None = None
    cylinders: int | None = None
    stages: int | None = None
    oil: str | None = None
    oil_charge: float | None = None
    fresh_acid: float | None = None
    plate: Plate = field(default_factory=Plate)
    heater: tuple[float, float] | None = None
    """Volts and watts of the crankcase heater."""
    journals: Mapping[str, float] = field(default_factory=dict)
    bearing_metal: Literal["shells", "aluminium"] = "shells"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFile:
    """One sheet as its file gives it; model None = a class sheet."""

    model: str | None
    source: str
    issue: str
    machine: Machine = field(default_factory=Machine)
    limits: Mapping[str, tuple[Limit, ...]] = field(default_factory=dict)
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    path: Path | None = None


@dataclass(frozen=True)
class Sheet:
    """What holds for one model: its own sheet first, then those of the class. `known` False = class limits only."""

    model: str
    own: SheetFile | None
    class_files: tuple[SheetFile, ...]

    @property
    def known(self) -> bool:
        """Whether the model has a sheet of its own."""
        return self.own is not None

    @property
    def name(self) -> str:
        """What a page calls this sheet."""
        return f"limit sheet {self.own.model}, issue {self.own.issue}" if self.own else "class limits"

    @property
    def machine(self) -> Machine:
        """What the model's own sheet says of the machine; a class says nothing of it."""
        return self.own.machine if self.own else _SILENT

    def files(self) -> tuple[SheetFile, ...]:
        """The files asked in turn."""
        return (self.own, *self.class_files) if self.own else self.class_files

    def limit(self, rule: str, between: str | None = None, oil: str | None = None) -> Limit | None:
        """The first limit for this rule that fits where it was measured and the kind of oil."""
        for file in self.files():
            for limit in file.limits.get(rule, ()):
                if (not limit.between or between in limit.between) and limit.oil in (None, oil):
                    return limit
        return None

    @cached_property
    def _instruments(self) -> dict[str, Instrument]:
        return {q: i for file in reversed(self.files()) for q, i in file.instruments.items()}

    def instrument(self, quantity: str) -> Instrument:
        """What is taken for the instrument where the record does not say."""
        return self._instruments.get(quantity, _EXACT)


@dataclass(frozen=True, slots=True)
class Sheets:
    """All limit sheets: by model, and those of the class, each asked in turn."""

    models: Mapping[str, SheetFile]
    class_files: tuple[SheetFile, ...]
    _made: dict[str, Sheet] = field(default_factory=dict, compare=False, repr=False)

    def for_model(self, model: str) -> Sheet:
        """The sheet of this model (spelling of case and blanks aside), or the class alone."""
        key = key_of(model)
        if key not in self.models:
            return Sheet(model, None, self.class_files)
        return self._made.setdefault(key, Sheet(model, self.models[key], self.class_files))


def key_of(model: str) -> str:
    """How models are compared: without blanks and case."""
    return "".join(model.split()).casefold()


def effective_unit(record: Record, sheets: Sheets) -> Unit:
    """The record's unit, with cooling, motor, oil feed, cylinders, oil and plate from the sheet where the record is
    silent."""
    unit, machine = record.unit, sheets.for_model(record.unit.model).machine
    plate = Plate(
        **{
            k: getattr(machine.plate, k) if (v := getattr(unit.plate, k)) is None else v
            for k in Plate.__dataclass_fields__
        }
    )
    fills = {k: getattr(machine, k) for k in (*FROM_SHEET, "oil") if getattr(unit, k) is None}
    return replace(unit, plate=plate, **fills)


FROM_SHEET = ("cooling", "motor", "oil_feed", "cylinders")
"""Fields of the unit that the sheet fills, and where a disagreement is worth a notice."""

_SILENT = Machine()
_EXACT = Instrument()
