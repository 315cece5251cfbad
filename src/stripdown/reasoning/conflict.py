"""Do the findings go together?

The figure is what it costs to explain all of them by the mechanism that leads: the sum over the findings of the log
probability each would have under the mechanism that fits it best, less the log probability of all of them together
under the leading one. It is held against records drawn from the leading mechanism in which the same things were
looked at, so that a rare mechanism told coherently is no conflict.
"""

import itertools
import zlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stripdown.reasoning.infer import FAILED_WHEN, Likelihoods, Posterior, everything, leaf_of
from stripdown.reasoning.model import Conflict, Evidence
from stripdown.reasoning.network import Leaf, Network, Vector
from stripdown.reasoning.whole import whole

SIMULATED = 600
STAGES = (0, 40, 160, SIMULATED)
"""The simulated records are compared in lots; those that follow are left out once the limit is passed."""
SEED = 30_000
FLAGGED_BELOW = 0.02
HARMLESS = 1.0
"""Figures [nat] up to here are not held against simulated records: they are never a conflict worth a person's time."""
Levels = NDArray[np.int64]


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
        scope, table = network.family(node)
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
    return {f: _given_first(network, f) for f in findings}


def _given_first(network: Network, finding: str) -> Vector:
    leaf = leaf_of(network, finding)
    states = tuple(v for v in leaf.scope if 0 < v <= len(network.states))
    causes = tuple(v for v in leaf.scope if v > len(network.states))

    def work_out() -> Vector:
        joint = network.shared(("nothing known",), lambda: whole(network.knowledge).nothing_known(network)).marginal(
            0, *states
        )[..., 0]
        joint = joint / joint.sum(axis=tuple(range(1, joint.ndim)), keepdims=True)
        joint = joint.reshape(*joint.shape, *[1] * len(causes))
        for i, v in enumerate(causes):
            shape = [1] * joint.ndim
            shape[0], shape[1 + len(states) + i] = len(network.mechanisms), 2
            joint = joint * network.family(v)[1][..., 0].reshape(shape)
        return np.asarray((leaf.table[..., 0] * joint).reshape(*leaf.table.shape[:2], -1).sum(axis=2))

    if not causes:
        return network.shared(("levels", finding, id(leaf.table)), work_out)
    known: dict[str, Vector] = network.memo.setdefault("levels_by_first", {})
    if finding not in known:
        known[finding] = work_out()
    return known[finding]


class _Drawn:
    """Records drawn from one first mechanism: the same states behind all findings, whatever was looked at."""

    def __init__(self, network: Network, row: int) -> None:
        self._network, self._row = network, row

    def levels(self, finding: str) -> Levels:
        """Level of a finding in each record."""
        leaf = leaf_of(self._network, finding)
        if any(v > len(self._network.states) for v in leaf.scope):
            return self._levels(finding, leaf)
        key = ("drawn", finding, id(leaf.table), self._row)
        return self._network.shared(key, lambda: self._levels(finding, leaf))

    def _levels(self, finding: str, leaf: Leaf) -> Levels:
        where: tuple[Any, ...] = (slice(None), *(self._value(v) for v in leaf.scope))
        p = leaf.table[..., 0][where]
        return np.asarray((_chance(finding)[None, :] > np.cumsum(p, axis=0)[:-1]).sum(axis=0))

    def _value(self, variable: int) -> Levels:
        if variable == 0:
            return np.full(SIMULATED, self._row)
        if variable > len(self._network.states):
            return self._draw(variable)
        return self._network.shared(("drawn", str(variable), 0, self._row), lambda: self._draw(variable))

    def _draw(self, variable: int) -> Levels:
        scope, table = self._network.family(variable)
        yes = table[..., 0][(*(self._value(v) for v in scope[:-1]), 1)]
        return np.asarray((_chance(self._network.names[variable]) < yes).astype(np.int64))


