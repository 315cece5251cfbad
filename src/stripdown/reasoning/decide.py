"""Posterior → outcome of least expected cost, liability, what could have been avoided."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from fnmatch import fnmatchcase
from functools import lru_cache, reduce
from operator import or_

import numpy as np

from stripdown.knowledge.model import Disposition, Knowledge
from stripdown.reasoning.beliefs import Piece
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.infer import Posterior
from stripdown.reasoning.model import Evidence, Option, Outcome, Share
from stripdown.reasoning.network import Vector
from stripdown.reasoning.risk import unharmed
from stripdown.reasoning.tables import divided

CORRECTABLE = ("installation", "supply", "handling", "system")
UNDETERMINED_BELOW = 0.60
_BESIDES = ("site_history",)
"""Steps whose findings are no part of the machine."""


class Looked:
    """Which findings were looked at, which are there, which are sound."""

    def __init__(self, knowledge: Knowledge, evidence: Evidence) -> None:
        self._sets = _sets(knowledge)
        sound = [
            f
            for f, v in evidence.likelihoods.items()
            if f not in evidence.stated and float(v[0]) >= 0.95 * float(v.sum())
        ]
        self._now: Admitted | None = None
        self._bad = self._sets.of(evidence.stated)
        self._sound = self._sets.of(sound)
        self._named = self._sets.named(evidence.also)

    def admitted(self) -> "Admitted":
        """What the record admits as it stands."""
        if self._now is None:
            self._now = self._sets.admitted(self._bad, self._sound, self._named)
        return self._now

    def and_then(self, finding: str, *, there: bool) -> "Admitted":
        """What it admits once one more finding was looked at."""
        one = self._sets.of([finding])
        if not there and not one & self._sets.must_be_sound:
            return self.admitted()
        bad, sound = (self._bad | one, self._sound) if there else (self._bad, self._sound | one)
        return self._sets.admitted(bad, sound, self._named)


Admitted = tuple[list[str], dict[str, list[str]]]
"""Outcomes the record admits, and those that wait for these groups to be looked at and sound, or found."""


class _Rule:
    """A disposition with its patterns as bit masks; '*' = anything in the machine."""

    def __init__(self, disposition: Disposition, mask: Callable[[str], int]) -> None:
        self.id = disposition.id
        self.needs, self.bars = ([(p, mask(p)) for p in x] for x in (disposition.needs, disposition.bars))
        self.sound, self.found = ([(p, mask(p)) for p in x] for x in (disposition.sound, disposition.found))
        self.needed, barred = (reduce(or_, (m for _, m in x), 0) for x in (self.needs, self.bars))
        self.barred = barred & ~reduce(or_, map(mask, disposition.spares), 0)


class _Sets:
    """Sets of the findings of a knowledge as bit masks, and its dispositions in them."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._knowledge = knowledge
        self._bit = {f: 1 << i for i, f in enumerate(knowledge.findings)}
        self._anything = self.of(f for f in knowledge.findings if not _beside(knowledge, f))
        self._rules = [_Rule(d, self._mask) for d in knowledge.dispositions.values()]
        self.must_be_sound = reduce(or_, (m for rule in self._rules for _, m in rule.sound), 0)
        """The findings that some outcome waits for to be looked at and sound."""

    def of(self, findings: Iterable[str]) -> int:
        """These findings; what the knowledge does not hold is left out."""
        return reduce(or_, (self._bit.get(f, 0) for f in findings), 0)

    def _mask(self, pattern: str) -> int:
        return self._anything if pattern == "*" else self.of(members(self._knowledge, pattern))

    def named(self, also: frozenset[str]) -> frozenset[str]:
        """The patterns that name something of what the record states beside its findings."""
        if not also:
            return frozenset()
        rules = self._knowledge.dispositions.values()
        patterns = {p for d in rules for p in (*d.needs, *d.bars, *d.sound, *d.found) if p != "*"}
        groups = self._knowledge.groups
        return frozenset(p for p in patterns if any(fnmatchcase(a, n) for a in also for n in groups.get(p, (p,))))

    def admitted(self, bad: int, sound: int, named: frozenset[str]) -> Admitted:
        """What is admitted where these findings are there, those sound, and these patterns named."""
        now: list[str] = []
        pending: dict[str, list[str]] = {}
        for rule in self._rules:
            if rule.needs and not bad & rule.needed and not _any_named(rule.needs, named):
                continue
            if bad & rule.barred or _any_named(rule.bars, named):
                continue
            missing = [(p, m) for p, m in rule.sound if not sound & m or bad & m or p in named]
            unfound = [p for p, m in rule.found if not bad & m and p not in named]
            if not missing and not unfound:
                now.append(rule.id)
            elif not any(bad & m or p in named for p, m in missing):
                pending[rule.id] = [*(p for p, _ in missing), *unfound]
        if "replace_compressor" not in now:
            now.append("replace_compressor")
        return now, pending


