"""The inference engine against published networks and worked examples."""

import math

import numpy as np
import pytest

from stripdown.reasoning import explain
from stripdown.reasoning.checks import gains, tell
from stripdown.reasoning.infer import everything
from stripdown.reasoning.network import Network, context_of
from tests.reasoning.small import burglary, chest_clinic, finding, link, small

A, S, T, L, B, E, X, D = range(8)

# S. L. Lauritzen and D. J. Spiegelhalter, J. R. Statist. Soc. B 50 (1988) 157-224; rows recomputed over all 2^8 states.
CHEST_CLINIC = [
    ({}, 1.0, [0.01, 0.5, 0.010400, 0.055000, 0.450000, 0.064828, 0.110290, 0.435971]),
    ({A: 1}, 0.01, [1, 0.5, 0.050000, 0.055000, 0.450000, 0.102250, 0.145093, 0.450138]),
    ({D: 1}, 0.4359706, [0.010325, 0.633997, 0.018845, 0.102759, 0.833967, 0.120536, 0.162098, 1]),
    ({A: 1, D: 1}, 0.004501375, [1, 0.625920, 0.087751, 0.099525, 0.811402, 0.182300, 0.219539, 1]),
    ({A: 1, S: 1, D: 1}, 0.0028175, [1, 1, 0.072760, 0.145519, 0.867258, 0.211003, 0.246232, 1]),
    ({A: 1, S: 0, D: 1}, 0.001683875, [1, 0, 0.112835, 0.022567, 0.717942, 0.134274, 0.174874, 1]),
    ({A: 1, D: 1, X: 1}, 0.0009882267, [1, 0.702025, 0.391712, 0.444271, 0.628822, 0.813769, 1, 1]),
    ({A: 1, D: 1, X: 0}, 0.0035131482, [1, 0.604512, 0.002249, 0.002550, 0.862761, 0.004672, 0, 1]),
    ({X: 1}, 0.1102900400, [0.013156, 0.687754, 0.092411, 0.488711, 0.506326, 0.576040, 1, 0.640766]),
    ({S: 1, X: 1, D: 1}, 0.0555191680, [0.012496, 1, 0.075266, 0.723714, 0.713706, 0.791454, 1, 1]),
    ({S: 0, X: 0, D: 0}, 0.3211466964, [0.009603, 0, 0.000078, 0.000075, 0.086962, 0.000152, 0, 0]),
]


@pytest.mark.parametrize(("evidence", "probability", "marginals"), CHEST_CLINIC)
def test_chest_clinic(evidence, probability, marginals):
    net = chest_clinic()
    assert net.evidence(evidence) == pytest.approx(probability, rel=1e-6)
    assert [net.p(v, evidence) for v in range(8)] == pytest.approx(marginals, abs=1e-6)


def test_impossible_evidence_is_zero_not_an_error():
    beliefs = chest_clinic().beliefs({T: 1, E: 0})
    assert beliefs.log_evidence[0] == -math.inf
    assert np.all(beliefs.marginal(L) == 0.0)


# S. Russell and P. Norvig, Artificial Intelligence: A Modern Approach, 3rd ed. 2010, ch. 14 (burglary network).
@pytest.mark.parametrize(
    ("variable", "evidence", "value"),
    [
        (0, {3: 1, 4: 1}, 0.2841718353643929),
        (2, {}, 0.002516442),
        (3, {}, 0.0521389757),
        (4, {}, 0.01173634498),
        (0, {3: 1}, 0.01628372995),
        (0, {4: 1}, 0.05611745404),
        (0, {3: 1, 4: 0}, 0.005129858133),
        (0, {3: 0, 4: 1}, 0.006876246073),
        (0, {2: 1}, 0.3735512283),
        (0, {2: 1, 1: 1}, 0.003268423588),
        (1, {3: 1, 4: 1}, 0.1760668384),
        (2, {3: 1, 4: 1}, 0.7606920389),
    ],
)
def test_burglary(variable, evidence, value):
    digits = 1e-12 if value == 0.2841718353643929 else 5e-10
    assert burglary().p(variable, evidence) == pytest.approx(value, rel=digits)


def test_burglary_joint_probabilities():
    net = burglary()
    assert net.evidence({3: 1, 4: 1}) == pytest.approx(0.002084100239, rel=1e-9)
    assert net.evidence({3: 1, 4: 1, 2: 1, 0: 0, 1: 0}) == pytest.approx(0.00062811126, rel=1e-9)


def _fever(leak: float) -> Network:
    """Noisy-OR of the same book: inhibition cold 0.6, flu 0.2, malaria 0.1; the leak is one more independent cause."""
    from stripdown.knowledge.model import State

    rates = {"cold": (0.2, 0.6), "flu": (0.05, 0.2), "malaria": (0.01, 0.1)}
    states = [State(name, "damage", rate, ()) for name, (rate, _) in rates.items()]
    links = [link(name, shows=1.0 - (1.0 - leak) * q) for name, (_, q) in rates.items()]
    return Network(small({"ill": 1.0}, states, [finding("fever", leak, *links)]), context_of())


@pytest.mark.parametrize(
    ("present", "no_fever"),
    [("", 1), ("M", 0.1), ("F", 0.2), ("FM", 0.02), ("C", 0.6), ("CM", 0.06), ("CF", 0.12), ("CFM", 0.012)],
)
def test_noisy_or(present, no_fever):
    leaf = _fever(0.0).leaf("fever")
    ill = 1  # mechanisms are no_fault, ill
    assert leaf.table[(0, ill, *(int(c in present) for c in "CFM"), 0)] == pytest.approx(no_fever, rel=1e-12)


