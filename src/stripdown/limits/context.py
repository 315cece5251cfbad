"""What a rule needs to know beside its reading: the record, the sheet, the readings of the same moment, the air
around."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property

from stripdown.bench.electrical import deviation_uncertainty, deviations, mean_of
from stripdown.bench.fluid import Fluid, UnsupportedRefrigerantError, fluid_of
from stripdown.bench.measurement import combined, rectangular
from stripdown.bench.refrigerant import atmosphere
from stripdown.limits.derived import limit_of
from stripdown.limits.model import Corrected
from stripdown.limits.sheet import Limit, Sheet
from stripdown.record.fault import Fault
from stripdown.record.model import Reading, Record, Unit

ONE_MOMENT = timedelta(minutes=10)
"""Readings further apart than this are not of one moment (estimate)."""

_UNKNOWN_ALTITUDE = 3.0
"""Half-width [kPa] of the air pressure where the altitude of the site is not stated: up to about 250 m (estimate)."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Readings against their own mean: values and mean in one unit, deviations and their uncertainties in %."""

    values: list[float]
    mean: float
    deviations: list[float]
    uncertainties: list[float]


@dataclass(frozen=True)
class Context:
    """One record on the bench. `unit` with the sheet's word where the record is silent; `notices` gathers what a
    person should know."""

    record: Record
    sheet: Sheet
    unit: Unit
    notices: list[Fault] = field(default_factory=list)

    @cached_property
    def moments(self) -> dict[str, tuple[object, ...]]:
        """Entry → its moment: same `site`, and no more than minutes apart where times are stated."""
        out: dict[str, tuple[object, ...]] = {}
        for site in (False, True):
            times = sorted({_plain(r.time) for r in self.record.readings if r.site is site and r.time is not None})
            starts: list[datetime] = []
            first: dict[datetime, datetime] = {}
            for time in times:
                if not starts or time - starts[-1] > ONE_MOMENT:
                    starts.append(time)
                first[time] = starts[-1]
            alone = starts[0] if len(starts) == 1 else None
            for r in self.record.readings:
                if r.site is site:
                    out[r.entry] = (site, alone if r.time is None else first[_plain(r.time)])
        return out

    @cached_property
    def _groups(self) -> dict[tuple[object, ...], list[Reading]]:
        out: dict[tuple[object, ...], list[Reading]] = {}
        for r in self.record.readings:
            out.setdefault((self.moments[r.entry], r.quantity), []).append(r)
        return out

    def together(self, reading: Reading, quantity: str) -> list[Reading]:
        """All readings of `quantity` at the moment of `reading`."""
        return self._groups.get((self.moments[reading.entry], quantity), [])

    def beside(self, reading: Reading, quantity: str) -> Reading | None:
        """The numeric reading of `quantity` at the same moment; of several the lowest, so that their order does not
        matter."""
        found = [r for r in self.together(reading, quantity) if r.base is not None]
        return min(found, key=lambda r: (r.base, r.entry)) if found else None

    def numbers(self, quantity: str) -> Iterator[Reading]:
        """All numeric readings of a quantity."""
        return (r for r in self.record.readings if r.quantity == quantity and r.base is not None)

    def parts(self, reading: Reading) -> tuple[float, float, float]:
        """Half-widths of a reading: gain (common to the meter), its own, and that of placing the probe; in its base
        unit."""
        assumed = self.sheet.instrument(reading.quantity)
        base = abs(_shown(reading))
        if reading.accuracy is not None:
            gain, own = reading.accuracy.relative, reading.accuracy.absolute
        else:
            gain, own = assumed.relative, assumed.absolute
        return base * gain, own, assumed.placing

    def own_part(self, reading: Reading) -> float:
        """Standard uncertainty of a reading that a gain error common to its moment does not explain: zero, scatter."""
        scatter = self.sheet.instrument(reading.quantity).scatter * abs(reading.base or 0.0)
        return float(combined(rectangular(self.parts(reading)[1]), rectangular(scatter)))

    def compared(self, peers: Sequence[Reading], factors: Sequence[float] | None = None) -> Comparison | None:
        """Readings held against their own mean, each times its factor; None where that mean is not above 0."""
        key = tuple(p.entry for p in peers)
        if key not in self._comparisons:
            scales = factors or [1.0] * len(peers)
            values = [float(p.base or 0.0) * f for p, f in zip(peers, scales, strict=True)]
            mean = mean_of(values)
            own = [self.own_part(p) * f for p, f in zip(peers, scales, strict=True)] if mean > 0 else []
            self._comparisons[key] = (
                Comparison(values, mean, deviations(values), deviation_uncertainty(values, own)) if mean > 0 else None
            )
        return self._comparisons[key]

    @cached_property
    def _comparisons(self) -> dict[tuple[str, ...], Comparison | None]:
        """Entries → their comparison, filled as it is asked for."""
        return {}

    def uncertainty(self, reading: Reading) -> float:
        """Standard uncertainty of a reading in its base unit."""
        known = self._uncertainties.get(reading.entry)
        if known is None:
            gain, own, placing = self.parts(reading)
            known = float(combined(rectangular(gain + own), rectangular(placing)))
            self._uncertainties[reading.entry] = known
        return known

    @cached_property
    def _uncertainties(self) -> dict[str, float]:
        """Entry → standard uncertainty, filled as it is asked for."""
        return {}

    def as_read(self, reading: Reading) -> Corrected:
        """A reading without correction."""
        return Corrected(float(reading.base or 0.0), reading.base_unit, self.uncertainty(reading))

    def accuracy_remark(self, *readings: Reading) -> str:
        """What was taken for the instruments whose accuracy is not stated."""
        silent = [r for r in readings if r.accuracy is None]
        if not silent:
            return ""
        texts = dict.fromkeys(self.sheet.instrument(r.quantity).text for r in silent)
        return f"Instrument accuracy not stated: {' and '.join(t for t in texts if t)} assumed." if any(texts) else ""

    def limit(self, rule: str, between: str | None = None) -> Limit | None:
        """The limit of this rule for this record, or None: the class figures end where their trade ends."""
        limit = limit_of(self.sheet, rule, between, self._oil)
        return None if limit is not None and limit.only is not None and self.beyond_class() else limit

    @cached_property
    def _oil(self) -> str | None:
        return oil_kind(self.unit.oil)

    def beyond_class(self) -> str:
        """Why class figures for single-stage halocarbon machines do not hold here; '' = they do."""
        if (self.sheet.machine.stages or 1) > 1:
            return "two-stage machine"
        try:
            fluid = self.fluid
        except UnsupportedRefrigerantError:
            return ""
        return "" if fluid is None or fluid.halocarbon else f"{fluid.name} is no halocarbon"

    @cached_property
    def fluid(self) -> Fluid | None:
        """The refrigerant's tables, None where the record names none; raises UnsupportedRefrigerantError."""
        return None if self.unit.refrigerant is None else fluid_of(self.unit.refrigerant)

    @cached_property
    def air(self) -> float:
        """Air pressure at the site [kPa]."""
        return float(atmosphere(self.record.history.altitude or 0.0))

    @property
    def air_uncertainty(self) -> float:
        """Standard uncertainty of `air` [kPa]."""
        return 0.0 if self.record.history.altitude is not None else float(rectangular(_UNKNOWN_ALTITUDE))

    def absolute(self, reading: Reading) -> tuple[float, float]:
        """Absolute pressure of a reading and its standard uncertainty [kPa]."""
        base, own = reading.base or 0.0, self.uncertainty(reading)
        if reading.absolute:
            return base, own
        return base + self.air, float(combined(own, self.air_uncertainty))

    def air_remark(self, *readings: Reading) -> str:
        """What was taken for the air pressure where gauge readings need it and the altitude is not stated."""
        if self.record.history.altitude is not None or all(r.absolute for r in readings):
            return ""
        return "Altitude of the site not stated: gauge pressures taken at sea level, wider uncertainty."

    def notice(self, entry: str, what: str, fix: str) -> None:
        """One thing a person should know; said once."""
        fault = Fault(self.record.file, entry, what, fix)
        if fault not in self.notices:
            self.notices.append(fault)


def _shown(reading: Reading) -> float:
    """What the instrument showed, in base units: a vacuum gauge counts down from the atmosphere."""
    base = reading.base or 0.0
    down = reading.quantity == "vacuum_pull_down" and not reading.absolute
    return float(atmosphere(0.0)) - base if down else base


def oil_kind(oil: str | None) -> str | None:
    """POE or mineral, from what is written on the can."""
    word = (oil or "").strip().casefold()
    if word.startswith(("poe", "ester", "polyol")):
        return "POE"
    return "mineral" if word.startswith(("mineral", "mo ", "mo-", "naphthenic")) or word == "mo" else None


def _plain(time: datetime | None) -> datetime:
    """A time that can be compared: in UTC where it has a zone, as it stands where it has none."""
    assert time is not None
    return time.astimezone(UTC).replace(tzinfo=None) if time.tzinfo else time
