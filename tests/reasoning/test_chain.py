"""The chain from cause to failed part: each step follows from the one before, and what nothing explains is named."""

import numpy as np
import pytest

from stripdown.case import gather, reasoner
from stripdown.knowledge.model import State
from stripdown.reasoning import chain
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Evidence, Step
from stripdown.reasoning.network import Network, context_of
from tests.open_cases import EXPECTED, judged
from tests.reasoning.small import SHIPPED, finding, link, small
from tests.reasoning.test_explain import NETWORK, evidence_of


def chain_of(network: Network, evidence: Evidence) -> list[Step]:
    post = everything(network, evidence.likelihoods)
    return list(chain.chain(network, network.knowledge, post, evidence))


def unexplained(network: Network, evidence: Evidence) -> tuple[str, ...]:
    return chain.unexplained(everything(network, evidence.likelihoods), [evidence])[0]


def seen(*findings: str) -> Evidence:
    return Evidence({f: np.array([0.0, 1.0]) for f in findings}, {f: f for f in findings}, frozenset(findings))


def test_share_of_each_link_by_hand() -> None:
    """Noisy-OR, links 0.5 and 0.4, own rate 0.1, both parents there: the effect is there at 1 - 0.9 x 0.5 x 0.6 = 0.73.
    The first acted at 0.5 / 0.73, the second at 0.4 / 0.73, neither at 0.1 x 0.5 x 0.6 / 0.73."""
    links = (link("m!", shows=0.5), link("s", shows=0.4))
    states = (State("s", "damage", 0.2, ()), State("t", "damage", 0.1, links))
    network = Network(small({"m": 1, "n": 1}, states), context_of())
    there = np.zeros((3, 2))
    there[network.first_index["m"], 1] = 0.37
    shares, alone = chain.acted(network, links, 0.1, (0, network.index["s"]), there)
    assert shares == pytest.approx([0.5 / 0.73, 0.4 / 0.73])
    assert alone == pytest.approx(0.03 / 0.73)


def test_where_no_parent_is_there_only_its_own_rate_is_left() -> None:
    links = (link("m!", shows=0.5),)
    network = Network(small({"m": 1, "n": 1}, (State("t", "damage", 0.1, links),)), context_of())
    there = np.zeros(3)
    there[network.first_index["n"]] = 0.2
    shares, alone = chain.acted(network, links, 0.1, (0,), there)
    assert shares == [0.0]
    assert alone == pytest.approx(1.0)


@pytest.mark.parametrize(("otherwise", "named"), [(0.01, False), (0.45, True)])
def test_a_finding_that_its_own_rate_explains_better_is_unexplained(otherwise: float, named: bool) -> None:
    """Only m is first (no other share). By hand, shows 0.5: acts = 1 - 0.5 / (1 - otherwise), 0.495 and 0.091; alone =
    otherwise x (1 - acts) / shows: 0.0101 and 0.818."""
    network = Network(small({"m": 1}, findings=[finding("a.seen", otherwise, link("m!", shows=0.5))]), context_of())
    assert (unexplained(network, seen("a.seen")) == ("a.seen",)) == named


def test_a_finding_of_another_mechanism_is_unexplained_under_this_one() -> None:
    findings = [finding(f"{x}.seen", 0.01, link(f"{x[0]}!", shows=0.9)) for x in ("m1", "m2", "m3", "n")]
    network = Network(small({"m": 1, "n": 1}, findings=findings), context_of())
    assert unexplained(network, seen("m1.seen", "m2.seen", "m3.seen", "n.seen")) == ("n.seen",)


def test_floodback_to_the_earthed_stator() -> None:
    """Liquid, motor-end bearing, rotor on the stator, earth: the textbook chain of the trade notes."""
    levels = {
        "oil.thin_diluted": 2,
        "crankshaft.scored_progressive": 2,
        "main_bearing.worn": 2,
        "rotor.rubbed": 2,
        "insulation_resistance.leads": 1,
        "stator.burnt_spot": 2,
        "evaporator.iced": 2,
    }
    steps = chain_of(NETWORK, evidence_of(levels))
    nodes = [s.node for s in steps]
    assert nodes[:2] == ["low_load", "floodback"]
    states = [n for n in nodes if n in NETWORK.states and n != "floodback"]
    assert states.index("rotor_drag") < states.index("winding_failed")
    assert steps[-1].seen
    assert all(s.probability == 1.0 for s in steps if s.seen)


@pytest.mark.parametrize("name", EXPECTED)
def test_each_step_follows_from_the_one_before(name: str) -> None:
    """Cause feeds mechanism; a state has a link from what stands before it; a finding hangs on the state before it."""
    known = gather(judged(name).record)
    network = reasoner().network(known.context)
    headline = judged(name).finding.first[0].id
    before = None
    for step in judged(name).finding.chain:
        if step.node in network.causes:
            assert headline in {mechanism for mechanism, _, _ in SHIPPED.causes[step.node].feeds}
            continue
        if step.seen:
            parents = {p.removesuffix("!") for x in SHIPPED.findings[step.node].links for p in x.parents}
            assert before in parents, step.node
            continue
        if before is not None:
            state = SHIPPED.states[network.states.index(step.node)]
            assert before in {p.removesuffix("!") for x in state.links for p in x.parents}, step.node
        before = step.node


def test_an_empty_record_has_a_chain_of_its_headline_alone() -> None:
    steps = chain_of(NETWORK, evidence_of({}))
    assert steps[-1].node == "no_fault"
    assert not any(s.seen for s in steps)
