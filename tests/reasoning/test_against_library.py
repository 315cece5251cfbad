"""The network against an independent library, pyAgrum: cut-down networks with random strengths, and the whole one as
shipped under the evidence of the demo's records."""

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown import record
from stripdown.case import gather, judge_many, reasoner
from stripdown.knowledge.model import Knowledge, State
from stripdown.reasoning.infer import everything
from stripdown.reasoning.leaves import leaf_of
from stripdown.reasoning.network import Network, context_of
from tests.cli.calling import ROOT
from tests.reasoning.small import finding, link, small

gum = pytest.importorskip("pyagrum")


def library(network: Network, likelihoods: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Posterior of every variable as the library gives it: findings as nodes of their own, likelihoods as evidence."""
    net = gum.BayesNet()
    for name, card in zip(network.names, network.cards, strict=True):
        net.add(gum.LabelizedVariable(f"v{network.index[name]}", name, card))
    net.cpt("v0")[:] = network.prior
    for v in range(1, len(network.names)):
        scope, table = network.family(v)
        _fill(net, f"v{v}", [f"v{u}" for u in scope[:-1]], table[..., 0])
    for i, (name, likelihood) in enumerate(likelihoods.items()):
        leaf = leaf_of(network, name)
        net.add(gum.LabelizedVariable(f"f{i}", name, len(likelihood)))
        _fill(net, f"f{i}", [f"v{u}" for u in leaf.scope], np.moveaxis(leaf.table[..., 0], 0, -1))
    engine = gum.LazyPropagation(net)
    engine.setEvidence({f"f{i}": list(map(float, v)) for i, v in enumerate(likelihoods.values())})
    engine.makeInference()
    return {name: np.array(engine.posterior(f"v{v}").tolist()) for name, v in network.index.items()}


def _fill(net: "gum.BayesNet", name: str, parents: list[str], table: np.ndarray) -> None:
    """`table` has one axis a parent, then the node itself."""
    for parent in parents:
        net.addArc(parent, name)
    for values in np.ndindex(table.shape[:-1]):
        net.cpt(name)[dict(zip(parents, map(int, values), strict=True))] = list(map(float, table[values]))


def assert_equal(network: Network, likelihoods: Mapping[str, np.ndarray]) -> None:
    ours, theirs = everything(network, likelihoods), library(network, likelihoods)
    assert ours.first[:, 0] == pytest.approx(theirs["first"], abs=1e-9)
    for name in network.states:
        assert ours.states[name][0] == pytest.approx(theirs[name][1], abs=1e-9), name
    for name in network.causes:
        assert ours.causes[name][0] == pytest.approx(theirs[name][1], abs=1e-9), name


@st.composite
def cut_down(draw: st.DrawFn) -> tuple[Knowledge, dict[str, np.ndarray]]:
    """Three mechanisms, four states, four findings of one or two grades, strengths and evidence at random."""
    p = st.floats(0.01, 0.99)
    shares = {m: draw(st.floats(0.05, 1.0)) for m in ("m", "n", "o")}
    states: list[State] = []
    for name in ("a", "b", "c", "d"):
        above = draw(st.lists(st.sampled_from(["m!", "n!", "o!", *(s.id for s in states)]), max_size=3, unique=True))
        states.append(State(name, "damage", draw(p), tuple(link(x, shows=draw(p)) for x in above)))
    findings, seen = [], {}
    for name in ("w.x", "w.y", "w.z", "w.u"):
        grades = draw(st.integers(1, 2))
        otherwise = tuple(draw(st.floats(0.01, 0.2)) for _ in range(grades))
        above = draw(st.lists(st.sampled_from(["a", "b", "c", "d"]), max_size=3, unique=True))
        more = st.floats(0.25, 0.45)
        links = [link(x, shows=tuple(draw(more) for _ in range(grades))) for x in above]
        findings.append(finding(name, otherwise, *links))
        if draw(st.booleans()):
            seen[name] = np.array([draw(st.floats(0.01, 1.0)) for _ in range(grades + 1)])
    return small(shares, states, findings), seen


@settings(max_examples=30, deadline=None)
@given(cut_down())
def test_random_networks(case: tuple[Knowledge, dict[str, np.ndarray]]) -> None:
    known, seen = case
    assert_equal(Network(known, context_of()), seen)


RECORDS = ("tw-2024-012.toml", "tw-2025-016.toml", "tw-2023-008.toml")


@pytest.mark.slow
@pytest.mark.parametrize("name", RECORDS)
def test_the_shipped_network(name: str) -> None:
    known = gather(record.read(ROOT / "data/demo/returns" / name))
    assert len(known.evidence.likelihoods) > 3
    assert_equal(reasoner().network(known.context), known.evidence.likelihoods)


def test_many_together_come_out_as_one_alone() -> None:
    """To the last bit: the same operations in the same order, whatever stands beside a record."""
    from stripdown import judge

    records = [record.read(ROOT / "data/demo/returns" / name) for name in RECORDS]
    for one, case in zip(records, judge_many(records), strict=True):
        assert judge(one, brief=True) == case
