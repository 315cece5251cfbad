"""What a rule about several entries takes in, and what it finds."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from stripdown.bench.measurement import combined
from stripdown.limits.context import Context
from stripdown.limits.model import Judged
from stripdown.record.fault import Fault
from stripdown.record.model import Observation, Reading

COVERAGE = 3.0
"""Standard uncertainties that a clash must go beyond: what chance makes once in some hundred is no clash."""

SENSORS = 3
"""Motor sensors of the usual chain, one a phase."""


@dataclass(frozen=True, slots=True)
class Found:
    """Entries that cannot all be true, as the record says them, and what is wrong with figures.

    hard: no common way of measuring explains it; otherwise it is only worth telling.
    """

    entries: tuple[str, ...]
    labels: tuple[str, ...]
    what: str
    hard: bool = True


@dataclass(frozen=True, slots=True)
class Clash:
    """Entries of one record that cannot all be true. `rate`: how often a record holds such by a slip; None = a common
    way of measuring may explain it, so that it is told and no more."""

    rule: str
    entries: tuple[str, ...]
    labels: tuple[str, ...]
    why: str
    fix: str
    rate: float | None

    def notice(self, file: str) -> Fault:
        """What a person should know of it."""
        until = "" if self.rate is None else "; until then the record is in conflict"
        return Fault(file, ", ".join(self.entries), self.why[0].lower() + self.why[1:], self.fix + until)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One law that the entries of a record keep together.

    needs: of each of these groups the record must hold one: a quantity, a condition, how the motor is connected, how
    the oil is fed, "time"; rate: how often a record breaks the law by a slip or a mixed-up sheet (estimate).
    """

    id: str
    needs: tuple[frozenset[str], ...]
    find: Callable[["Facts"], Iterator[Found]]
    why: str
    fix: str
    tolerance: str
    source: str
    rate: float = 0.003

    def clash(self, f: Found) -> Clash:
        """What it found, with its reason."""
        return Clash(self.id, f.entries, f.labels, f"{self.why}: {f.what}", self.fix, self.rate if f.hard else None)


@dataclass(frozen=True)
class Facts:
    """One record on the bench, what was looked at in it, and what its limits say of its readings."""

    ctx: Context
    judged: Sequence[Judged] = ()

    @cached_property
    def _seen(self) -> Mapping[str, Sequence[Observation]]:
        out: dict[str, list[Observation]] = {}
        for o in self.ctx.record.observations:
            out.setdefault(o.finding, []).append(o)
        return out

    def there(self, *findings: str, heavy: bool = False) -> list[Observation]:
        """Entries that state one of these, slight or heavy, or heavy only."""
        wanted = ("heavy",) if heavy else ("slight", "heavy")
        return [o for f in findings for o in self._seen.get(f, ()) if o.extent in wanted]

    def sound(self, finding: str) -> list[Observation]:
        """Entries that state it as looked at and sound, where none states it as there."""
        entries = self._seen.get(finding, ())
        return [o for o in entries if o.extent == "none"] if all(o.extent == "none" for o in entries) else []

    def of_part(self, part: str, besides: str) -> list[Observation]:
        """Entries on a part that tell something of it, one condition aside."""
        observed = self.ctx.record.observations
        return [o for o in observed if o.part == part and o.condition != besides and o.extent != "unreadable"]

    @cached_property
    def _verdicts(self) -> Mapping[tuple[str, str | None], Judged]:
        return {(j.entry, j.rule): j for j in self.judged}

    def verdict(self, reading: Reading, rule: str) -> Judged | None:
        """What this rule says of a reading; None = it does not judge it."""
        return self._verdicts.get((reading.entry, rule))

    def on_bench(self, quantity: str) -> list[Reading]:
        """The readings of a quantity on the machine as it came back."""
        return [r for r in self.readings(quantity) if not r.site]

    def readings(self, *quantities: str) -> list[Reading]:
        """All readings of these quantities, in the order of the record."""
        return [r for r in self.ctx.record.readings if r.quantity in quantities]

    def margin(self, *readings: Reading) -> float:
        """What the instruments of these readings allow their sum or difference, in their base unit."""
        return COVERAGE * float(combined(*(self.ctx.uncertainty(r) for r in readings)))


def said(entry: Reading | Observation) -> str:
    """An entry as the record has it: 'running_current L1 41 A', 'oil_pump.missing heavy'."""
    if isinstance(entry, Observation):
        return f"{entry.finding} {entry.extent}"
    value = entry.value if isinstance(entry.value, str) else f"{entry.value:g} {entry.unit}"
    return " ".join(x for x in (entry.quantity, entry.between, f"at {entry.at}" if entry.at else "", value) if x)


def found(
    what: str, *entries: Reading | Observation, hard: bool = True, beside: Mapping[str, str] | None = None
) -> Found:
    """These entries clash; `beside`: fields of the record's head that belong to it → how they are said."""
    head = beside or {}
    return Found(
        (*head, *(e.entry for e in entries)), (*head.values(), *dict.fromkeys(said(e) for e in entries)), what, hard
    )
