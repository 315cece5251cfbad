"""Which check to make next: expected information about `first` and expected saving, each beside its minutes.

What one step of the teardown shows comes for the same minutes, so steps are ordered by what all of it is expected to
tell together, and the findings of a step by their own information.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce

import numpy as np

from stripdown.knowledge.model import Knowledge, Step
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.decide import Looked, expected_costs, members, priced, prices_of
from stripdown.reasoning.infer import Asked, Posterior
from stripdown.reasoning.model import Check, Evidence
from stripdown.reasoning.network import Network, Vector
from stripdown.reasoning.risk import none_of_it, side_by_side
from stripdown.reasoning.rows import by_first, expected, level_starts
from stripdown.reasoning.tables import divided, total
from stripdown.reasoning.whole import whole

CONSIDERED = 12
"""Checks for which the saving is worked out, in the order in which they are proposed."""
LISTED = 8
_LEAST = 5e-324
OF_ONE_STEP = 3
"""So many findings of a step are named at most: the others are seen with them."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A check that could be made: its step, minutes with what must be opened first, information [bit]."""

    finding: str
    step: Step
    minutes: float
    gain: float
    place: int
    """Its row in what all open checks would tell."""


def open_checks(knowledge: Knowledge, evidence: Evidence) -> dict[str, tuple[Step, float]]:
    """Finding not yet looked at, and not unreadable → (its step, minutes with what must be opened first), where the
    teardown still allows it."""
    by_step, _ = _steps(knowledge)
    by_id, done = _stage(knowledge, evidence)
    out: dict[str, tuple[Step, float]] = {}
    for step, findings in by_step:
        if not set(step.until) & done:
            check = step, sum(by_id[s].minutes for s in _to_do(step, by_id, done))
            out |= {f: check for f in findings if f not in evidence.likelihoods and f not in evidence.unreadable}
    return out


@lru_cache(maxsize=8)
def _steps(knowledge: Knowledge) -> tuple[list[tuple[Step, list[str]]], dict[str, str]]:
    """(each step with its findings, finding → id of the step that gives it)."""
    step_of = {f: s.id for s in knowledge.steps for f in _findings_of(knowledge, s)}
    return [(s, [f for f, name in step_of.items() if name == s.id]) for s in knowledge.steps], step_of


def _stage(knowledge: Knowledge, evidence: Evidence) -> tuple[dict[str, Step], set[str]]:
    """(id → step, ids of the steps made)."""
    _, step_of = _steps(knowledge)
    return {s.id: s for s in knowledge.steps}, {step_of[f] for f in evidence.likelihoods if f in step_of}


def _to_do(step: Step, by_id: Mapping[str, Step], done: set[str]) -> set[str]:
    needed = {step.id}
    for before in step.after:
        if before not in done:
            needed |= _to_do(by_id[before], by_id, done)
    return needed


def _findings_of(knowledge: Knowledge, step: Step) -> list[str]:
    own = [f for f in knowledge.findings if f.split(".")[0] in step.parts and f not in _NO_CHECK]
    return [*own, *step.readings]


_NO_CHECK = ("cylinders.one_or_two_of_many", "history.earlier_burn")


@dataclass(frozen=True, slots=True)
class Told:
    """What each of some findings would tell of each record of a batch."""

    findings: tuple[str, ...]
    place: Mapping[str, int]
    """Finding → its place among them."""
    by_first: Vector
    """P(level, first | findings so far), shape (levels of all findings, mechanisms, batch)."""
    starts: tuple[int, ...]
    """The row in `by_first` of the first level of each finding, and one past the last."""
    gain: Vector
    """Expected entropy drop of `first` [bit], shape (findings, batch)."""
    surer: Vector
    """Expected fall of the chance to be wrong when the mechanism is named by its odds, 1 - sum of p squared; same
    shape."""


def tell(posterior: Posterior, findings: Sequence[str]) -> Told:
    """Expected entropy drop of `first` for each finding and record, exactly, from the calibrated tree."""
    starts = level_starts(posterior.network.knowledge, findings)
    joint = by_first(posterior, findings, starts)
    levels = _over_first(joint)
    after = _information(levels) - _over_first(_information(joint))
    gain = -total(_information(posterior.first)) - _of_findings(after, starts)
    squares = divided(_over_first(joint * joint), levels)
    surer = _of_findings(squares, starts) - total(posterior.first * posterior.first)
    place = {f: i for i, f in enumerate(findings)}
    return Told(tuple(findings), place, joint, starts, np.maximum(gain, 0.0), np.maximum(surer, 0.0))


