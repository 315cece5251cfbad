"""Link strengths from findings that a person has confirmed: expectation-maximisation with a Beta prior.

A strength is the probability that one link acts, split over the levels of its effect; that an effect is there without
any link is a strength too. In a noisy-OR (noisy-MAX where the effect is graded) each link acts or not by itself, so the
expected number of records in which it could act, and did, is all that a step needs.
Sources: A. P. Dempster, N. M. Laird and D. B. Rubin, J. R. Statist. Soc. B 39 (1977) 1-38 (the method); T. A. Louis,
ibid. 44 (1982) 226-233 (information in incomplete data); J. Pearl, Probabilistic Reasoning in Intelligent Systems
(1988), ch. 4 (noisy-OR).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import stats

from stripdown.knowledge.model import Knowledge
from stripdown.reasoning import strengths
from stripdown.reasoning.beliefs import Beliefs
from stripdown.reasoning.infer import CHUNK, FAILED_WHEN, Likelihoods, Question
from stripdown.reasoning.network import Context, Network, Vector
from stripdown.reasoning.strengths import Acts, Input, Key, Strengths

PRIOR_RECORDS = 50.0
"""How many records the written strength counts for, records in which the link could act."""
STEPS = 60
SETTLED = 0.01
"""Rise of the log posterior [nat] in one step below which learning ends."""
_TINY = 1e-300
_TELLS = 1e-9
"""Slope below which a record says nothing about a strength."""


@dataclass(frozen=True, slots=True)
class Example:
    """One confirmed record: its context and findings, the first mechanism a person saw, and the causes if any were
    named (then those not named were not at work)."""

    context: Context
    likelihoods: Likelihoods
    first: str
    causes: tuple[str, ...] = ()


@dataclass
class Tally:
    """Expected counts of the strength of one link over records in which it could act."""

    acted: Vector
    """By level of the effect, lowest first."""
    idle: dict[float, float] = field(default_factory=dict)
    """Factor on the strength in that record → records in which it did not act."""
    records: float = 0.0
    """Expected number of records in which it could act, of those that say anything about it."""
    score_squared: float = 0.0
    """Sum over the records of the squared slope of their log probability in the strength, all levels together."""

    def best(self, written: Acts, prior_records: float) -> Acts:
        """The strength that these counts and the prior make most probable.

        Its split over levels follows from the counts; its size q is where the slope acted / q - sum over factors f
        of idle(f) f / (1 - q f), prior included, is zero.
        """
        acted = self.acted + prior_records * written
        total = float(acted.sum())
        if total <= 0.0:
            return np.zeros_like(written)
        idle = {**self.idle, 1.0: self.idle.get(1.0, 0.0) + prior_records * (1.0 - float(written.sum()))}
        idle = {f: n for f, n in idle.items() if n > 0.0}
        if set(idle) <= {1.0}:
            return np.asarray(acted / (total + idle.get(1.0, 0.0)))
        q = _root(lambda q: total / q - sum(n * f / (1.0 - q * f) for f, n in idle.items()), 0.0, 1.0 / max(1.0, *idle))
        return np.asarray(acted / total * q)

    def worth(self, written: float, q: float, prior_records: float) -> float:
        """How many plain records of this link the prior and these records come to (observed information, Louis)."""
        prior = prior_records * (written / q**2 + (1.0 - written) / (1.0 - q) ** 2)
        return q * (1.0 - q) * (prior + self.score_squared)


@dataclass
class Shares:
    """Expected counts of a cause under one first mechanism: factor on its odds there → records with it, and without."""

    there: dict[float, float] = field(default_factory=dict)
    absent: dict[float, float] = field(default_factory=dict)
    records: float = 0.0

    def best(self, written: Acts, prior_records: float) -> Acts:
        """The share whose log odds θ make there - (there + absent) σ(θ + log f), prior included, zero."""
        share = float(written[0])
        if not 0.0 < share < 1.0:
            return written
        there = sum(self.there.values()) + prior_records * share
        counts = {f: self.there[f] + self.absent[f] for f in self.there}
        counts[1.0] = counts.get(1.0, 0.0) + prior_records
        return np.array([_root(lambda q: there - sum(n * _with_odds(q, f) for f, n in counts.items()), 0.0, 1.0)])

    def worth(self, written: float, q: float, prior_records: float) -> float:
        """How many plain records the prior and these records come to."""
        spread = sum((self.there[f] + self.absent[f]) * _with_odds(q, f) * (1.0 - _with_odds(q, f)) for f in self.there)
        return prior_records + spread / (q * (1.0 - q))


def _with_odds(q: float, factor: float) -> float:
    return q * factor / (q * factor + 1.0 - q)


def _root(slope: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling slope is zero."""
    for _ in range(100):
        middle = 0.5 * (low + high)
        if slope(middle) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@dataclass(frozen=True, slots=True)