def test_noisy_or_with_leak():
    post = everything(_fever(0.02), {"fever": np.array([0.0, 1.0])})
    assert np.exp(post.log_evidence[0]) == pytest.approx(0.142253824, rel=1e-9)
    assert [post.states[s][0] for s in ("cold", "flu", "malaria")] == pytest.approx(
        [0.6194565568, 0.2886751501, 0.0642124320], rel=1e-9
    )


@pytest.mark.parametrize(
    ("a", "b", "levels"),
    [
        (0, 0, (0.9, 0.08, 0.02)),
        (0, 1, (0.45, 0.236, 0.314)),
        (1, 0, (0.27, 0.514, 0.216)),
        (1, 1, (0.135, 0.4138, 0.4512)),
    ],
)
def test_noisy_max(a, b, levels):
    """By hand: products of the cumulative vectors leak .9 .98 1, A .3 .8 1, B .5 .7 1."""
    from stripdown.knowledge.model import State

    states = [State("a", "damage", 0.5, ()), State("b", "damage", 0.5, ())]
    f = finding("f", (0.08, 0.02), link("a", shows=(0.514, 0.216)), link("b", shows=(0.236, 0.314)))
    leaf = Network(small({"x": 1.0}, states, [f]), context_of()).leaf("f")
    assert leaf.table[:, 1, a, b, 0] == pytest.approx(levels, rel=1e-12)


def test_information_of_a_check():
    """By hand: prior .5 .3 .2, check positive with .9 .4 .1; entropy 1.4854752972, gain 0.3569183749 bit."""
    f = finding("crank.will_not_turn", 0.0, link("p!", shows=0.9), link("q!", shows=0.4), link("r!", shows=0.1))
    network = Network(small({"p": 50, "q": 30, "r": 20}, findings=[f]), context_of())
    posterior = everything(network, {})
    step = explain_step()
    [candidate] = gains(posterior, {f.id: (step, 5.0)})
    assert candidate.gain == pytest.approx(0.3569183749, abs=1e-9)
    told = tell(posterior, [f.id])
    assert told.gain[0, 0] == candidate.gain
    assert told.by_first[1, :, 0].sum() == pytest.approx(0.59, rel=1e-12)


def explain_step():
    from tests.reasoning.small import SHIPPED

    return SHIPPED.steps[0]


def _gain(net, target, check, evidence):
    def entropy(p):
        return -sum(q * math.log2(q) for q in (p, 1 - p) if q > 0)

    p_check = net.p(check, evidence)
    after = sum(
        w * entropy(net.p(target, {**evidence, check: v})) for v, w in ((1, p_check), (0, 1 - p_check)) if w > 0
    )
    return entropy(net.p(target, evidence)) - after


@pytest.mark.parametrize(
    ("check", "target", "bits"),
    [(X, L, 0.3017462), (S, L, 0.0342769), (X, T, 0.0472326), (A, T, 0.0010414), (X, B, 0.0202476)],
)
def test_information_in_the_chest_clinic(check, target, bits):
    """Mutual information after D, recomputed by enumeration of the published network."""
    assert _gain(chest_clinic(), target, check, {D: 1}) == pytest.approx(bits, abs=1e-6)


class _Published:
    """A published network seen as the explanation sees one: log odds of a target under subsets of its findings."""

    def __init__(self, net, target, evidence):
        self._net, self._target, self._evidence = net, target, evidence
        self.findings = tuple(evidence)

    def decibans(self, subsets):
        out = []
        for row in subsets:
            p = self._net.p(self._target, {v: x for (v, x), on in zip(self._evidence.items(), row, strict=True) if on})
            out.append(10 * math.log10(p / (1 - p)))
        return np.array(out)


def test_shapley_values_of_the_burglary_network():
    """Enumerated: prior -29.9956548823 dB, after both calls -4.0122774969."""
    published = _Published(burglary(), 0, {3: 1, 4: 1})
    value, error = explain.contributions(published)
    assert value == pytest.approx([10.2152088560, 15.7681685293], abs=1e-9)
    assert value.sum() == pytest.approx(25.9833773853, abs=1e-9)
    assert not error.any()


def test_shapley_values_of_the_chest_clinic():
    published = _Published(chest_clinic(), L, {S: 1, X: 1, D: 1})
    value, _ = explain.contributions(published)
    assert value == pytest.approx([2.3851940868, 11.9280829643, 2.2194954230], abs=1e-9)
    assert value.sum() == pytest.approx(16.5327724741, abs=1e-9)


def test_naive_bayes_in_decibans():
    """By hand: prior .1 (-9.542425 dB), ratios 8 (+9.030900) and 0.5 (-3.010300) give 4/13."""
    findings = [finding("a", 0.1, link("m!", shows=0.8)), finding("b", 0.5, link("m!", shows=0.75))]
    network = Network(small({"m": 10, "rest": 90}, findings=findings), context_of())
    evidence = {"a": np.array([0.0, 1.0]), "b": np.array([1.0, 0.0])}
    assert everything(network, evidence).first[1, 0] == pytest.approx(4 / 13, rel=1e-12)
    from stripdown.reasoning.model import Evidence

    headline = explain.Headline(network, Evidence(evidence, {"a": "a", "b": "b"}, frozenset({"a"})), "m")
    value, _ = explain.contributions(headline)
    assert value == pytest.approx([9.030900, -3.010300], abs=1e-6)