def _over_first(table: Vector) -> Vector:
    """Sum over the mechanisms, in one order whatever the length of the batch."""
    return np.asarray(reduce(np.add, table.transpose(1, 0, 2)))


def _of_findings(rows: Vector, starts: Sequence[int]) -> Vector:
    """Sum over the levels of each finding."""
    alone = rows.shape[1] == 1
    summed = np.add.reduceat(np.repeat(rows, 2, axis=1) if alone else rows, starts[:-1], axis=0)
    return summed[:, :1] if alone else summed


def _information(p: Vector) -> Vector:
    return np.asarray(p * np.log2(np.maximum(p, _LEAST)))


def gains(posterior: Posterior, findings: Mapping[str, tuple[Step, float]]) -> list[Candidate]:
    """Expected entropy drop of `first` [bit] for each finding, for one record."""
    told = tell(posterior, list(findings))
    return [_candidate(told, 0, i, *findings[f]) for i, f in enumerate(told.findings)]


def _candidate(told: Told, j: int, i: int, step: Step, minutes: float) -> Candidate:
    return Candidate(told.findings[i], step, minutes, float(told.gain[i, j]), i)


def next_checks(
    knowledge: Knowledge, costs: Costs, evidence: Evidence, posterior: Posterior
) -> tuple[tuple[Check, ...], float | None]:
    """(checks worth their time, the step that tells most a minute first; expected cost when the best saving one is
    made first, None = none pays).

    A check is worth its time where it saves more than it costs, or where its step makes the mechanism surer by more
    than it costs: a single finding seldom changes the outcome where several do.
    """
    prices = prices_of(knowledge, costs, posterior, [Looked(knowledge, evidence)])
    return next_checks_of(knowledge, costs, [evidence], posterior, prices)[0]


def next_checks_of(
    knowledge: Knowledge,
    costs: Costs,
    evidences: Sequence[Evidence],
    posterior: Posterior,
    prices: Sequence[Mapping[str, float]],
) -> list[tuple[tuple[Check, ...], float | None]]:
    """The same for each record of a batch; `prices`: what each outcome that it admits costs."""
    possible = [open_checks(knowledge, e) for e in evidences]
    told = tell(posterior, sorted({f for p in possible for f in p}))
    plans = [
        _Plan(knowledge, costs, e, posterior, j, told, possible[j], min(prices[j].values()))
        for j, e in enumerate(evidences)
    ]
    _learn_risks(posterior, plans)
    _learn_bundles(posterior, plans)
    return [plan.result() for plan in plans]


def _learn_risks(posterior: Posterior, plans: Sequence["_Plan"]) -> None:
    """Tell each plan of a batch how often each level of its checks comes with nothing that makes an outcome fail."""
    asked = [(j, rule) for j, plan in enumerate(plans) for rule in plan.risky]
    for batch, entries, rules in side_by_side(posterior, asked):
        then = batch.also(none_of_it(posterior.network, rules))
        share = np.exp(then.log_evidence - batch.log_evidence)
        those = [(k, plans[j], rule) for k, (j, rule) in enumerate(zip(entries, rules, strict=True)) if rule]
        findings = sorted({c.finding for _, plan, _ in those for c in plan.considered})
        place = {f: i for i, f in enumerate(findings)}
        starts = level_starts(posterior.network.knowledge, findings)
        levels = share * expected(then, findings, starts)
        for k, plan, rule in those:
            spans = ((starts[i], starts[i + 1]) for i in (place[c.finding] for c in plan.considered))
            plan.unharmed[rule.id] = levels[[row for span in spans for row in range(*span)], k]


