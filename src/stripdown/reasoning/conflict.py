"""Do the findings go together? Their independent log probability less the joint one, as a tail among simulated
records."""

from typing import Any

import numpy as np

from stripdown.reasoning.infer import FAILED_WHEN, Question, leaf_of
from stripdown.reasoning.model import Conflict, Evidence
from stripdown.reasoning.network import Network, Vector

SIMULATED = 1000
SEED = 30_000
FLAGGED_BELOW = 0.01


def simulate(network: Network, findings: list[str], number: int, seed: int) -> tuple[Any, dict[str, Any]]:
    """(first mechanism of each record, finding → level of each record), drawn from the network."""
    random = np.random.default_rng(seed)
    values: dict[int, Any] = {0: random.choice(len(network.mechanisms), size=number, p=network.prior)}
    needed = network.ancestors([v for f in findings for v in leaf_of(network, f).scope])
    for node in sorted(needed):
        scope, table = network.families[node]
        yes = table[..., 0][(*(values[v] for v in scope[:-1]), 1)]
        values[node] = (random.random(number) < yes).astype(int)
    levels = {}
    for finding in findings:
        leaf = leaf_of(network, finding)
        table = leaf.table[..., 0]
        p = table[(slice(None), *(values[v] for v in leaf.scope))]
        cumulative = np.cumsum(p, axis=0)
        levels[finding] = (random.random(number)[None, :] > cumulative[:-1]).sum(axis=0)
    return values[0], levels


def marginals(network: Network, findings: list[str]) -> dict[str, Vector]:
    """P(level) of each finding before anything is known."""
    question = Question(network, findings)
    beliefs = question.beliefs({})
    out = {}
    for finding in findings:
        leaf = question.leaves[finding]
        joint = beliefs.marginal(*leaf.scope)[..., 0]
        out[finding] = (leaf.table[..., 0] * joint).reshape(len(leaf.table), -1).sum(axis=1)
    return out


def figure(question: Question, own: dict[str, Vector], likelihoods: dict[str, Vector]) -> Vector:
    """Sum of the findings' own log probabilities less the log of their joint probability [nat]; above 0 they speak
    against one another."""
    alone = sum(np.log(own[f] @ v) for f, v in likelihoods.items())
    return np.asarray(alone - question.first(likelihoods)[1])


def find(network: Network, evidence: Evidence) -> tuple[Conflict | None, float]:
    """(the conflict if it is one, the figure). Only records whose findings are rarer together than apart are held
    against simulated ones."""
    findings = list(evidence.likelihoods)
    if len(findings) < 2:
        return None, 0.0
    question = Question(network, findings)
    own = marginals(network, findings)
    at = float(figure(question, own, {f: v[:, None] for f, v in evidence.likelihoods.items()})[0])
    if at <= 0.0:
        return None, at
    _, levels = simulate(network, findings, SIMULATED, SEED)
    likelihoods = {f: np.eye(len(own[f]))[:, levels[f]] for f in findings}
    tail = float((1 + (figure(question, own, likelihoods) >= at).sum()) / (SIMULATED + 1))
    if tail > FLAGGED_BELOW:
        return None, at
    return Conflict(at, tail, _clashing(question, own, evidence, at)), at


def _clashing(question: Question, own: dict[str, Vector], evidence: Evidence, at: float) -> tuple[str, ...]:
    """The findings without which the rest go together best."""
    findings = list(evidence.likelihoods)
    n = len(findings)
    likelihoods = {f: np.repeat(v[:, None], n, axis=1) for f, v in evidence.likelihoods.items()}
    for j, f in enumerate(findings):
        likelihoods[f][:, j] = 1.0
    left = figure(question, own, likelihoods)
    drop = at - left
    order = np.argsort(-drop, kind="stable")
    return tuple(evidence.labels[findings[i]] for i in order[:3] if drop[i] > 0.1 * at and findings[i] != FAILED_WHEN)
