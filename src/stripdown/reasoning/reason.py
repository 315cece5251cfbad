"""Context and evidence → the whole answer about one machine."""

from functools import lru_cache
from typing import Any

import numpy as np

from stripdown.knowledge.model import Knowledge
from stripdown.reasoning import chain as chains
from stripdown.reasoning import checks, conflict, decide, explain
from stripdown.reasoning.infer import Posterior, everything
from stripdown.reasoning.model import ESTABLISHED, LIKELY, Check, Correction, Evidence, Finding, Share
from stripdown.reasoning.network import Context, Network

CORRECTED_FROM = 0.15


class Reasoner:
    """Knowledge and a cost table, with the networks of the contexts met so far."""

    def __init__(self, knowledge: Knowledge, costs: decide.Costs, *, rebuilder: bool = False) -> None:
        self.knowledge = knowledge
        self.costs = costs
        self._network = lru_cache(maxsize=512)(lambda items: Network(knowledge, dict(items), rebuilder=rebuilder))

        self._shaken = lru_cache(maxsize=16)(lambda items: explain.shaken(self._network(items)))

    def network(self, context: Context) -> Network:
        """The network of a context, built once."""
        return self._network(tuple(sorted(context.items())))

    def judge(self, context: Context, evidence: Evidence, parts: tuple[str, ...], *, brief: bool = False) -> Finding:
        """The answer; `brief` leaves the explanation out, and the next checks where the outcome did not need them."""
        network = self.network(context)
        open_findings = [] if brief else list(checks.open_checks(self.knowledge, evidence))
        posterior = everything(network, evidence.likelihoods, open_findings)
        first = posterior.first[:, 0]
        clash, _ = conflict.find(network, evidence)
        status = _status(float(first.max()), clash is not None)
        if brief and status != "open" and not decide.admitted(self.knowledge, evidence)[1]:
            next_checks: tuple[Check, ...] = ()
            inspect_cost = None
        else:
            if brief:
                posterior = everything(
                    network, evidence.likelihoods, list(checks.open_checks(self.knowledge, evidence))
                )
            next_checks, inspect_cost = checks.next_checks(network, self.knowledge, self.costs, evidence, posterior)
        outcome = decide.choose(self.knowledge, self.costs, evidence, posterior, status, inspect_cost)
        common: dict[str, Any] = {
            "status": status,
            "first": _ranked({m: float(first[i]) for i, m in enumerate(network.mechanisms)}),
            "mechanisms": _ranked({m: float(posterior.at_work(m)[0]) for m in network.mechanisms if m != "no_fault"}),
            "causes": _ranked({c: float(p[0]) for c, p in posterior.causes.items()}),
            "outcome": outcome,
            "liability": decide.liability(self.knowledge, posterior, status),
            "avoidable_return": decide.avoidable_return(self.knowledge, posterior, outcome),
            "avoidable_failure": decide.avoidable_failure(self.knowledge, evidence, posterior),
            "conflict": clash,
            "unexplained": chains.unexplained(network, posterior, evidence),
            "parts": parts,
        }
        if brief:
            return Finding(**common, next_checks=next_checks)
        mechanism = network.mechanisms[int(np.argmax(first))]
        headline = explain.Headline(network, evidence, mechanism)
        weights, without = explain.weights(headline, evidence)
        return Finding(
            **common,
            chain=chains.chain(network, self.knowledge, posterior, evidence),
            evidence=weights,
            rival=explain.rival(headline, evidence, first, without),
            flips=explain.flips(headline, evidence),
            robustness=explain.robustness(self._shaken(tuple(sorted(context.items()))), evidence, mechanism),
            next_checks=next_checks,
            corrections=_corrections(self.knowledge, posterior),
            cautions=_cautions(self.knowledge, next_checks),
        )


def _status(top: float, conflicting: bool) -> str:
    if conflicting:
        return "conflicting"
    return "established" if top >= ESTABLISHED else "likely" if top >= LIKELY else "open"


def _ranked(shares: dict[str, float]) -> tuple[Share, ...]:
    return tuple(Share(k, v) for k, v in sorted(shares.items(), key=lambda kv: (-kv[1], kv[0])))


def _corrections(knowledge: Knowledge, posterior: Posterior) -> tuple[Correction, ...]:
    ranked = sorted(posterior.causes.items(), key=lambda kv: (-float(kv[1][0]), kv[0]))
    out = [Correction(c, knowledge.causes[c].correction) for c, p in ranked if float(p[0]) >= CORRECTED_FROM]
    for action in knowledge.actions:
        if float(posterior.states[action.state][0]) >= action.when_at_least:
            out.append(Correction(None, action.text))
    return tuple(out)


def _cautions(knowledge: Knowledge, next_checks: tuple[Check, ...]) -> tuple[str, ...]:
    return (knowledge.general_caution, *dict.fromkeys(c.caution for c in next_checks))
