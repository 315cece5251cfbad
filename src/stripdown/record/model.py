"""The teardown record as every later room sees it: frozen, checked, in base units."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from stripdown.record.fault import Fault

Extent = Literal["none", "slight", "heavy", "unreadable"]
Meter = Literal["open", "short"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """Rated values: voltage [V], frequency [Hz], current [A]."""

    voltage: float | None = None
    frequency: float | None = None
    current: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """The compressor; None = the record is silent. run_hours [h]."""

    serial: str
    model: str
    built: date | None = None
    refrigerant: str | None = None
    oil: str | None = None
    run_hours: float | None = None
    cooling: Literal["refrigerant", "air"] | None = None
    motor: Literal["star", "delta", "part_winding", "single_phase"] | None = None
    oil_feed: Literal["pump", "splash"] | None = None
    cylinders: int | None = None
    inverter: bool | None = None
    plate: Plate = field(default_factory=Plate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarms:
    """Counts from the protection's memory; None = not read."""

    oil: int | None = None
    motor_heat: int | None = None
    discharge_heat: int | None = None
    phase: int | None = None
    locked_rotor: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Where it stood and what is known of its life; altitude [m], hours_off [h]."""

    installed: date | None = None
    failed: date | None = None
    returned: date | None = None
    site: str | None = None
    altitude: float | None = None
    warranty_until: date | None = None
    contractor: str | None = None
    duty: Literal["low", "medium", "high"] | None = None
    reported: str | None = None
    replaces: str | None = None
    failed_when: Literal["running", "start", "after_defrost", "standing"] | None = None
    hours_off: float | None = None
    opened_before: Literal["never", "site", "workshop"] | None = None
    earlier_burn: bool | None = None
    alarms: Alarms = field(default_factory=Alarms)
    log: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Half-width of an instrument's stated accuracy, taken as rectangular.

    relative [1], a share of the reading; absolute, in `base_unit` of its reading (a temperature's in K).
    """

    relative: float = 0.0
    absolute: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One measurement. `value` and `unit` as written; `base` the same in `base_unit`, None for "open" and "short".

    Base units: ohm (insulation too), V, A, kPa, degC, K (differences), mg KOH/g, ppm, N·m, mm, kPa/min, l, 1/h.
    Pressures stay gauge or absolute as `absolute` says; in `base` the two vacuums are always absolute.
    """

    entry: str
    quantity: str
    value: float | Meter
    unit: str
    base: float | None
    base_unit: str
    between: str | None = None
    at: Literal["terminals", "leads"] | None = None
    cylinder: int | None = None
    temperature: float | None = None
    accuracy: Accuracy | None = None
    test_voltage: float | None = None
    absolute: bool = False
    site: bool = False
    time: datetime | None = None
    gas: Literal["air", "nitrogen", "refrigerant"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One part looked at for one condition. `cylinders` numbered from the pump end, empty = not said."""

    entry: str
    part: str
    condition: str
    extent: Extent
    cylinders: tuple[int, ...] = ()
    where: str | None = None
    photos: tuple[str, ...] = ()
    note: str | None = None

    @property
    def finding(self) -> str:
        """`part.condition`, the id that the knowledge uses."""
        return f"{self.part}.{self.condition}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What a party says, shown as it came."""

    by: str | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmed:
    """What a person concluded; `judge` never reads it."""

    by: str | None = None
    first: str | None = None
    causes: tuple[str, ...] = ()
    outcome: str | None = None
    liability: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One returned compressor. `file` as the user named it; `folder` where photos and the site log are looked for."""

    claim: str
    file: str
    folder: str
    unit: Unit
    history: History = field(default_factory=History)
    readings: tuple[Reading, ...] = ()
    observations: tuple[Observation, ...] = ()
    statements: tuple[Statement, ...] = ()
    confirmed: tuple[Confirmed, ...] = ()
    revision: int | None = None
    examined_by: str | None = None
    examined_on: date | None = None
    instruments: tuple[str, ...] = ()
    notices: tuple[Fault, ...] = ()
    digest: str = ""
    """sha256 of the record's content in canonical JSON, independent of the form and place it came from."""

    def unit_json(self) -> dict[str, object]:
        """All fields of `unit` that the record states, as in the JSON form."""
        return stated(self.unit)

    def history_json(self) -> dict[str, object]:
        """All fields of `history` that the record states, the free text `reported` aside."""
        return {k: v for k, v in stated(self.history).items() if k != "reported"}


def stated(thing: object) -> dict[str, object]:
    """The fields of a dataclass that say something, dates as ISO text, nested ones as dicts."""
    out: dict[str, object] = {}
    for name in thing.__dataclass_fields__:  # type: ignore[attr-defined]  # every caller passes a dataclass
        value = getattr(thing, name)
        if value is None or (isinstance(value, tuple) and not value):
            continue
        if hasattr(value, "__dataclass_fields__"):
            value = stated(value)
            if not value:
                continue
        elif isinstance(value, date):
            value = value.isoformat()
        out[name] = value
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A record that could not be read: every fault that stands in the way."""

    claim: str | None
    file: str
    faults: tuple[Fault, ...]

    def as_json(self) -> Mapping[str, object]:
        """The line that `judge --json` gives for it."""
        return {
            "claim": self.claim,
            "file": self.file,
            "status": "rejected",
            "faults": [f.as_json() for f in self.faults],
        }
