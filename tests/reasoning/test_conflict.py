"""Contradictions are named, rare but coherent records are not."""

import numpy as np

from stripdown.reasoning import conflict
from stripdown.reasoning.network import Network, context_of
from tests.reasoning.small import SHIPPED
from tests.reasoning.test_explain import NETWORK, evidence_of


def test_simulated_levels_come_as_often_as_the_network_says():
    findings = ["main_bearing.worn", "oil.low", "crank.will_not_turn"]
    _, levels = conflict.simulate(NETWORK, findings, 20_000, 1)
    for finding, given in conflict.levels_by_first(NETWORK, findings).items():
        p = given @ NETWORK.prior
        seen = np.bincount(levels[finding], minlength=len(p)) / 20_000
        assert np.all(np.abs(seen - p) < 4.0 * np.sqrt(p * (1 - p) / 20_000) + 1e-9), finding


def test_wear_patterns_that_exclude_one_another_are_a_conflict():
    clash, figure = conflict.find(
        NETWORK,
        evidence_of(
            {
                "crankshaft.scored_progressive": 2,
                "crankshaft.scored_random": 2,
                "crankshaft.scored_uniform": 2,
                "crankshaft.heat_tinted": 0,
                "oil.low": 0,
            }
        ),
    )
    assert figure > 0
    assert clash is not None
    assert clash.tail <= conflict.FLAGGED_BELOW
    assert any("scored" in f for f in clash.findings)


def test_a_rare_but_coherent_record_is_none():
    network = Network(SHIPPED, context_of(motor="part_winding"))
    clash, _ = conflict.find(
        network, evidence_of({"stator.burnt_one_winding": 2, "start_timer.faulty": 1, "rotor.rubbed": 0})
    )
    assert clash is None