def _learn_bundles(posterior: Posterior, plans: Sequence["_Plan"]) -> None:
    """Tell the plan of each record of a batch what it is expected to cost to look first at all that an outcome waits
    for."""
    asked = [(j, outcome) for j, plan in enumerate(plans) for outcome in plan.bundles]
    if not asked:
        return
    before = posterior.only([j for j, _ in asked])
    sound = [
        Asked(a.network, {f: _first_level(a.network, f) for f in plans[j].bundles[outcome]})
        for a, (j, outcome) in zip(before.asked, asked, strict=True)
    ]
    then = before.also(whole(posterior.network.knowledge).pieces(sound))
    share = np.exp(then.log_evidence - before.log_evidence)
    repaired = expected_costs(plans[0].costs, then, [[plans[j].rules[outcome]] for j, outcome in asked])
    for (j, outcome), chance, cost in zip(asked, share.tolist(), repaired, strict=True):
        plans[j].learn_bundle(outcome, chance, cost[outcome])


def _considered(
    knowledge: Knowledge, evidence: Evidence, told: Told, j: int, possible: Mapping[str, tuple[Step, float]]
) -> dict[Candidate, float]:
    """The most telling checks in order → how much surer their step makes the mechanism, with the steps that come
    before it: steps by what they tell a minute, of each the findings that tell most by themselves.

    Findings of one state tell partly the same, so the sum over a step is an upper bound.
    """
    by_id, done = _stage(knowledge, evidence)
    gain, surer = told.gain[:, j], told.surer[:, j].tolist()
    of_step: dict[str, list[int]] = {}
    minutes: dict[str, float] = {}
    for finding, (step, takes) in possible.items():
        of_step.setdefault(step.id, []).append(told.place[finding])
        minutes[step.id] = takes
    alone = {name: sum(surer[i] for i in places) for name, places in of_step.items()}
    together = {name: sum(alone.get(s, 0.0) for s in sorted(_to_do(by_id[name], by_id, done))) for name in of_step}
    out: dict[Candidate, float] = {}
    for name in sorted(of_step, key=lambda n: (-together[n] / minutes[n], n)):
        telling = sorted(of_step[name], key=lambda i: (-gain[i], told.findings[i]))
        for i in telling[: min(OF_ONE_STEP, CONSIDERED - len(out))]:
            out[_candidate(told, j, i, by_id[name], minutes[name])] = together[name]
        if len(out) == CONSIDERED:
            break
    return out


def _check(c: Candidate, saving: float) -> Check:
    return Check(c.finding, c.gain, saving, c.minutes, c.step.caution, f"{c.step.title}: {_looked_at(c)}")


def _looked_at(c: Candidate) -> str:
    """What to look at in words; of a reading what is read, and where."""
    what, _, state = c.finding.replace("_", " ").partition(".")
    if c.finding not in c.step.readings:
        return f"{what} {state}"
    return f"{what} at the {state}" if state in ("terminals", "leads") else what


