"""Record and judged readings → what the reasoning takes in: a context, and one likelihood a finding."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stripdown.knowledge import Knowledge, finding_of
from stripdown.knowledge.model import HOUR_BANDS, ReadingMap
from stripdown.limits import Clash
from stripdown.limits.model import Judged
from stripdown.reasoning.infer import FAILED_WHEN
from stripdown.reasoning.model import Conflict, Evidence
from stripdown.reasoning.network import Vector, context_of
from stripdown.record.fault import Fault
from stripdown.record.model import Observation, Record

SURE = 0.95
_EXTENT = {"none": 0, "slight": 1, "heavy": 2}


@dataclass(frozen=True, slots=True)
class _Item:
    likelihood: Vector
    label: str
    entry: str
    site: bool = False
    """Read on the running system, before removal."""


def context(record: Record, *, cooling: str | None, motor: str | None, oil_feed: str | None) -> dict[str, str]:
    """The context of a record; the three connection facts come with the limit sheet's word where the record is
    silent."""
    unit, history = record.unit, record.history
    inverter = {True: "yes", False: "no", None: "unknown"}[unit.inverter]
    return context_of(
        cooling=cooling or "unknown",
        motor=motor or "unknown",
        oil_feed=oil_feed or "unknown",
        duty=history.duty or "unknown",
        inverter=inverter,
        opened_before=history.opened_before or "unknown",
        replaced="yes" if history.replaces else "unknown",
        hours=_hours(unit.run_hours),
    )


def _hours(run_hours: float | None) -> str:
    if run_hours is None:
        return "unknown"
    return next((band for limit, band in HOUR_BANDS if run_hours < limit), "40000-")


def gather(
    record: Record,
    readings: Sequence[Judged],
    knowledge: Knowledge,
    cylinders: int | None,
    clashes: Sequence[Clash] = (),
) -> tuple[Evidence, list[Fault]]:
    """Everything a record says, one likelihood a finding; a reading and an observation of one fact are one event.
    Notices where they disagree. `clashes`: what of it cannot all be true, the impossible first."""
    items = _observations(record, knowledge)
    measured = _readings(readings, knowledge)
    same_fact = {m.finding: m.instead_of for m in knowledge.readings if m.instead_of}
    notices = []
    for finding, reading in measured.items():
        observed = finding if finding in items else same_fact.get(finding, finding)
        held = items.get(observed)
        if held is not None and _disagree(held, reading) and not _told({held.entry, reading.entry}, clashes):
            fix = "the surer of the two counts; look again at both"
            notices.append(Fault(record.file, held.entry, f"{held.label}, but {reading.label}", fix))
        if held is None or _sure(reading) >= SURE:
            items.pop(observed, None)
            items[finding] = reading
    items |= _history(record, knowledge)
    pattern = _cylinder_pattern(record, cylinders)
    if pattern is not None:
        items["cylinders.one_or_two_of_many"] = pattern
    ordered = sorted(items)
    everywhere, in_part = _by_cylinder(record, cylinders)
    return (
        Evidence(
            likelihoods={f: items[f].likelihood for f in ordered},
            labels={f: items[f].label for f in ordered},
            stated=frozenset(f for f in ordered if _says(items[f]) is True),
            also=_also(record, readings),
            unreadable=frozenset(
                finding_of(o.part, o.condition) for o in record.observations if o.extent == "unreadable"
            ),
            everywhere=everywhere,
            not_as_found=in_part | {f for f in ordered if items[f].site},
            clash=_clash(clashes),
        ),
        notices,
    )


def _told(entries: set[str], clashes: Sequence[Clash]) -> bool:
    """Whether a law that these entries break has told of them."""
    return any(entries.issubset(c.entries) for c in clashes)


def _clash(clashes: Sequence[Clash]) -> Conflict | None:
    """The first of them that is a conflict: how often a slip makes it stands for how often it comes by chance."""
    for clash in clashes:
        if clash.rate is not None:
            return Conflict(-math.log(clash.rate), clash.rate, clash.labels, clash.why)
    return None


def _also(record: Record, readings: Sequence[Judged]) -> frozenset[str]:
    """Parts missing or wrong by their own name, and a second failed motor sensor."""
    named = {o.finding for o in record.observations if o.condition in ("missing", "wrong_part") and _there(o)}
    sensors = {
        j.between for j in readings if j.quantity == "sensor_resistance" and j.verdict == "outside" and _motor_sensor(j)
    }
    return frozenset(named | ({"motor_sensor.second_failed"} if len(sensors) >= 2 else set()))


def _there(observation: Observation) -> bool:
    return observation.extent in ("slight", "heavy")


def _motor_sensor(judged: Judged) -> bool:
    return (judged.between or "").startswith("common")


def _sure(item: _Item) -> float:
    total = float(item.likelihood.sum())
    none = float(item.likelihood[0]) / total
    return max(none, 1.0 - none)


def _says(item: _Item) -> bool | None:
    """True: there; False: looked at and sound; None: not decisive."""
    none = float(item.likelihood[0]) / float(item.likelihood.sum())
    return True if none <= 1.0 - SURE else False if none >= SURE else None


def _disagree(one: _Item, other: _Item) -> bool:
    said = {_says(one), _says(other)}
    return said == {True, False}


def _observations(record: Record, knowledge: Knowledge) -> dict[str, _Item]:
    worst: dict[str, tuple[int, str, str]] = {}
    for o in record.observations:
        if o.extent == "unreadable":
            continue
        finding = finding_of(o.part, o.condition)
        level = _EXTENT[o.extent]
        if o.finding in ("crank.turns_freely", "pumping.pumps"):
            level = 0
        label = f"{o.finding} {o.extent}"
        if finding in knowledge.findings and (finding not in worst or level > worst[finding][0]):
            worst[finding] = (level, label, o.entry)
    items = {}
    for finding, (level, label, entry) in worst.items():
        levels = len(knowledge.findings[finding].levels)
        items[finding] = _Item(_one_hot(levels + 1, min(level, levels)), label, entry)
    return items


def _one_hot(size: int, at: int) -> Vector:
    vector = np.zeros(size)
    vector[at] = 1.0
    return vector


def _readings(readings: Iterable[Judged], knowledge: Knowledge) -> dict[str, _Item]:
    found: dict[str, _Item] = {}
    for judged in readings:
        for mapping in knowledge.readings:
            elsewhere = mapping.at and mapping.at != (judged.at or "terminals")
            if elsewhere or mapping.rule != (judged.rule or judged.notice_rule):
                continue
            likelihood = _bands(judged, mapping)
            if likelihood is None:
                continue
            other_side = any(m.rule == mapping.rule and m.side != mapping.side for m in knowledge.readings)
            label = _label(judged, mapping, likelihood, other_side=other_side)
            item = _Item(likelihood, label, judged.entry, judged.site)
            held = found.get(mapping.finding)
            found[mapping.finding] = item if held is None else _worse(held, item)
    return found


def _worse(one: _Item, other: _Item) -> _Item:
    """The worse of two readings of one finding; where they say the same and one was read on the bench, both were."""
    worse = other if _badness(other) > _badness(one) else one
    return replace(worse, site=one.site and other.site) if _says(one) == _says(other) else worse


def _badness(item: _Item) -> tuple[float, float]:
    """How surely it is there, then how far: of several readings of one finding the worst counts, whatever their
    order."""
    return -float(item.likelihood[0]), float(item.likelihood @ np.arange(len(item.likelihood)))


def _label(judged: Judged, mapping: ReadingMap, likelihood: Vector, *, other_side: bool) -> str:
    """The reading and its verdict, or its value where there is no limit; of a reading whose other side is another
    finding, whether it is low or high or not."""
    verdict: str = judged.verdict
    if verdict == "no_limit" and judged.judged is not None:
        verdict = f"{judged.judged:.3g} {judged.judged_unit}"
    elif other_side and verdict in ("within", "outside"):
        verdict = f"not {mapping.side}" if likelihood[0] >= 0.5 * likelihood.sum() else mapping.side
    elif verdict == "outside" and mapping.side != "both" and likelihood[0] >= SURE:
        verdict = {"low": "high", "high": "low"}[mapping.side]
    return " ".join(x for x in (judged.quantity, judged.between, f"at {judged.at}" if judged.at else "", verdict) if x)


def _bands(judged: Judged, mapping: ReadingMap) -> Vector | None:
    """Probability of each level of the finding, given the reading and its uncertainty; None where it cannot be said."""
    size = len(mapping.levels) + 1
    if judged.judged is None:
        if judged.verdict not in ("within", "outside"):
            return None
        return _one_hot(size, size - 1 if judged.verdict == "outside" else 0)
    beyond = [1.0, *(_beyond(judged, mapping, i) for i in range(len(mapping.levels)))]
    if any(math.isnan(b) for b in beyond):
        return None
    return np.asarray(np.maximum(np.array([a - b for a, b in zip(beyond, [*beyond[1:], 0.0], strict=True)]), 0.0))


def _beyond(judged: Judged, mapping: ReadingMap, level: int) -> float:
    """P(true value beyond the cut of this level on the bad side)."""
    cut = mapping.levels[level]
    if isinstance(cut, str):
        if level and mapping.levels[level - 1] == cut:
            return 0.5 * _beyond(judged, mapping, level - 1)
        tier = next((t for t in judged.tiers if t.name == cut), None)
        if tier is None:
            return math.nan if level == 0 else 0.0
        low, high = tier.low, tier.high
        if cut == "limit" and judged.probability_within is not None and _is_whole(low, high, mapping.side):
            return 1.0 - judged.probability_within
    else:
        low, high = {"low": (cut, None), "high": (None, cut), "both": (-cut, cut)}[mapping.side]
    value, spread = judged.judged, judged.judged_uncertainty or 0.0
    assert value is not None
    total = 0.0
    if mapping.side in ("high", "both") and high is not None:
        total += _tail(value - high, spread)
    if mapping.side in ("low", "both") and low is not None:
        total += _tail(low - value, spread)
    if (mapping.side == "high" and high is None) or (mapping.side == "low" and low is None):
        return math.nan if level == 0 else 0.0
    return min(total, 1.0)


def _is_whole(low: float | None, high: float | None, side: str) -> bool:
    """Whether the bad side is all there is to the limit: the verdict's probability is then the soft evidence itself."""
    return side == "both" or (low is None and side == "high") or (high is None and side == "low")


