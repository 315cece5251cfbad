"""Knowledge → network: it gives back what it was written from, and context changes what it should."""

import itertools

import numpy as np
import pytest

from stripdown import vocabulary
from stripdown.knowledge.model import CONTEXT
from stripdown.reasoning.infer import FAILED_WHEN, everything, leaf_of
from stripdown.reasoning.network import Network, cause_shares, context_of, prior
from tests.reasoning.small import SHIPPED

CONTEXTS = [
    context_of(),
    context_of(cooling="air", motor="star", oil_feed="splash", duty="low", hours="40000-", replaced="yes"),
    context_of(
        cooling="refrigerant", motor="part_winding", oil_feed="pump", duty="high", hours="0-500", opened_before="never"
    ),
    context_of(motor="delta", inverter="yes", opened_before="site", hours="5000-20000"),
]


@pytest.mark.parametrize("context", CONTEXTS)
def test_nothing_observed_gives_back_priors_and_cause_shares(context):
    network = Network(SHIPPED, context)
    post = everything(network, {})
    assert post.first[:, 0] == pytest.approx(prior(SHIPPED, context), abs=1e-12)
    for cause, shares in cause_shares(SHIPPED, context).items():
        given = post.with_first[network.index[cause] - 1][:, 0]
        assert given == pytest.approx(shares * prior(SHIPPED, context), abs=1e-12)


@pytest.mark.parametrize("context", CONTEXTS)
def test_every_table_is_a_probability(context):
    network = Network(SHIPPED, context)
    for scope, table in network.families.values():
        assert np.all((table >= 0.0) & (table <= 1.0))
        assert table.sum(axis=len(scope) - 1) == pytest.approx(1.0)
    for name in [*SHIPPED.findings, FAILED_WHEN]:
        table = leaf_of(network, name).table
        assert np.all(table >= -1e-15), name
        assert table.sum(axis=0) == pytest.approx(1.0), name


def test_medium_duty_shares_are_the_written_ones():
    """The written table, medium duty, no hours: floodback 12, no fault 27 percent; common practice, no source."""
    shares = dict(zip(SHIPPED.mechanisms, prior(SHIPPED, context_of(duty="medium", motor="star")), strict=True))
    assert shares["floodback"] == pytest.approx(0.12)
    assert shares["no_fault"] == pytest.approx(0.27)
    assert sum(shares.values()) == pytest.approx(1.0)


def test_part_winding_makes_room_for_half_winding():
    shares = dict(zip(SHIPPED.mechanisms, prior(SHIPPED, context_of(duty="medium", motor="part_winding")), strict=True))
    assert shares["half_winding"] == pytest.approx(0.04)
    assert shares["floodback"] == pytest.approx(0.12 * 0.96)


def test_single_phase_motor_has_no_phase_to_lose():
    shares = dict(zip(SHIPPED.mechanisms, prior(SHIPPED, context_of(motor="single_phase")), strict=True))
    assert shares["single_phasing"] == shares["voltage_unbalance"] == shares["half_winding"] == 0.0


def test_hours_multiply_and_renormalise():
    """By hand, medium duty: over 40,000 h wear-out 2.5 weighs 2.5 x 6, floodback 12 x 0.8: the ratio is 15 to 9.6."""
    shares = dict(
        zip(SHIPPED.mechanisms, prior(SHIPPED, context_of(duty="medium", motor="star", hours="40000-")), strict=True)
    )
    assert shares["wear_out"] / shares["floodback"] == pytest.approx(15 / 9.6)


def test_replacement_at_the_same_place_triples_the_odds_of_system_causes():
    """By hand: heater_off under flooded_start .45, odds 9/11, times 3 = 27/11, that is 27/38."""
    row = SHIPPED.mechanisms.index("flooded_start")
    assert cause_shares(SHIPPED, context_of(replaced="yes"))["heater_off"][row] == pytest.approx(27 / 38)


def test_cut_down_network_equals_enumeration():
    """The real links among first, slug, valve damage, leak and one cause, each state of the rest summed out by hand."""
    network = Network(SHIPPED, context_of(cooling="refrigerant", motor="star", oil_feed="pump", duty="medium"))
    findings = {"suction_reed.bent": 2, "valve_plate.discoloured_fixed": 0, "expansion_valve.bulb_loose": 1}
    evidence = {f: np.eye(len(leaf_of(network, f).table))[level] for f, level in findings.items()}
    nodes = sorted(network.ancestors([v for f in findings for v in leaf_of(network, f).scope]))
    weight = np.zeros(len(network.mechanisms))
    for first, values in itertools.product(
        range(len(network.mechanisms)), itertools.product((0, 1), repeat=len(nodes))
    ):
        at = {0: first, **dict(zip(nodes, values, strict=True))}
        p = network.prior[first]
        for node in nodes:
            scope, table = network.families[node]
            p *= table[(*(at[v] for v in scope), 0)]
        for f, level in findings.items():
            leaf = leaf_of(network, f)
            p *= leaf.table[(level, *(at[v] for v in leaf.scope), 0)]
        weight[first] += p
    post = everything(network, evidence)
    assert post.first[:, 0] == pytest.approx(weight / weight.sum(), abs=1e-12)
    assert np.exp(post.log_evidence[0]) == pytest.approx(weight.sum(), rel=1e-11)


def test_context_knows_only_its_words():
    with pytest.raises(ValueError, match="cooling = water"):
        context_of(cooling="water")
    assert set(context_of()) == set(CONTEXT)


def test_every_mechanism_of_the_vocabulary_has_a_share():
    assert set(SHIPPED.mechanisms) == set(vocabulary.mechanisms())
