"""Which check to make next: expected information about `first` and expected saving, each beside its minutes.

What one step of the teardown shows comes for the same minutes, so steps are ordered by what all of it is expected to
tell together, and the findings of a step by their own information.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stripdown.knowledge.model import Knowledge, Step
from stripdown.reasoning.decide import Costs, admitted, expected_cost, members
from stripdown.reasoning.infer import Posterior, everything
from stripdown.reasoning.model import ESTABLISHED, Check, Evidence
from stripdown.reasoning.network import Network, Vector

CONSIDERED = 12
"""Checks for which the saving is worked out, in the order in which they are proposed."""
LISTED = 8
OF_ONE_STEP = 3
"""So many findings of a step are named at most: the others are seen with them."""


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    finding: str
    step: Step
    minutes: float
    gain: float
    surer: float
    """Expected fall of the chance to be wrong when the mechanism is named by its odds, 1 - sum of p squared."""
    levels: Vector
    """P(level) given the findings."""


def open_checks(knowledge: Knowledge, evidence: Evidence) -> dict[str, tuple[Step, float]]:
    """Finding not yet looked at → (its step, minutes with what must be opened first), where the teardown still
    allows it."""
    step_of, by_id, done = _stage(knowledge, evidence)
    out = {}
    for finding, step in step_of.items():
        if finding in evidence.likelihoods or (set(step.until) & done):
            continue
        out[finding] = (step, sum(by_id[s].minutes for s in _to_do(step, by_id, done)))
    return out


def _stage(knowledge: Knowledge, evidence: Evidence) -> tuple[dict[str, Step], dict[str, Step], set[str]]:
    """(finding → its step, id → step, ids of the steps made)."""
    step_of = {f: s for s in knowledge.steps for f in _findings_of(knowledge, s)}
    done = {step_of[f].id for f in evidence.likelihoods if f in step_of}
    return step_of, {s.id: s for s in knowledge.steps}, done


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
    now = posterior.first[:, 0]
    before, sure = _entropy(now), float(now @ now)
    out = []
    for finding, (step, minutes) in findings.items():
        leaf = network.leaf(finding)
        joint = posterior.beliefs.marginal(*leaf.scope)[..., 0]
        by_first = (leaf.table[..., 0] * joint).reshape(len(leaf.table), len(network.mechanisms), -1).sum(axis=2)
        levels = by_first.sum(axis=1)
        after = sum(p * _entropy(row / p) for p, row in zip(levels, by_first, strict=True) if p > 0.0)
        surer = sum(float(row @ row) / p for p, row in zip(levels, by_first, strict=True) if p > 0.0) - sure
        out.append(_Candidate(finding, step, minutes, float(max(0.0, before - after)), max(0.0, surer), levels))
    return out


def _entropy(p: Vector) -> float:
    positive = p[p > 0.0]
    return float(-(positive * np.log2(positive)).sum())


def next_checks(
    network: Network, knowledge: Knowledge, costs: Costs, evidence: Evidence, posterior: Posterior
) -> tuple[tuple[Check, ...], float | None]:
    """(checks worth their time, the step that tells most a minute first; expected cost when the best saving one is
    made first, None = none pays).

    A check is worth its time where it saves more than it costs; and, as long as nothing is established, where its step
    makes the mechanism surer by more than it costs: a single finding seldom changes the outcome where several do.
    """
    told = _told(knowledge, evidence, gains(network, posterior, open_checks(knowledge, evidence)))
    considered = _in_order(told)[:CONSIDERED]
    if not considered:
        return (), None
    savings = _savings(network, knowledge, costs, evidence, posterior, considered)
    price = {c.finding: c.minutes / 60.0 * costs.amounts["bench_hour"] for c in considered}
    missed = 0.0 if float(posterior.first.max()) >= ESTABLISHED else costs.error["first_mechanism_missed"]
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
        if max(savings[c.finding], missed * told[c]) > price[c.finding]
    ]
    current = _best_cost(knowledge, costs, evidence, posterior)[0]
    after = [current - savings[c] + price[c] for c in savings]
    after += _bundles(network, knowledge, costs, evidence, posterior, float(current))
    return tuple(checks[:LISTED]), float(min(after) + costs.amounts["inspection"])


def _told(knowledge: Knowledge, evidence: Evidence, candidates: list[_Candidate]) -> dict[_Candidate, float]:
    """Candidate → how much surer its step makes the mechanism, with the steps that come before it. Findings of one
    state tell partly the same, so their sum is an upper bound."""
    _, by_id, done = _stage(knowledge, evidence)
    of_step: dict[str, float] = {}
    for c in candidates:
        of_step[c.step.id] = of_step.get(c.step.id, 0.0) + c.surer
    together = {c.step.id: sum(of_step.get(s, 0.0) for s in _to_do(c.step, by_id, done)) for c in candidates}
    return {c: together[c.step.id] for c in candidates}


def _in_order(told: Mapping[_Candidate, float]) -> list[_Candidate]:
    """Steps by what they tell a minute; of each the findings that tell most by themselves."""
    ordered = sorted(told, key=lambda c: (-told[c] / c.minutes, c.step.id, -c.gain, c.finding))
    named: dict[str, int] = {}
    out = []
    for c in ordered:
        named[c.step.id] = named.get(c.step.id, 0) + 1
        if named[c.step.id] <= OF_ONE_STEP:
            out.append(c)
    return out


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