class _Plan:
    """The checks of one record: the most telling ones, and what else must be known to price them."""

    def __init__(
        self,
        knowledge: Knowledge,
        costs: Costs,
        evidence: Evidence,
        posterior: Posterior,
        j: int,
        told: Told,
        possible: Mapping[str, tuple[Step, float]],
        current: float,
    ) -> None:
        """`current`: what the outcome of least expected cost costs now."""
        self.rules, self.costs, self._possible = knowledge.dispositions, costs, possible
        self._knowledge, self._told, self._j, self._current = knowledge, told, j, current
        self._posterior, self._network = posterior.entry(j), posterior.asked[j].network
        self._surer = _considered(knowledge, evidence, told, j, possible)
        self.considered = list(self._surer)
        looked = Looked(knowledge, evidence)
        self._now, self._pending = looked.admitted()
        self._then = {
            (c.finding, there): looked.and_then(c.finding, there=there)[0]
            for c in self.considered
            for there in (True, False)
        }
        outcomes = {o for now in self._then.values() for o in now}
        self.risky = [self.rules[o] for o in sorted(outcomes) if self.rules[o].risk and self.considered]
        """The outcomes that hidden damage can make fail."""
        self.unharmed: dict[str, Vector] = {}
        """Outcome → P(level, nothing makes it fail | findings), the levels of the checks considered one after the
        other."""
        chosen = {o: self._bundle(o) for o in self._pending if self.considered}
        self.bundles = {o: bundle for o, bundle in chosen.items() if bundle is not None}
        """Outcome that waits → all that it waits for: finding → its step and minutes."""
        self._after_bundle: dict[str, float] = {}

    def learn_bundle(self, outcome: str, share: float, repaired: float) -> None:
        """`share`: probability that all of the bundle is sound; `repaired`: what the outcome costs where it is."""
        current = self._current
        self._after_bundle[outcome] = share * min(repaired, current) + (1.0 - share) * current

    def result(self) -> tuple[tuple[Check, ...], float | None]:
        """(checks worth their time, expected cost when the best one is made first)."""
        if not self.considered:
            return (), None
        current, bench_hour = self._current, self.costs.amounts["bench_hour"]
        after = []
        telling: list[Check] = []
        decisive: list[Check] = []
        missed = self.costs.error["first_mechanism_missed"]
        for c, saving in zip(self.considered, self._savings(current), strict=True):
            price = c.minutes / 60.0 * bench_hour
            after.append(current - saving + price)
            if max(saving, missed * self._surer[c]) > price:
                telling.append(_check(c, saving))
        for outcome, cost in self._after_bundle.items():
            minutes = sum({step.id: m for step, m in self.bundles[outcome].values()}.values())
            price = minutes / 60.0 * bench_hour
            after.append(price + cost)
            if current - cost > price:
                decisive += self._decisive(outcome, current - cost, alone=not telling)
        listed = telling[: LISTED - len(decisive)] + decisive
        return tuple(listed[:LISTED]), float(min(after) + self.costs.amounts["inspection"])

    def _decisive(self, outcome: str, saving: float, *, alone: bool) -> list[Check]:
        """The checks that decide whether a repair of a part will do, where they are not considered by what they tell
        of the mechanism: those of one step, or of several where nothing else is worth its time, each step with its
        part of the saving."""
        of_step: dict[str, list[Candidate]] = {}
        for f, (step, minutes) in self.bundles[outcome].items():
            c = _candidate(self._told, self._j, self._told.place[f], step, minutes)
            of_step.setdefault(step.id, []).append(c)
        if not alone and (len(of_step) > 1 or set(self.bundles[outcome]) & {c.finding for c in self.considered}):
            return []
        every = sum(some[0].minutes for some in of_step.values())
        return [
            _check(c, saving * some[0].minutes / every)
            for some in of_step.values()
            for c in sorted(some, key=lambda c: (-c.gain, c.finding))[: OF_ONE_STEP if len(of_step) == 1 else 1]
        ]

    def _savings(self, current: float) -> list[float]:
        """Expected fall of the least expected cost when each check is made; outcomes that wait for it count where it
        comes out sound."""
        no_fault, starts = self._network.first_index["no_fault"], self._told.starts
        spans = [range(starts[c.place], starts[c.place + 1]) for c in self.considered]
        share = self._told.by_first[[row for span in spans for row in span], :, self._j].T
        levels = reduce(np.add, share)
        first = divided(share, levels)
        costs = {}
        for outcome in {o for now in self._then.values() for o in now}:
            none = divided(self.unharmed[outcome], levels) if outcome in self.unharmed else np.ones(len(levels))
            costs[outcome] = priced(self.rules[outcome], self.costs, first, no_fault, none).tolist()
        out = []
        row = 0
        shares = levels.tolist()
        for c, span in zip(self.considered, spans, strict=True):
            saved = current
            for level in range(len(span)):
                if shares[row] > 0.0:
                    saved -= shares[row] * min(costs[o][row] for o in self._then[c.finding, level > 0])
                row += 1
            out.append(max(0.0, saved))
        return out

    def _bundle(self, outcome: str) -> dict[str, tuple[Step, float]] | None:
        """All that a part-only repair still waits for, each group by the cheapest step that shows it; None where one
        of them can no longer be looked at."""
        chosen: dict[str, tuple[Step, float]] = {}
        for group in self._pending[outcome]:
            of_group = {f: c for f, c in self._possible.items() if f in members(self._knowledge, group)}
            cheapest = min(of_group.values(), key=lambda c: c[1], default=None)
            if group in self.rules[outcome].found:
                continue
            if cheapest is None:
                return None
            chosen |= {f: c for f, c in of_group.items() if c[0] is cheapest[0]}
        return chosen


def _first_level(network: Network, finding: str) -> Vector:
    vector = np.zeros(len(network.leaf(finding).table))
    vector[0] = 1.0
    return vector