def _chance(name: str) -> Vector:
    """The draws of one variable or finding, the same in every network."""
    return np.random.default_rng([SEED, zlib.crc32(name.encode())]).random(SIMULATED)


def find(network: Network, evidence: Evidence) -> tuple[Conflict | None, float]:
    """(the conflict if there is one, the figure)."""
    return _find(everything(network, evidence.likelihoods), evidence)


def find_many(entries: Sequence[Posterior], evidences: Sequence[Evidence]) -> list[Conflict | None]:
    """The conflict of each record, of which the posterior is known."""
    return [_find(posterior, evidence)[0] for posterior, evidence in zip(entries, evidences, strict=True)]


def _find(posterior: Posterior, evidence: Evidence) -> tuple[Conflict | None, float]:
    network = posterior.network
    about = _of_the_machine(network, evidence, posterior.first[:, 0])
    if len(about.likelihoods) < 2:
        return None, 0.0
    if about is not evidence:
        posterior = everything(network, about.likelihoods)
    row = int(posterior.first[:, 0].argmax())
    seen = {f: v[:, None] for f, v in about.likelihoods.items()}
    together = np.log(posterior.first[row]) + posterior.log_evidence - np.log(network.prior[row])
    at = max(0.0, float((_alone(network, seen) - together)[0]))
    if at <= HARMLESS:
        return None, at
    tail = _tail(network, row, list(seen), at)
    if tail > FLAGGED_BELOW:
        return None, at
    return Conflict(at, tail, _clashing(network, row, about, at)), at


def _alone(network: Network, likelihoods: Likelihoods) -> Vector:
    """Sum of the log probabilities of the findings, each under its own best mechanism."""
    possible = network.prior > 0.0
    total = np.zeros(1)
    for finding, likelihood in likelihoods.items():
        best = _given_first(network, finding)[:, possible]
        total = total + np.log(sum(row[:, None] * p for row, p in zip(best, likelihood, strict=True)).max(axis=0))
    return total


def _figure(network: Network, row: int, likelihoods: Likelihoods) -> Vector:
    """The figure [nat] of each batch entry when this mechanism leads."""
    return _alone(network, likelihoods) - whole(network.knowledge).log_given(network, row, likelihoods)


def _tail(network: Network, row: int, findings: Sequence[str], at: float) -> float:
    """Share of the drawn records whose figure is as large."""
    drawn = _Drawn(network, row)
    levels = {f: drawn.levels(f) for f in findings}
    larger = 0
    for start, stop in itertools.pairwise(STAGES):
        some = {f: np.eye(len(leaf_of(network, f).table))[:, levels[f][start:stop]] for f in findings}
        larger += int((_figure(network, row, some) >= at).sum())
        if 1 + larger > FLAGGED_BELOW * (SIMULATED + 1):
            break
    return (1 + larger) / (SIMULATED + 1)


def _of_the_machine(network: Network, evidence: Evidence, first: Vector) -> Evidence:
    """The findings on the machine, once a sound unit leads: what is wrong on its site then goes together by nature."""
    if network.mechanisms[int(first.argmax())] != "no_fault":
        return evidence
    kept = {f: v for f, v in evidence.likelihoods.items() if not leaf_of(network, f).finding.on_site}
    return Evidence(kept, evidence.labels, evidence.stated & set(kept), evidence.also)


def _clashing(network: Network, row: int, evidence: Evidence, at: float) -> tuple[str, ...]:
    """The findings without which the rest go together best, the worst first."""
    findings = [f for f in evidence.likelihoods if f != FAILED_WHEN]
    likelihoods: Mapping[str, Vector] = {
        f: np.repeat(v[:, None], len(findings), axis=1) for f, v in evidence.likelihoods.items()
    }
    for j, f in enumerate(findings):
        likelihoods[f][:, j] = 1.0
    drop = at - _figure(network, row, likelihoods)
    order = np.argsort(-drop, kind="stable")
    return tuple(evidence.labels[findings[i]] for i in order[:4] if drop[i] > 0.15 * at)