def _any_named(patterns: Sequence[tuple[str, int]], named: frozenset[str]) -> bool:
    return bool(named) and any(p in named for p, _ in patterns)


@lru_cache(maxsize=8)
def _sets(knowledge: Knowledge) -> _Sets:
    return _Sets(knowledge)


@lru_cache(maxsize=4096)
def members(knowledge: Knowledge, pattern: str) -> frozenset[str]:
    """The findings that a pattern names: a finding, `part.*`, or a group of those."""
    names = knowledge.groups.get(pattern, (pattern,))
    return frozenset(f for f in knowledge.findings for name in names if fnmatchcase(f, name))


def _beside(knowledge: Knowledge, finding: str) -> bool:
    part = finding.split(".")[0]
    return knowledge.findings[finding].on_site or any(part in s.parts for s in knowledge.steps if s.id in _BESIDES)


PART_ONLY = {
    "replace_terminal_parts": ("terminal_parts", "terminal_parts"),
    "replace_sensor": ("sensor", "sensor"),
    "replace_valve_plate": ("valve_plate_set", "valve_plate"),
    "replace_oil_pump": ("oil_pump_set", "oil_pump"),
    "replace_relief_valve": ("relief_valve_set", "relief_valve"),
}
"""Repair on the site → (amount of its parts, hours it takes) in the cost table."""
SCRAPPED_BY_REBUILD = 0.4
"""Share of a sound unit's worth that a needless rebuild throws away."""


def direct_cost(outcome: str, costs: Costs) -> float:
    """What the outcome costs when nothing goes wrong."""
    a = costs.amounts
    if outcome in PART_ONLY:
        part, hours = PART_ONLY[outcome]
        return a[part] + a["site_hour"] * costs.hours[hours]
    return {
        "return_to_service": 2.0 * a["bench_hour"],
        "rebuild": a["rebuild"] + a["change_over"],
        "replace_compressor": a["new_unit"] + a["change_over"],
    }[outcome]


def prices_of(
    knowledge: Knowledge, costs: Costs, posterior: Posterior, looked: Sequence[Looked]
) -> list[dict[str, float]]:
    """For each record of a batch what every outcome that it admits costs."""
    return expected_costs(costs, posterior, [[knowledge.dispositions[o] for o in x.admitted()[0]] for x in looked])


def expected_costs(
    costs: Costs, posterior: Posterior, rules: Sequence[Sequence[Disposition]]
) -> list[dict[str, float]]:
    """For each record of a batch: outcome → what it costs, errors included, in the currency of the table."""
    asked = [(j, rule) for j, some in enumerate(rules) for rule in some]
    none = unharmed(posterior, [(j, rule) for j, rule in asked if rule.risk])
    out: list[dict[str, float]] = [{} for _ in rules]
    for rule in {rule.id: rule for _, rule in asked}.values():
        entries = [j for j, some in asked if some is rule]
        sure = np.array([none[j, rule.id] for j in entries]) if rule.risk else np.ones(len(entries))
        first = posterior.first[:, entries]
        no_fault = posterior.network.first_index["no_fault"]
        for j, cost in zip(entries, priced(rule, costs, first, no_fault, sure).tolist(), strict=True):
            out[j][rule.id] = cost
    return out


def priced(outcome: Disposition, costs: Costs, first: Vector, no_fault: int, unharmed: Vector) -> Vector:
    """The same from P(first), shape (mechanisms, n), and the probability that nothing hidden makes the outcome
    fail."""
    e = costs.error
    sound = first[no_fault]
    wrong = e["field_repair_fails"] * (1.0 - unharmed)
    if outcome.id == "return_to_service":
        wrong = e["unsound_unit_returned"] * (1.0 - sound)
    elif outcome.id == "rebuild":
        wrong = wrong + SCRAPPED_BY_REBUILD * e["sound_unit_scrapped"] * sound
    elif outcome.id == "replace_compressor":
        wrong = e["sound_unit_scrapped"] * sound
    missed = e["first_mechanism_missed"] * (1.0 - first.max(axis=0))
    return np.asarray(direct_cost(outcome.id, costs) + wrong + missed)