def _tail(distance: float, spread: float) -> float:
    if spread <= 0.0:
        return 1.0 if distance > 0.0 else 0.0
    return 0.5 * math.erfc(-distance / (spread * math.sqrt(2.0)))


def _history(record: Record, knowledge: Knowledge) -> dict[str, _Item]:
    items = {}
    alarms = record.history.alarms
    for name in ("oil", "motor_heat", "discharge_heat", "phase", "locked_rotor"):
        count = getattr(alarms, name)
        if count is not None:
            items[f"alarms.{name}"] = _Item(_one_hot(2, int(count > 0)), f"alarms {name} {count}", "history.alarms")
    burn = record.history.earlier_burn
    if burn is not None:
        label = "an earlier burn at this place" if burn else "no earlier burn at this place"
        items["history.earlier_burn"] = _Item(_one_hot(2, int(burn)), label, "history.earlier_burn")
    when = record.history.failed_when
    if when is not None:
        items[FAILED_WHEN] = _Item(_when(record, knowledge), f"failed {when.replace('_', ' ')}", "history.failed_when")
    return items


def _when(record: Record, knowledge: Knowledge) -> Vector:
    states = knowledge.failed_when.STATES
    when, off = record.history.failed_when, record.history.hours_off
    if when != "start":
        return _one_hot(len(states), states.index(str(when)))
    vector = np.zeros(len(states))
    long = None if off is None else off >= knowledge.failed_when.long_stop_hours
    vector[states.index("start")] = float(long is not True)
    vector[states.index("start_long")] = float(long is not False)
    return vector


