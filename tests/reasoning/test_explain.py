"""Contributions add up, whatever their number; a sound part never speaks for what would damage it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.reasoning import explain
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Evidence
from stripdown.reasoning.network import Network, context_of
from tests.reasoning.small import SHIPPED

NETWORK = Network(SHIPPED, context_of(cooling="refrigerant", motor="star", oil_feed="pump", duty="medium"))
GRADED = sorted(f for f, x in SHIPPED.findings.items() if len(x.levels) <= 2)


def evidence_of(levels):
    likelihoods = {f: np.eye(len(SHIPPED.findings[f].levels) + 1)[level] for f, level in levels.items()}
    stated = frozenset(f for f, level in levels.items() if level)
    return Evidence(likelihoods, {f: f"{f} {level}" for f, level in levels.items()}, stated)


@st.composite
def records(draw, most):
    chosen = draw(st.lists(st.sampled_from(GRADED), min_size=1, max_size=most, unique=True))
    return {f: draw(st.integers(0, len(SHIPPED.findings[f].levels))) for f in chosen}


def _odds(p):
    return 10.0 * (np.log10(p) - np.log10(1.0 - p))


@settings(max_examples=12, deadline=None)
@given(records(14))
def test_contributions_sum_to_the_change_of_log_odds(levels):
    evidence = evidence_of(levels)
    first = everything(NETWORK, evidence.likelihoods).first[:, 0]
    top = int(first.argmax())
    headline = explain.Headline(NETWORK, evidence, NETWORK.mechanisms[top])
    weights, _ = explain.weights(headline, evidence)
    assert sum(w.decibans for w in weights) == pytest.approx(_odds(first[top]) - _odds(NETWORK.prior[top]), abs=1e-8)


def test_sampled_values_agree_with_enumerated_ones_within_their_stated_error(monkeypatch):
    levels = {"main_bearing.worn": 2, "rotor.rubbed": 1, "oil.thin_diluted": 2, "crankshaft.heat_tinted": 0}
    levels |= {"pump_end_bearing.worn": 0, "stator.burnt_spot": 1, "oil.metal_debris": 2, "suction_reed.broken": 0}
    evidence = evidence_of(levels)
    headline = explain.Headline(NETWORK, evidence, "floodback")
    exact, zero = explain.contributions(headline)
    monkeypatch.setattr(explain, "ENUMERATED", 0)
    sampled, error = explain.contributions(headline)
    assert not zero.any()
    assert sampled.sum() == pytest.approx(exact.sum(), abs=1e-9)
    assert np.all(np.abs(sampled - exact) <= 4.0 * error + 1e-9)


def test_order_of_findings_does_not_matter():
    levels = {"main_bearing.worn": 2, "rotor.rubbed": 1, "oil.thin_diluted": 2}
    backwards = dict(reversed(levels.items()))
    values = []
    for order in (levels, backwards):
        headline = explain.Headline(NETWORK, evidence_of(order), "floodback")
        value, _ = explain.contributions(headline)
        values.append(dict(zip(headline.findings, value, strict=True)))
    assert values[0] == pytest.approx(values[1], abs=1e-9)


def test_finding_that_nothing_links_to_the_target_weighs_nothing():
    """A finding that shows equally often under every mechanism says nothing about any."""
    from tests.reasoning.small import finding, link, small

    findings = [finding("a", 0.3), finding("b", 0.1, link("m!", shows=0.8))]
    network = Network(small({"m": 1, "n": 3}, findings=findings), context_of())
    seen = {"a": np.array([0.0, 1.0]), "b": np.array([0.0, 1.0])}
    headline = explain.Headline(network, Evidence(seen, {"a": "a", "b": "b"}, frozenset(seen)), "m")
    value, _ = explain.contributions(headline)
    assert value[0] == pytest.approx(0.0, abs=1e-9)
    assert value[1] == pytest.approx(10 * np.log10(8.0), abs=1e-9)


INTERNAL = sorted(f for f, x in SHIPPED.findings.items() if not x.on_site and len(x.levels) <= 2)


@pytest.mark.parametrize("finding", INTERNAL)
def test_a_sound_part_alone_never_raises_a_mechanism_that_damages_it_against_no_fault(finding):
    """Law: P(sound | mechanism) <= P(sound | no fault) for each mechanism that can bring the finding."""
    post = everything(NETWORK, {finding: np.eye(len(SHIPPED.findings[finding].levels) + 1)[0]})
    before = NETWORK.prior
    sound = NETWORK.first_index["no_fault"]
    possible = before > 0.0
    ratio = post.first[possible, 0] / before[possible]
    assert np.all(ratio <= post.first[sound, 0] / before[sound] + 1e-12)


def test_flip_names_the_change_that_makes_it():
    evidence = evidence_of({"crankshaft.scored_progressive": 1, "crankshaft.scored_uniform": 1})
    first = everything(NETWORK, evidence.likelihoods).first[:, 0]
    headline = explain.Headline(NETWORK, evidence, NETWORK.mechanisms[int(first.argmax())])
    flips = explain.flips(headline, evidence)
    assert flips
    for flip in flips:
        finding, change = flip.change.split(": ")
        level = ["none", "slight", "heavy"].index(change.split(" → ")[1])
        changed = {**evidence.likelihoods, finding: np.eye(3)[level]}
        assert NETWORK.mechanisms[int(everything(NETWORK, changed).first[:, 0].argmax())] == flip.first


def test_shaken_networks_keep_a_strong_headline_and_lose_a_weak_one():
    many = explain.shaken(NETWORK)
    strong = evidence_of({"crankshaft.scored_progressive": 2, "oil.thin_diluted": 2, "rotor.rubbed": 2})
    assert explain.robustness(many, strong, "floodback") > 0.95
    weak = evidence_of({"crank.will_not_turn": 1})
    top = NETWORK.mechanisms[int(everything(NETWORK, weak.likelihoods).first[:, 0].argmax())]
    assert explain.robustness(many, weak, top) < 0.9
