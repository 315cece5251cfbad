"""Which check to make next: expected information about `first` and expected saving, each beside its minutes."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stripdown.knowledge.model import Knowledge, Step
from stripdown.reasoning.decide import Costs, admitted, expected_cost, members
from stripdown.reasoning.infer import Posterior, everything
from stripdown.reasoning.model import Check, Evidence
from stripdown.reasoning.network import Network, Vector

CONSIDERED = 12
"""Checks for which the saving is worked out, best information a minute first."""
LISTED = 8


@dataclass(frozen=True, slots=True)
class _Candidate:
    finding: str
    step: Step
    minutes: float
    gain: float
    levels: Vector
    """P(level) given the findings."""


def open_checks(knowledge: Knowledge, evidence: Evidence) -> dict[str, tuple[Step, float]]:
    """Finding not yet looked at → (its step, minutes with what must be opened first), where the teardown still
    allows it."""
    step_of = {f: s for s in knowledge.steps for f in _findings_of(knowledge, s)}
    done = {step_of[f].id for f in evidence.likelihoods if f in step_of}
    by_id = {s.id: s for s in knowledge.steps}
    out = {}
    for finding, step in step_of.items():
        if finding in evidence.likelihoods or (set(step.until) & done):
            continue
        out[finding] = (step, sum(by_id[s].minutes for s in _to_do(step, by_id, done)))
    return out


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


def gains(network: Network, posterior: Posterior, findings: Mapping[str, tuple[Step, float]]) -> list[_Candidate]:
    """Expected entropy drop of `first` [bit] for each finding, exactly, from the calibrated tree."""
    before = _entropy(posterior.first[:, 0])
    out = []
    for finding, (step, minutes) in findings.items():
        leaf = network.leaf(finding)
        joint = posterior.beliefs.marginal(*leaf.scope)[..., 0]
        by_first = (leaf.table[..., 0] * joint).reshape(len(leaf.table), len(network.mechanisms), -1).sum(axis=2)
        levels = by_first.sum(axis=1)
        after = sum(p * _entropy(row / p) for p, row in zip(levels, by_first, strict=True) if p > 0.0)
        out.append(_Candidate(finding, step, minutes, float(max(0.0, before - after)), levels))
    return out


def _entropy(p: Vector) -> float:
    positive = p[p > 0.0]
    return float(-(positive * np.log2(positive)).sum())


def next_checks(
    network: Network, knowledge: Knowledge, costs: Costs, evidence: Evidence, posterior: Posterior
) -> tuple[tuple[Check, ...], float | None]:
    """(checks worth their time, most information a minute first; expected cost when the best saving one is made
    first, None = none pays)."""
    candidates = gains(network, posterior, open_checks(knowledge, evidence))
    candidates.sort(key=lambda c: (-c.gain / c.minutes, c.finding))
    considered = candidates[:CONSIDERED]
    if not considered:
        return (), None
    savings = _savings(network, knowledge, costs, evidence, posterior, considered)
    price = {c.finding: c.minutes / 60.0 * costs.amounts["bench_hour"] for c in considered}
    checks = [
        Check(
            c.finding,
            c.gain,
            savings[c.finding],
            c.minutes,
            c.step.caution,
            f"{c.step.title}: {c.finding.replace('_', ' ').replace('.', ' ', 1)}",
        )
        for c in considered
        if savings[c.finding] > price[c.finding]
    ]
    current = _best_cost(knowledge, costs, evidence, posterior)[0]
    after = [current - savings[c] + price[c] for c in savings]
    after += _bundles(network, knowledge, costs, evidence, posterior, float(current))
    return tuple(checks[:LISTED]), float(min(after) + costs.amounts["inspection"])


def _bundles(
    network: Network, knowledge: Knowledge, costs: Costs, evidence: Evidence, posterior: Posterior, current: float
) -> list[float]:
    """Expected cost when all that a part-only repair still waits for is looked at together: that repair where all of
    it is sound, else the best of today."""
    _, pending = admitted(knowledge, evidence)
    possible = open_checks(knowledge, evidence)
    out = []
    for outcome, groups in pending.items():
        chosen: dict[str, tuple[Step, float]] = {}
        for group in groups:
            of_group = {f: c for f, c in possible.items() if f in members(knowledge, group)}
            cheapest = min(of_group.values(), key=lambda c: c[1], default=None)
            if group in knowledge.dispositions[outcome].found:
                continue
            if cheapest is None:
                break
            chosen |= {f: c for f, c in of_group.items() if c[0] is cheapest[0]}
        else:
            minutes = sum({step.id: m for step, m in chosen.values()}.values())
            sound = {f: _first_level(network, f) for f in chosen}
            then = everything(network, {**evidence.likelihoods, **sound})
            probability = float(np.exp(then.log_evidence - posterior.log_evidence)[0])
            repaired = float(expected_cost(knowledge.dispositions[outcome], costs, then)[0])
            out.append(
                minutes / 60.0 * costs.amounts["bench_hour"]
                + probability * min(repaired, current)
                + (1.0 - probability) * current
            )
    return out


def _first_level(network: Network, finding: str) -> Vector:
    vector = np.zeros(len(network.leaf(finding).table))
    vector[0] = 1.0
    return vector


def _best_cost(knowledge: Knowledge, costs: Costs, evidence: Evidence, posterior: Posterior) -> Vector:
    now, _ = admitted(knowledge, evidence)
    return np.asarray(np.min([expected_cost(knowledge.dispositions[o], costs, posterior) for o in now], axis=0))


def _savings(
    network: Network,
    knowledge: Knowledge,
    costs: Costs,
    evidence: Evidence,
    posterior: Posterior,
    candidates: list[_Candidate],
) -> dict[str, float]:
    """Expected fall of the least expected cost when the check is made; outcomes that wait for it count where it
    comes out sound."""
    columns: list[tuple[_Candidate, int]] = [(c, level) for c in candidates for level in range(len(c.levels))]
    batch = len(columns)
    likelihoods = {f: np.repeat(v[:, None], batch, axis=1) for f, v in evidence.likelihoods.items()}
    for c in candidates:
        table = np.ones((len(c.levels), batch))
        for j, (other, level) in enumerate(columns):
            if other is c:
                table[:, j] = 0.0
                table[level, j] = 1.0
        likelihoods[c.finding] = table
    variants = everything(network, likelihoods)
    saved = dict.fromkeys((c.finding for c in candidates), float(_best_cost(knowledge, costs, evidence, posterior)[0]))
    costs_of = {o: expected_cost(d, costs, variants) for o, d in knowledge.dispositions.items()}
    for j, (c, level) in enumerate(columns):
        one_hot = np.zeros(len(c.levels))
        one_hot[level] = 1.0
        known = Evidence(
            {**evidence.likelihoods, c.finding: one_hot},
            evidence.labels,
            evidence.stated | ({c.finding} if level else set()),
        )
        now, _ = admitted(knowledge, known)
        saved[c.finding] -= float(c.levels[level]) * min(float(costs_of[o][j]) for o in now)
    return {f: float(max(0.0, s)) for f, s in saved.items()}