class Moved:
    """One strength before and after; all levels together, as probability that the link acts.

    records: expected number in which it could act; low, high: 95 % interval.
    """

    key: Key
    before: float
    after: float
    records: float
    low: float
    high: float


@dataclass(frozen=True)
class Learnt:
    """The knowledge with the new strengths, what became of each strength, and the log posterior before each step and
    at the end."""

    knowledge: Knowledge
    moved: tuple[Moved, ...]
    log_posterior: tuple[float, ...]
    settled: bool


def learn(
    knowledge: Knowledge,
    examples: Sequence[Example],
    *,
    prior_records: float = PRIOR_RECORDS,
    steps: int = STEPS,
    progress: Callable[[int], None] = lambda step: None,
) -> Learnt:
    """Strengths of largest posterior probability, the written ones as Beta (Dirichlet over levels) prior worth
    `prior_records` records."""
    written = strengths.read(knowledge)
    now, trace = written, []
    tallies: Tallies = {}
    settled = not examples
    for step in range(steps + 1 if examples else 0):
        progress(step)
        tallies, log_likelihood = _expect(strengths.put(knowledge, now), now, examples)
        trace.append(log_likelihood + log_prior(written, now, prior_records))
        settled = len(trace) > 1 and trace[-1] - trace[-2] < SETTLED
        if settled or step == steps:
            break
        now = {k: tallies[k].best(written[k], prior_records) if k in tallies else acts for k, acts in now.items()}
    moved = tuple(_moved(k, written[k], now[k], tally, prior_records) for k, tally in tallies.items())
    return Learnt(strengths.put(knowledge, now) if examples else knowledge, moved, tuple(trace), settled)


def log_prior(written: Strengths, now: Strengths, prior_records: float) -> float:
    """Log density of the prior [nat] less that of the written strengths themselves."""
    total = 0.0
    for key, acts in now.items():
        old = written[key]
        weights = np.append(old, 1.0 - old.sum())
        value = np.append(acts, 1.0 - acts.sum())
        some = weights > 0.0
        total += float((weights[some] * np.log(np.maximum(value[some], _TINY) / weights[some])).sum())
    return prior_records * total


def _moved(key: Key, old: Acts, new: Acts, tally: "Tally | Shares", prior_records: float) -> Moved:
    """The interval is that of the Beta distribution with this mode and the worth of the prior and the records."""
    before, after = float(old.sum()), float(new.sum())
    if not 0.0 < after < 1.0:
        return Moved(key, before, after, tally.records, after, after)
    worth = tally.worth(before, after, prior_records)
    low, high = (float(stats.beta.ppf(p, 1.0 + worth * after, 1.0 + worth * (1.0 - after))) for p in (0.025, 0.975))
    return Moved(key, before, after, tally.records, low, high)


Tallies = dict[Key, "Tally | Shares"]


def impossible(knowledge: Knowledge, examples: Sequence[Example]) -> list[int]:
    """Places of the examples that cannot come about by this knowledge at all, such as a winding half lost in a motor
    that has no halves."""
    out = []
    for place, example in enumerate(examples):
        network = Network(knowledge, example.context)
        with np.errstate(divide="ignore"):
            sure = network.prior[network.first_index[example.first]] > 0.0
            if not sure or not np.isfinite(_Batch(network, [example]).beliefs().log_evidence[0]):
                out.append(place)
    return out


def _expect(knowledge: Knowledge, now: Strengths, examples: Sequence[Example]) -> tuple[Tallies, float]:
    """(expected counts of every strength that some record speaks of, log likelihood of all records)."""
    tallies: Tallies = {}
    total = 0.0
    by_context: dict[tuple[tuple[str, str], ...], list[Example]] = {}
    for example in examples:
        by_context.setdefault(tuple(sorted(example.context.items())), []).append(example)
    for context, group in by_context.items():
        network = Network(knowledge, dict(context))
        for start in range(0, len(group), CHUNK):
            total += _Batch(network, group[start : start + CHUNK]).count(now, tallies)
    return tallies, total