def choose(
    knowledge: Knowledge,
    costs: Costs,
    looked: Looked,
    posterior: Posterior,
    status: str,
    inspect_cost: float | None,
    prices: Mapping[str, float],
) -> Outcome:
    """The outcome; `inspect_cost`: expected cost when one more check is made first, None where no check is worth
    making; `prices`: what each outcome that the record admits costs."""
    if status == "conflicting":
        price = costs.amounts["inspection"] + float(
            costs.error["first_mechanism_missed"] * (1.0 - posterior.first.max())
        )
        return Outcome("inspect_further", price, costs.currency, (), ("the findings do not go together",))
    _, pending = looked.admitted()
    priced = list(map(Option, prices, prices.values()))
    if inspect_cost is not None and (pending or status == "open"):
        priced.append(Option("inspect_further", inspect_cost))
    priced.sort(key=lambda o: (o.expected_cost, o.id))
    best = priced[0]
    return Outcome(
        best.id,
        best.expected_cost,
        costs.currency,
        tuple(priced[1:]),
        tuple(_why(knowledge, best.id, pending)),
        _break_even(costs, priced),
    )


def _why(knowledge: Knowledge, outcome: str, pending: Mapping[str, list[str]]) -> list[str]:
    why = (
        [knowledge.dispositions[outcome].why]
        if outcome in knowledge.dispositions
        else ["one more check is worth more than its time"]
    )
    for other, groups in pending.items():
        named = ", ".join(g.replace("_", " ") for g in groups)
        why.append(f"{other.replace('_', ' ')} only once looked at and found sound: {named}")
    return why


def _break_even(costs: Costs, priced: Sequence[Option]) -> float | None:
    """Probability of hidden damage at which the cheapest part-only repair costs as much as the cheapest whole one."""
    parts = [direct_cost(o.id, costs) for o in priced if o.id in PART_ONLY]
    whole = [direct_cost(o.id, costs) for o in priced if o.id in ("rebuild", "replace_compressor")]
    fails = costs.error["field_repair_fails"]
    if not parts or not whole or fails <= 0.0:
        return None
    return float(min(1.0, max(0.0, (min(whole) - min(parts)) / fails)))


def liability(knowledge: Knowledge, posterior: Posterior, status: str) -> tuple[Share, ...]:
    """Whose it is: given the mechanism, the one cause that decides is weighed by its odds; `undetermined` first
    where no share reaches 0.60."""
    shared = posterior.once("liability", lambda batch: _shared_out(knowledge, batch))[:, 0].tolist()
    shares = dict(zip(_whose(knowledge), shared, strict=True))
    ranked = sorted((Share(k, v) for k, v in shares.items() if v > 0.0), key=lambda s: (-(s.probability or 0.0), s.id))
    if status == "conflicting" or not ranked or (ranked[0].probability or 0.0) < UNDETERMINED_BELOW:
        return (Share("undetermined", None), *ranked)
    return tuple(ranked)


def _whose(knowledge: Knowledge) -> list[str]:
    return sorted({cause.liability for cause in knowledge.causes.values()})


def _shared_out(knowledge: Knowledge, batch: Posterior) -> Vector:
    """Probability that each of those it can be answers for it, shape (liabilities, batch)."""
    joint = batch.with_first[len(batch.network.states) :]
    given = np.minimum(divided(joint, batch.first), 1.0 - 1e-12)
    odds = given / (1.0 - given)
    decided = divided(odds, reduce(np.add, odds, np.zeros(1))) * batch.first
    of_cause = reduce(np.add, decided.transpose(1, 0, 2))
    causes = list(knowledge.causes.values())
    return np.stack(
        [sum(p for c, p in zip(causes, of_cause, strict=True) if c.liability == name) for name in _whose(knowledge)]
    )


def avoidable_failure(posterior: Posterior) -> float:
    """P(a cause that site, installer or supply could have corrected was at work in the first mechanism)."""
    return float(posterior.once("avoidable failure", lambda batch: 1.0 - batch.share(_nothing_correctable(batch)))[0])


def _nothing_correctable(batch: Posterior) -> list[Piece]:
    index = batch.network.index
    correctable = (c for c in batch.network.knowledge.causes.values() if c.liability in CORRECTABLE)
    return [((index[c.id],), np.array([[1.0], [0.0]])) for c in correctable]


def avoidable_return(knowledge: Knowledge, posterior: Posterior, outcome: Outcome) -> float:
    """P(this unit need not have come back): it was sound, or what it needs is done on the site."""
    sound = float(posterior.first[posterior.network.first_index["no_fault"], 0])
    disposition = knowledge.dispositions.get(outcome.id)
    return 1.0 if disposition is not None and disposition.site else sound