def _by_cylinder(record: Record, cylinders: int | None) -> tuple[frozenset[str], frozenset[str]]:
    """(findings that are heavy at every cylinder, findings of which only some cylinders were seen, and those sound)."""
    where: dict[str, dict[str, list[tuple[int, ...]]]] = {}
    for o in record.observations:
        where.setdefault(finding_of(o.part, o.condition), {}).setdefault(o.extent, []).append(o.cylinders)
    everywhere, in_part = set(), set()
    for finding, of_extent in where.items():
        heavy, none = of_extent.get("heavy", []), of_extent.get("none", [])
        if (cylinders == 1 and heavy) or _all_named(heavy, cylinders):
            everywhere.add(finding)
        unseen = "unreadable" in of_extent or (all(none) and not _all_named(none, cylinders))
        if none and unseen and not (heavy or "slight" in of_extent):
            in_part.add(finding)
    return frozenset(everywhere), frozenset(in_part)


def _all_named(numbers: Sequence[tuple[int, ...]], cylinders: int | None) -> bool:
    return cylinders is not None and set(range(1, cylinders + 1)) <= {c for some in numbers for c in some}


_CYLINDER_PARTS = ("suction_reed", "discharge_valve", "valve_backer", "backer_bolts", "head_gasket", "valve_plate")


def _cylinder_pattern(record: Record, cylinders: int | None) -> _Item | None:
    """Whether the valve gear is damaged at one or two cylinders and not at all of them, where the record numbers
    them and the machine has more than one."""
    damaged: set[int] = set()
    for o in record.observations:
        if o.part in _CYLINDER_PARTS and _there(o):
            damaged.update(o.cylinders)
    if not damaged or cylinders is None or cylinders < 2:
        return None
    few = len(damaged) <= 2 and len(damaged) < cylinders
    return _Item(_one_hot(2, int(few)), f"{len(damaged)} of {cylinders} cylinders damaged", "observations")
