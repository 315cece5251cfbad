"""Do the findings go together?

The figure is what it costs to explain all of them by one first mechanism: the sum over the findings of the log
probability each would have under the mechanism that fits it best, less the log probability of all of them together
under the one that leads. It is held against records drawn from the leading mechanism in which the same things were
looked at, so that a rare mechanism told coherently is no conflict.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from stripdown.reasoning.infer import FAILED_WHEN, Likelihoods, Question, leaf_of
from stripdown.reasoning.model import Conflict, Evidence
from stripdown.reasoning.network import Network, Vector

SIMULATED = 600
SEED = 30_000
FLAGGED_BELOW = 0.02
HARMLESS = 1.0
"""Figures [nat] up to here are not held against simulated records: they are never a conflict worth a person's time."""


def simulate(
    network: Network, findings: Sequence[str], number: int, seed: int, mechanism: str | None = None
) -> tuple[dict[int, Any], dict[str, Any]]:
    """(variable → its value in each record, 0 = the first mechanism; finding → level in each record), drawn from the
    network, or under one mechanism."""
    random = np.random.default_rng(seed)
    if mechanism is None:
        first = random.choice(len(network.mechanisms), size=number, p=network.prior)
    else:
        first = np.full(number, network.first_index[mechanism])
    values: dict[int, Any] = {0: first}
    for node in sorted(network.ancestors([v for f in findings for v in leaf_of(network, f).scope])):
        scope, table = network.families[node]
        yes = table[..., 0][(*(values[v] for v in scope[:-1]), 1)]
        values[node] = (random.random(number) < yes).astype(int)
    levels = {}
    for finding in findings:
        leaf = leaf_of(network, finding)
        p = leaf.table[..., 0][(slice(None), *(values[v] for v in leaf.scope))]
        levels[finding] = (random.random(number)[None, :] > np.cumsum(p, axis=0)[:-1]).sum(axis=0)
    return values, levels


def levels_by_first(network: Network, findings: Sequence[str]) -> dict[str, Vector]:
    """Finding → P(level | first mechanism), shape (levels, mechanisms), before anything is known."""
    known: dict[str, Vector] = network.memo.setdefault("levels_by_first", {})
    missing = [f for f in findings if f not in known]
    if missing:
        question = Question(network, missing)
        tables = question._tables({})
        beliefs = question.tree.calibrate(tables)
        for finding in missing:
            leaf = question.leaves[finding]
            joint = beliefs.marginal(*leaf.scope)[..., 0].reshape(len(network.mechanisms), -1)
            table = leaf.table[..., 0].reshape(len(leaf.table), len(network.mechanisms), -1)
            known[finding] = (table * joint).sum(axis=2) / joint.sum(axis=1)
    return {f: known[f] for f in findings}


class _Figure:
    """The figure for one set of things looked at."""

    def __init__(self, network: Network, findings: Sequence[str]) -> None:
        self.question = Question(network, findings)
        self._by_first = levels_by_first(network, findings)
        self._possible = network.prior > 0.0
        self._log_prior = np.log(np.where(self._possible, network.prior, 1.0))

    def alone(self, likelihoods: Likelihoods) -> Vector:
        """Sum of the log probabilities of the findings, each under its own best mechanism."""
        total = np.zeros(1)
        for finding, likelihood in likelihoods.items():
            given = self._by_first[finding].T @ likelihood
            total = total + np.log(np.where(self._possible[:, None], given, 0.0).max(axis=0))
        return total

    def __call__(self, likelihoods: Likelihoods) -> tuple[Vector, Any]:
        """(figure [nat], leading mechanism) for each batch entry."""
        posterior, log_evidence = self.question.first(likelihoods)
        lead = posterior.argmax(axis=0)
        at_lead = posterior[lead, np.arange(posterior.shape[1])]
        together = np.log(at_lead) + log_evidence - self._log_prior[lead]
        return np.maximum(self.alone(likelihoods) - together, 0.0), lead


def find(network: Network, evidence: Evidence) -> tuple[Conflict | None, float]:
    """(the conflict if there is one, the figure)."""
    evidence = _of_the_machine(network, evidence)
    findings = list(evidence.likelihoods)
    if len(findings) < 2:
        return None, 0.0
    figure = _Figure(network, findings)
    seen = {f: v[:, None] for f, v in evidence.likelihoods.items()}
    values, lead = figure(seen)
    at = float(values[0])
    if at <= HARMLESS:
        return None, at
    _, levels = simulate(network, findings, SIMULATED, SEED, network.mechanisms[int(lead[0])])
    drawn = {f: np.eye(len(leaf_of(network, f).table))[:, levels[f]] for f in findings}
    tail = float((1 + (figure(drawn)[0] >= at).sum()) / (SIMULATED + 1))
    if tail > FLAGGED_BELOW:
        return None, at
    return Conflict(at, tail, _clashing(figure, evidence, at)), at


def _of_the_machine(network: Network, evidence: Evidence) -> Evidence:
    """The findings on the machine, once a sound unit leads: what is wrong on its site then goes together by nature."""
    first, _ = Question(network, list(evidence.likelihoods)).first(evidence.likelihoods)
    if network.mechanisms[int(first[:, 0].argmax())] != "no_fault":
        return evidence
    kept = {f: v for f, v in evidence.likelihoods.items() if not leaf_of(network, f).finding.on_site}
    return Evidence(kept, evidence.labels, evidence.stated & set(kept), evidence.also)


def _clashing(figure: _Figure, evidence: Evidence, at: float) -> tuple[str, ...]:
    """The findings without which the rest go together best, the worst first."""
    findings = [f for f in evidence.likelihoods if f != FAILED_WHEN]
    likelihoods: Mapping[str, Vector] = {
        f: np.repeat(v[:, None], len(findings), axis=1) for f, v in evidence.likelihoods.items()
    }
    for j, f in enumerate(findings):
        likelihoods[f][:, j] = 1.0
    drop = at - figure(likelihoods)[0]
    order = np.argsort(-drop, kind="stable")
    return tuple(evidence.labels[findings[i]] for i in order[:4] if drop[i] > 0.15 * at)
