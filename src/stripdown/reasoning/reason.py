"""Context and evidence → the whole answer about one machine."""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from stripdown.knowledge.model import Knowledge
from stripdown.reasoning import chain as chains
from stripdown.reasoning import checks, conflict, decide, explain
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.infer import Asked, Posterior, everything, posterior_of
from stripdown.reasoning.model import ESTABLISHED, LIKELY, Check, Correction, Evidence, Finding, Share
from stripdown.reasoning.network import Context, Network, Vector, context_of

CORRECTED_FROM = 0.15
AT_ONCE = 96
"""Records that go through the network together: their tables then stay in the processor's cache."""


class Reasoner:
    """Knowledge and a cost table, with the networks of the contexts met so far."""

    def __init__(self, knowledge: Knowledge, costs: Costs, *, rebuilder: bool = False) -> None:
        self.knowledge = knowledge
        self.costs = costs
        self._network = lru_cache(maxsize=512)(lambda items: Network(knowledge, dict(items), rebuilder=rebuilder))

        self._shaken = lru_cache(maxsize=16)(lambda items: explain.shaken(self._network(items)))

    def network(self, context: Context) -> Network:
        """The network of a context, built once."""
        return self._network(tuple(sorted(context.items())))

    def get_ready(self) -> None:
        """Make the tables of every context now: processes that are forked from this one then have them."""
        network = self.network(context_of())
        network.get_ready()
        explain.shaken(network).get_ready()

    def judge(self, context: Context, evidence: Evidence, parts: tuple[str, ...], *, brief: bool = False) -> Finding:
        """The answer; `brief` leaves the explanation out, and the next checks where the outcome did not need them."""
        network = self.network(context)
        posterior = everything(network, evidence.likelihoods)
        known, checked = self._known([(network, evidence, parts)], posterior, brief=brief)[0]
        if brief:
            return Finding(**known, next_checks=checked)
        if known["conflict"] is not None:
            checked = (conflict.look_again(self.knowledge, known["conflict"]), *checked)
        first = posterior.first[:, 0]
        mechanism = network.mechanisms[int(np.argmax(first))]
        headline = explain.Headline(network, evidence, mechanism)
        weights, without = explain.weights(headline, evidence)
        return Finding(
            **known,
            chain=chains.chain(network, self.knowledge, posterior, evidence),
            evidence=weights,
            rival=explain.rival(headline, evidence, first, without),
            flips=explain.flips(headline, evidence),
            robustness=explain.robustness(self._shaken(tuple(sorted(context.items()))), evidence, mechanism),
            next_checks=checked,
            corrections=_corrections(self.knowledge, posterior),
            cautions=_cautions(self.knowledge, checked),
        )

    def judge_many(self, records: Sequence[tuple[Context, Evidence, tuple[str, ...]]]) -> list[Finding]:
        """The brief answer for each of many records: the same as one at a time, for a fraction of the work."""
        out = []
        for start in range(0, len(records), AT_ONCE):
            some = [(self.network(c), evidence, parts) for c, evidence, parts in records[start : start + AT_ONCE]]
            posterior = posterior_of([Asked(network, evidence.likelihoods) for network, evidence, _ in some])
            out += [
                Finding(**known, next_checks=checked) for known, checked in self._known(some, posterior, brief=True)
            ]
        return out

    def _known(
        self, records: Sequence[tuple[Network, Evidence, tuple[str, ...]]], posterior: Posterior, *, brief: bool
    ) -> list[tuple[dict[str, Any], tuple[Check, ...]]]:
        """For each record of a batch what every answer holds, and the next checks."""
        entries = [posterior.entry(j) for j in range(len(records))]
        evidences = [evidence for _, evidence, _ in records]
        clashes = conflict.find_many(posterior, evidences)
        unexplained = chains.unexplained(posterior, evidences)
        states = [_status(float(e.first.max()), c is not None) for e, c in zip(entries, clashes, strict=True)]
        looked = [decide.Looked(self.knowledge, evidence) for evidence in evidences]
        wanted = [
            j
            for j, (state, seen) in enumerate(zip(states, looked, strict=True))
            if not brief or state == "open" or seen.admitted()[1]
        ]
        prices = decide.prices_of(self.knowledge, self.costs, posterior, looked)
        checked = self._checks(wanted, evidences, posterior, prices)
        mechanisms = [m for m in self.knowledge.mechanisms if m != "no_fault"]
        at_work = np.stack([posterior.at_work(m) for m in mechanisms])
        there = posterior.there[len(self.knowledge.states) :]
        out = []
        for j, (entry, state, clash) in enumerate(zip(entries, states, clashes, strict=True)):
            next_checks, inspect_cost = checked.get(j, ((), None))
            outcome = decide.choose(self.knowledge, self.costs, looked[j], entry, state, inspect_cost, prices[j])
            known: dict[str, Any] = {
                "status": state,
                "first": _ranked(self.knowledge.mechanisms, posterior.first[:, j]),
                "mechanisms": _ranked(mechanisms, at_work[:, j]),
                "causes": _ranked(self.knowledge.causes, there[:, j]),
                "outcome": outcome,
                "liability": decide.liability(self.knowledge, entry, state),
                "avoidable_return": decide.avoidable_return(self.knowledge, entry, outcome),
                "avoidable_failure": decide.avoidable_failure(entry),
                "conflict": clash,
                "unexplained": unexplained[j],
                "parts": records[j][2],
            }
            out.append((known, next_checks))
        return out

    def _checks(
        self,
        wanted: Sequence[int],
        evidences: Sequence[Evidence],
        posterior: Posterior,
        prices: Sequence[Mapping[str, float]],
    ) -> dict[int, tuple[tuple[Check, ...], float | None]]:
        """Entry of the batch → its next checks and what it is expected to cost to make one first."""
        if not wanted:
            return {}
        found = checks.next_checks_of(
            self.knowledge,
            self.costs,
            [evidences[j] for j in wanted],
            posterior.only(wanted),
            [prices[j] for j in wanted],
        )
        return dict(zip(wanted, found, strict=True))


def _status(top: float, conflicting: bool) -> str:
    if conflicting:
        return "conflicting"
    return "established" if top >= ESTABLISHED else "likely" if top >= LIKELY else "open"


def _ranked(names: Iterable[str], probabilities: Vector) -> tuple[Share, ...]:
    """Most probable first."""
    shares = map(Share, names, probabilities.tolist())
    return tuple(sorted(shares, key=lambda share: (-(share.probability or 0.0), share.id)))


def _corrections(knowledge: Knowledge, posterior: Posterior) -> tuple[Correction, ...]:
    ranked = sorted(posterior.causes.items(), key=lambda kv: (-float(kv[1][0]), kv[0]))
    out = [Correction(c, knowledge.causes[c].correction) for c, p in ranked if float(p[0]) >= CORRECTED_FROM]
    for action in knowledge.actions:
        if float(posterior.states[action.state][0]) >= action.when_at_least:
            out.append(Correction(None, action.text))
    return tuple(out)


def _cautions(knowledge: Knowledge, next_checks: tuple[Check, ...]) -> tuple[str, ...]:
    return (knowledge.general_caution, *dict.fromkeys(c.caution for c in next_checks))
