"""Findings as likelihoods over their levels → probabilities of everything in the network. Exact."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from stripdown.knowledge.model import Finding
from stripdown.reasoning.junction import Beliefs, JunctionTree, Table, divided
from stripdown.reasoning.network import Leaf, Network, Vector

Likelihoods = Mapping[str, Vector]
"""Finding id → likelihood of each level, none first; shape (levels,) or (levels, batch)."""
FAILED_WHEN = "history.failed_when"
CHUNK = 48
"""Columns that are worked at a time: a clique then stays in the processor's cache."""


def leaf_of(network: Network, finding: str) -> Leaf:
    """The leaf of a finding, or of when the machine failed."""
    if finding != FAILED_WHEN:
        return network.leaf(finding)
    when = network.knowledge.failed_when
    table = np.array([when.by.get(m, when.any) for m in network.mechanisms]).T[:, :, None]
    return Leaf(Finding(FAILED_WHEN, when.STATES[1:], (), (), {}, True), (0,), table)


def observed(leaf: Leaf, likelihood: Vector) -> Table:
    """Probability of what was observed, over the variables the leaf hangs on (batch last)."""
    if likelihood.ndim == 1:
        return np.tensordot(likelihood, leaf.table, axes=(0, 0))
    flat = leaf.table[..., 0]
    return np.tensordot(flat, likelihood, axes=(0, 0)) if leaf.table.shape[-1] == 1 else _both(leaf.table, likelihood)


def _both(table: Table, likelihood: Vector) -> Table:
    return np.asarray((table * likelihood.reshape(len(table), *([1] * (table.ndim - 2)), -1)).sum(axis=0))


@lru_cache(maxsize=512)
def _tree(
    cards: tuple[int, ...], scopes: frozenset[tuple[int, ...]]
) -> tuple[JunctionTree, tuple[tuple[int, ...], ...]]:
    ordered = tuple(sorted(scopes))
    return JunctionTree(cards, ordered, root=(0,)), ordered


class Question:
    """The part of a network that some findings touch, ready to be asked about `first` in many variants at once.

    `also`: variables whose probabilities are wanted although no finding needs them.
    """

    def __init__(self, network: Network, findings: Sequence[str], also: Sequence[int] = ()) -> None:
        self.network = network
        self.leaves = {f: leaf_of(network, f) for f in findings}
        wanted = {v for leaf in self.leaves.values() for v in leaf.scope} | set(also)
        self._families = sorted(network.ancestors(sorted(wanted)))
        scopes = (
            {network.families[v][0] for v in self._families} | {leaf.scope for leaf in self.leaves.values()} | {(0,)}
        )
        self.tree, self._scopes = _tree(network.cards, frozenset(scopes))
        self._place = {s: i for i, s in enumerate(self._scopes)}
        self._base: list[Table | None] = [None] * len(self._scopes)
        for v in self._families:
            self._multiply(self._base, network.families[v][0], network.families[v][1])

    def _multiply(self, tables: list[Table | None], scope: tuple[int, ...], table: Table) -> None:
        i = self._place[scope]
        held = tables[i]
        tables[i] = table if held is None else held * table

    def _tables(self, likelihoods: Likelihoods) -> list[Table]:
        tables = list(self._base)
        for finding, likelihood in likelihoods.items():
            leaf = self.leaves[finding]
            self._multiply(tables, leaf.scope, observed(leaf, likelihood))
        return [np.ones((1,) * (len(s) + 1)) if t is None else t for s, t in zip(self._scopes, tables, strict=True)]

    def first(self, likelihoods: Likelihoods) -> tuple[Vector, Vector]:
        """(P(first | findings), log P(findings)): shapes (mechanisms, batch) and (batch,). Missing findings are not
        looked at."""
        batch = max((v.shape[1] for v in likelihoods.values() if v.ndim == 2), default=1)
        if batch <= CHUNK:
            return self._first(likelihoods)
        parts = []
        for start in range(0, batch, CHUNK):
            cut = {k: v if v.ndim == 1 else v[:, start : start + CHUNK] for k, v in likelihoods.items()}
            parts.append(self._first(cut))
        return np.concatenate([p for p, _ in parts], axis=1), np.concatenate([e for _, e in parts])

    def _first(self, likelihoods: Likelihoods) -> tuple[Vector, Vector]:
        weights, log_scale = self.tree.collect(self._tables(likelihoods), (0,))
        weights = weights * self.network.prior[:, None]
        total = weights.sum(axis=0)
        with np.errstate(divide="ignore"):
            log_evidence = np.log(total) + log_scale
        return divided(weights, total), log_evidence

    def beliefs(self, likelihoods: Likelihoods, known: Mapping[int, Vector] | None = None) -> Beliefs:
        """All joint probabilities within cliques, given the findings and the prior.

        known: weights of the values of `first` (0) or of a cause, shape (values, batch), where a person has said so.
        """
        tables = self._tables(likelihoods)
        for variable, weights in (known or {}).items():
            place = self._place[self.network.families[variable][0] if variable else (0,)]
            tables[place] = tables[place] * (weights[None, :] if variable else weights)
        place = self._place[(0,)]
        tables[place] = tables[place] * self.network.prior[:, None]
        return self.tree.calibrate(tables)