class _Batch:
    """Records of one context, side by side."""

    def __init__(self, network: Network, examples: Sequence[Example]) -> None:
        self.network = network
        self.size = len(examples)
        self.first = np.array([network.first_index[e.first] for e in examples])
        names = sorted({f for e in examples for f in e.likelihoods})
        self.likelihoods = {f: self._side_by_side(f, examples) for f in names}
        known = np.zeros((len(network.mechanisms), self.size))
        known[self.first, np.arange(self.size)] = 1.0
        self.known: dict[int, Vector] = {0: known}
        self.named = np.array([bool(e.causes) for e in examples])
        self.at_work = {c: np.array([c in e.causes for e in examples]) for c in network.causes}
        if self.named.any():
            for cause, there in self.at_work.items():
                weights = np.stack([~there, there]).astype(float)
                self.known[network.index[cause]] = np.where(self.named, weights, 1.0)
        self.question = Question(network, names, [v for v in self.known if v])

    def _side_by_side(self, finding: str, examples: Sequence[Example]) -> Vector:
        size = next(len(e.likelihoods[finding]) for e in examples if finding in e.likelihoods)
        return np.stack([e.likelihoods.get(finding, np.ones(size)) for e in examples], axis=1)

    def beliefs(self) -> Beliefs:
        """Everything given the findings and what was confirmed."""
        return self.question.beliefs(self.likelihoods, self.known)

    def count(self, now: Strengths, tallies: Tallies) -> float:
        """Add the expected counts to `tallies`; the log likelihood of the records."""
        beliefs = self.beliefs()
        knowledge = self.network.knowledge
        touched = self.network.ancestors(
            [v for leaf in self.question.leaves.values() for v in leaf.scope] + [v for v in self.known if v]
        )
        for state in knowledge.states:
            node = self.network.index[state.id]
            if node in touched:
                joint = beliefs.marginal(*self.network.families[node][0])
                inputs, decided = strengths.inputs_of_state(self.network, state, now)
                flat = joint.reshape(len(decided), 2, -1) * decided[:, None, None]
                self._tally(inputs, flat, np.eye(2)[:, :, None], tallies)
        for name, leaf in self.question.leaves.items():
            if name != FAILED_WHEN:
                joint = beliefs.marginal(*leaf.scope)
                inputs = strengths.inputs_of_finding(self.network, leaf, now)
                seen = self.likelihoods[name][:, None, :]
                flat = joint.reshape(len(inputs[0].factor), 1, -1) * (seen != 1.0).any(axis=(0, 1))
                self._tally(inputs, flat, seen, tallies)
        for key, row, factor in strengths.feeds_of(self.network):
            node = self.network.index[key[0]]
            if node in touched:
                self._share(key, factor, beliefs.marginal(0, node)[row], tallies)
        return float(beliefs.log_evidence.sum())

    def _tally(self, inputs: Sequence[Input], joint: Vector, seen: Vector, tallies: Tallies) -> None:
        """Expected counts of the links into one effect.

        joint: posterior over (configuration of its parents, what is known of its level, record); seen: likelihood of
        each level (level, what is known of it, record).
        """
        at_most = [i.at_most() for i in inputs]
        together = np.prod(at_most, axis=0)
        weight_of = np.diff(together, axis=0, prepend=0.0)
        explained = np.einsum("lu,lkr->ukr", weight_of, seen)
        share = np.divide(joint, explained, out=np.zeros(np.broadcast_shapes(joint.shape, explained.shape)),
                          where=explained > 0.0)  # fmt: skip
        for i, link in enumerate(inputs):
            others = np.prod([a for j, a in enumerate(at_most) if j != i], axis=0) * np.ones_like(together)
            levels = link.levels()
            counts = []
            for level in range(len(together)):
                reach = np.where(np.arange(len(together))[:, None] >= level, others, 0.0)
                given = levels[level] * np.diff(reach, axis=0, prepend=0.0)
                counts.append(np.einsum("lu,lkr,ukr->ur", given, seen, share))
            self._add(link, np.stack(counts), tallies)

    def _add(self, link: Input, counts: Vector, tallies: Tallies) -> None:
        """counts: expected, by (level of this link alone, configuration, record)."""
        able = link.factor > 0.0
        acted, idle = counts[1:, able].sum(axis=1), counts[0, able]
        tally = tallies.setdefault(link.key, Tally(np.zeros(len(link.acts))))
        assert isinstance(tally, Tally)
        tally.acted += acted.sum(axis=1)
        strength = float(link.acts.sum())
        score = acted.sum(axis=0) / max(strength, _TINY)
        for factor in np.unique(link.factor[able]):
            here = idle[link.factor[able] == factor].sum(axis=0)
            tally.idle[float(factor)] = tally.idle.get(float(factor), 0.0) + float(here.sum())
            score = score - here * factor / max(1.0 - strength * factor, _TINY)
        tells = np.abs(score) > _TELLS
        tally.records += float(acted[:, tells].sum() + idle[:, tells].sum())
        tally.score_squared += float((score**2).sum())

    def _share(self, key: Key, factor: float, joint: Vector, tallies: Tallies) -> None:
        """joint: P(this first mechanism and cause absent, there), shape (2, records)."""
        shares = tallies.setdefault(key, Shares())
        assert isinstance(shares, Shares)
        absent, there = (float(x) for x in joint.sum(axis=1))
        shares.there[factor] = shares.there.get(factor, 0.0) + there
        shares.absent[factor] = shares.absent.get(factor, 0.0) + absent
        shares.records += float(joint[:, self.named].sum())
