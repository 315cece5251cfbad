"""Contradictions are named, rare but coherent records are not."""

import numpy as np
import pytest

from stripdown.knowledge.model import Exclusion, Finding, State
from stripdown.reasoning import conflict
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Evidence
from stripdown.reasoning.network import Network, context_of
from tests.reasoning.small import SHIPPED, finding, link, small
from tests.reasoning.test_explain import NETWORK, evidence_of


def test_simulated_levels_come_as_often_as_the_network_says():
    """Against the marginals of an independent way: sums over the states, by the tree, of one finding at a time."""
    findings = ["main_bearing.worn", "oil.low", "crank.will_not_turn"]
    _, levels = conflict.simulate(NETWORK, findings, 20_000, 1)
    for name in findings:
        sizes = len(SHIPPED.findings[name].levels) + 1
        p = np.array([np.exp(everything(NETWORK, {name: np.eye(sizes)[k]}).log_evidence[0]) for k in range(sizes)])
        seen = np.bincount(levels[name], minlength=sizes) / 20_000
        assert np.all(np.abs(seen - p) < 4.0 * np.sqrt(p * (1 - p) / 20_000) + 1e-9), name


def surprising(*findings: Finding) -> Network:
    """A mechanism m that nearly always brings the state s and shows each finding."""
    states = [State("s", "damage", 0.001, (link("m!", shows=0.999),))]
    return Network(small({"m": 0.5, "n": 0.5}, states, findings), context_of())


def test_a_finding_that_the_rest_makes_improbable_is_a_conflict_by_hand():
    """a is there, b is not, and both hang on s alone: the sums over s and not s are written out below."""
    network = surprising(
        finding("a.there", 0.0001, link("s", shows=0.9), on_site=True),
        finding("b.there", 0.0001, link("s", shows=0.9999), on_site=True),
    )
    there = Evidence({"a.there": np.eye(2)[1], "b.there": np.eye(2)[0]}, {"a.there": "a", "b.there": "b"}, frozenset())
    s = 0.5 * (1 - 0.999 * 0.001) + 0.5 * 0.001
    both = s * 0.9 * 0.0001 + (1 - s) * 0.0001 * 0.9999
    of_a = both / (s * 0.0001 + (1 - s) * 0.9999)
    of_b = both / (s * 0.9 + (1 - s) * 0.0001)
    clash = conflict.find(network, there)
    assert clash is not None
    assert clash.figure == pytest.approx(-np.log(of_a) - np.log(of_b) - 2 * conflict.SURPRISING, rel=1e-6)
    assert set(clash.findings) == {"a", "b"}


def test_a_finding_that_is_rare_whatever_else_was_seen_is_none():
    """c is seen on one machine in 10,000; a says nothing of it."""
    network = surprising(
        finding("a.there", 0.1, link("s", shows=0.9)), finding("c.there", 0.0001, link("m!", shows=0.0001))
    )
    seen = {f: np.eye(2)[1] for f in ("a.there", "c.there")}
    assert conflict.find(network, Evidence(seen, {f: f for f in seen}, frozenset(seen))) is None


def test_findings_that_go_together_are_none():
    network = surprising(
        finding("a.there", 0.0001, link("s", shows=0.9)), finding("b.there", 0.0001, link("s", shows=0.9))
    )
    there = {f: np.eye(2)[1] for f in ("a.there", "b.there")}
    assert conflict.find(network, Evidence(there, {f: f for f in there}, frozenset(there))) is None


@pytest.mark.parametrize("exclusion", SHIPPED.exclusions, ids=lambda e: " + ".join(e.findings))
def test_what_no_machine_shows_together_is_a_conflict_however_well_the_rest_fits(exclusion: Exclusion):
    seen = evidence_of(dict(exclusion.findings))
    clash = conflict.find(NETWORK, seen)
    assert clash is not None
    assert set(clash.findings) == {seen.labels[f] for f in exclusion.findings}
    assert clash.tail == exclusion.rate
    for left_out in exclusion.findings:
        rest = evidence_of({f: level for f, level in exclusion.findings.items() if f != left_out})
        assert conflict._excluded(SHIPPED, rest) is None


def test_wear_patterns_that_exclude_one_another_are_a_conflict():
    clash = conflict.find(
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
    assert clash is not None
    assert clash.tail <= conflict.FLAGGED_BELOW
    assert any("scored" in f for f in clash.findings)


def test_a_rare_but_coherent_record_is_none():
    network = Network(SHIPPED, context_of(motor="part_winding"))
    clash = conflict.find(
        network, evidence_of({"stator.burnt_one_winding": 2, "start_timer.faulty": 1, "rotor.rubbed": 0})
    )
    assert clash is None