@dataclass(frozen=True)
class Posterior:
    """Probabilities given the findings; last axis = batch."""

    network: Network
    beliefs: Beliefs
    first: Vector
    states: Mapping[str, Vector]
    causes: Mapping[str, Vector]
    cause_with_first: Mapping[str, Vector]
    """Cause id → P(first = m and cause at work), shape (mechanisms, batch)."""
    log_evidence: Vector

    def at_work(self, mechanism: str) -> Vector:
        """P(mechanism at work, first or following)."""
        if mechanism in self.states:
            return self.states[mechanism]
        return np.asarray(self.first[self.network.first_index[mechanism]])

    def given_first(self, state: str, mechanism: str) -> Vector:
        """P(state or cause | first = mechanism, findings)."""
        node = self.network.index[state]
        joint = self.beliefs.marginal(0, node)[self.network.first_index[mechanism], 1]
        share = self.first[self.network.first_index[mechanism]]
        return divided(joint, share)


def everything(network: Network, likelihoods: Likelihoods, also: Sequence[str] = ()) -> Posterior:
    """Probabilities of all mechanisms, states and causes. `also`: further findings whose leaves must lie in cliques
    (for predictions)."""
    every = range(1, len(network.names))
    question = Question(network, [*likelihoods, *(f for f in also if f not in likelihoods)], every)
    beliefs = question.beliefs(likelihoods)
    pairs = {name: beliefs.marginal(0, i) for name, i in network.index.items() if i}
    return Posterior(
        network=network,
        beliefs=beliefs,
        first=beliefs.marginal(0),
        states={s: pairs[s][:, 1].sum(axis=0) for s in network.states},
        causes={c: pairs[c][:, 1].sum(axis=0) for c in network.causes},
        cause_with_first={c: pairs[c][:, 1] for c in network.causes},
        log_evidence=beliefs.log_evidence,
    )


def none_of(network: Network, likelihoods: Likelihoods, causes: Sequence[str]) -> Vector:
    """P(none of these causes at work | findings)."""
    nodes = [network.index[c] for c in causes]
    question = Question(network, list(likelihoods), nodes)
    tables = question._tables(likelihoods)
    absent = [*tables]
    for node in nodes:
        place = question._place[network.families[node][0]]
        absent[place] = absent[place] * np.array([1.0, 0.0])[None, :, None]
    results = []
    for variant in (absent, tables):
        weights, scale = question.tree.collect(variant, (0,))
        results.append(np.log((weights * network.prior[:, None]).sum(axis=0)) + scale)
    return np.asarray(np.exp(results[0] - results[1]))
