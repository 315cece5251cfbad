"""Small networks for the tests: a knowledge with a few invented mechanisms, and the textbook networks as tables."""

import itertools
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from stripdown import knowledge
from stripdown.knowledge.model import Finding, Knowledge, Link, Prior, State
from stripdown.reasoning.junction import JunctionTree
from stripdown.reasoning.tables import Table

SHIPPED = knowledge.load()


def prior(mechanism: str, share: float) -> Prior:
    return Prior(mechanism, (share,) * 3, (share,) * 3, (1.0,) * 5)


def link(*parents: str, shows: float | tuple[float, ...]) -> Link:
    return Link(parents, shows if isinstance(shows, tuple) else (shows,), {}, "for the test", "estimate")


def finding(name: str, otherwise: float | tuple[float, ...], *links: Link, on_site: bool = True) -> Finding:
    levels = otherwise if isinstance(otherwise, tuple) else (otherwise,)
    return Finding(name, tuple(f"level {i + 1}" for i in range(len(levels))), levels, links, {}, on_site)


def small(shares: Mapping[str, float], states: Sequence[State] = (), findings: Sequence[Finding] = ()) -> Knowledge:
    """A knowledge that holds only these; `no_fault` is added with no share of its own."""
    return Knowledge(
        priors={m: prior(m, p) for m, p in {"no_fault": 0.0, **shares}.items()},
        prior_adjusts=(),
        part_winding_share=0.0,
        states=tuple(states),
        causes={},
        cause_adjusts=(),
        actions=(),
        findings={f.id: f for f in findings},
        failed_when=SHIPPED.failed_when,
        readings=(),
        steps=(),
        general_caution="",
        dispositions={},
        groups={},
        sources={},
        digest="",
    )


Cpt = tuple[tuple[int, ...], Table]


def cpt(scope: Sequence[int], probability: Callable[[Mapping[int, int]], float], cards: Sequence[int]) -> Cpt:
    """Table over `scope` ascending, filled from a function of the values."""
    ordered = tuple(sorted(scope))
    table = np.zeros((*(cards[v] for v in ordered), 1))
    for values in itertools.product(*(range(cards[v]) for v in ordered)):
        table[(*values, 0)] = probability(dict(zip(ordered, values, strict=True)))
    return ordered, table


class Textbook:
    """A network of yes/no variables given by tables; evidence as variable → value."""

    def __init__(self, tables: Sequence[Cpt], number: int) -> None:
        self.number = number
        self.tables = list(tables)
        self.tree = JunctionTree([2] * number, [*(s for s, _ in tables), *((v,) for v in range(number))])

    def beliefs(self, evidence: Mapping[int, int]):
        seen = []
        for v in range(self.number):
            table = np.ones((2, 1))
            if v in evidence:
                table[1 - evidence[v]] = 0.0
            seen.append(table)
        return self.tree.calibrate([*(t for _, t in self.tables), *seen])

    def p(self, variable: int, evidence: Mapping[int, int] | None = None) -> float:
        """P(variable = yes | evidence)."""
        return float(self.beliefs(evidence or {}).marginal(variable)[1, 0])

    def evidence(self, evidence: Mapping[int, int]) -> float:
        return float(np.exp(self.beliefs(evidence).log_evidence[0]))


def chest_clinic() -> Textbook:
    """Variables A S T L B E X D = 0…7 (visit, smoker, tuberculosis, cancer, bronchitis, either, X-ray, dyspnoea)."""
    a, s, t, l, b, e, x, d = range(8)  # noqa: E741 - the names of the published network
    two = [2] * 8

    def yes(node: int, p: Callable[[Mapping[int, int]], float]) -> Callable[[Mapping[int, int]], float]:
        return lambda v: p(v) if v[node] else 1.0 - p(v)

    dyspnoea = {(1, 1): 0.9, (1, 0): 0.7, (0, 1): 0.8, (0, 0): 0.1}
    return Textbook(
        [
            cpt([a], yes(a, lambda v: 0.01), two),
            cpt([s], yes(s, lambda v: 0.5), two),
            cpt([a, t], yes(t, lambda v: 0.05 if v[a] else 0.01), two),
            cpt([s, l], yes(l, lambda v: 0.10 if v[s] else 0.01), two),
            cpt([s, b], yes(b, lambda v: 0.60 if v[s] else 0.30), two),
            cpt([t, l, e], yes(e, lambda v: float(v[t] or v[l])), two),
            cpt([e, x], yes(x, lambda v: 0.98 if v[e] else 0.05), two),
            cpt([e, b, d], yes(d, lambda v: dyspnoea[v[e], v[b]]), two),
        ],
        8,
    )


def burglary() -> Textbook:
    """Variables burglary, earthquake, alarm, john, mary = 0…4."""
    two = [2] * 5

    def yes(node: int, p: Callable[[Mapping[int, int]], float]) -> Callable[[Mapping[int, int]], float]:
        return lambda v: p(v) if v[node] else 1.0 - p(v)

    alarm = {(1, 1): 0.95, (1, 0): 0.94, (0, 1): 0.29, (0, 0): 0.001}
    return Textbook(
        [
            cpt([0], yes(0, lambda v: 0.001), two),
            cpt([1], yes(1, lambda v: 0.002), two),
            cpt([0, 1, 2], yes(2, lambda v: alarm[v[0], v[1]]), two),
            cpt([2, 3], yes(3, lambda v: 0.90 if v[2] else 0.05), two),
            cpt([2, 4], yes(4, lambda v: 0.70 if v[2] else 0.01), two),
        ],
        5,
    )
