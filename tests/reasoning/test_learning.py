"""Strengths from confirmed findings: by hand, against an optimiser, and toward the truth on records drawn from it."""

import dataclasses

import numpy as np
import pytest
from scipy import optimize

from stripdown.knowledge.model import Cause, State
from stripdown.reasoning import conflict, learning, strengths
from stripdown.reasoning.infer import Question
from stripdown.reasoning.learning import Example, learn
from stripdown.reasoning.network import Network, context_of
from tests.reasoning.small import SHIPPED, finding, link, small

ANY = context_of()
THERE, ABSENT = np.array([0.0, 1.0]), np.array([1.0, 0.0])


def examples(first: str, **seen: np.ndarray) -> Example:
    return Example(ANY, {f"f.{k}": v for k, v in seen.items()}, first)


ONE_LINK = small({"floodback": 50.0, "surge": 50.0}, findings=[finding("f.a", 0.1, link("floodback!", shows=0.6))])
NINE_OF_TEN = [examples("floodback", a=THERE)] * 9 + [examples("floodback", a=ABSENT)]


def test_one_step_is_the_one_done_by_hand():
    """The link acts with a = (.6 - .1) / .9 = 5/9. Where the finding is there (probability .6), the link acted with
    a / .6 = 25/27, and the rate of its own with .1 / .6 = 1/6. Of ten records nine show it: the link acted in 25/3 of
    10, the own rate in 3/2 of 10; each written strength counts as 20 more.
    """
    learnt = learn(ONE_LINK, NINE_OF_TEN, prior_records=20.0, steps=1)
    now = strengths.read(learnt.knowledge)
    assert now["f.a", 0][0] == pytest.approx((25 / 3 + 20 * 5 / 9) / 30)
    assert now["f.a", strengths.OTHERWISE][0] == pytest.approx((1.5 + 2.0) / 30)
    assert [m.records for m in learnt.moved] == pytest.approx([10.0, 10.0])


def test_log_posterior_before_the_first_step_is_the_likelihood_by_hand():
    """Shares .5 each; nine records show it with .6, one does not with .4; the prior is then at its top, 0."""
    learnt = learn(ONE_LINK, NINE_OF_TEN)
    assert learnt.log_posterior[0] == pytest.approx(10 * np.log(0.5) + 9 * np.log(0.6) + np.log(0.4))


def test_ends_where_an_optimiser_ends(monkeypatch):
    """The same posterior written out and climbed by scipy; in half of the records only the own rate acts."""
    monkeypatch.setattr(learning, "SETTLED", 1e-13)
    records = [*NINE_OF_TEN, *[examples("surge", a=THERE)] * 5, *[examples("surge", a=ABSENT)] * 5]
    weight, a0, o0 = 20.0, 5 / 9, 0.1

    def worse(x: np.ndarray) -> float:
        a, o = 1 / (1 + np.exp(-x))
        shown = 1 - (1 - a) * (1 - o)
        prior = a0 * np.log(a) + (1 - a0) * np.log(1 - a) + o0 * np.log(o) + (1 - o0) * np.log(1 - o)
        return -float(9 * np.log(shown) + np.log(1 - shown) + 5 * np.log(o) + 5 * np.log(1 - o) + weight * prior)

    best = optimize.minimize(worse, np.zeros(2), tol=1e-12)
    a, o = 1 / (1 + np.exp(-best.x))
    now = strengths.read(learn(ONE_LINK, records, prior_records=weight, steps=2000).knowledge)
    assert now["f.a", 0][0] == pytest.approx(a, abs=1e-5)
    assert now["f.a", strengths.OTHERWISE][0] == pytest.approx(o, abs=1e-5)


def graded():
    """A state that follows, a graded finding on two parents, a factor on its own rate, and a cause with odds."""
    state = State("overheating", "mechanism", 0.05, (link("floodback!", shows=0.4),))
    a = finding("f.a", (0.1, 0.05), link("floodback!", shows=(0.3, 0.3)), link("overheating", shows=(0.2, 0.5)))
    a = dataclasses.replace(a, times={"surge": 0.4})
    b = finding("f.b", (0.1,), link("overheating", "heat", shows=0.8))
    shares = {"floodback": 40.0, "overheating": 30.0, "surge": 20.0, "no_fault": 10.0}
    knowledge = small(shares, [state], [a, b])
    cause = Cause("heat", "system", "", (("overheating", 0.5, {}), ("floodback", 0.2, {})))
    return dataclasses.replace(knowledge, causes={"heat": cause})


def drawn(number: int) -> list[Example]:
    random = np.random.default_rng(3)
    out = []
    for i in range(number):
        first = ["floodback", "overheating", "surge", "no_fault"][int(random.integers(4))]
        seen = {"f.a": np.eye(3)[random.integers(3)], "f.b": np.array([0.3, 0.7]) if i % 3 else THERE}
        if i % 4 == 0:
            del seen["f.b"]
        causes = ("heat",) if first in ("floodback", "overheating") and i % 2 else ()
        out.append(Example(ANY, seen, first, causes))
    return out


def test_the_end_is_a_top_of_the_posterior(monkeypatch):
    """Moving any single strength up or down a little makes records and prior together less probable."""
    monkeypatch.setattr(learning, "SETTLED", 1e-12)
    knowledge, records, weight = graded(), drawn(60), 5.0
    written = strengths.read(knowledge)
    top = strengths.read(learn(knowledge, records, prior_records=weight, steps=3000).knowledge)

    def height(now: strengths.Strengths) -> float:
        likelihood = learn(strengths.put(knowledge, now), records, steps=0).log_posterior[0]
        return likelihood + learning.log_prior(written, now, weight)

    best = height(top)
    for key, acts in top.items():
        for level in range(len(acts)):
            for factor in (0.98, 1.02):
                moved = acts.copy()
                moved[level] *= factor
                assert height({**top, key: moved}) < best, (key, level, factor)


def test_no_step_makes_records_and_prior_less_probable():
    learnt = learn(graded(), drawn(60), steps=40)
    assert len(learnt.log_posterior) > 3
    assert np.all(np.diff(learnt.log_posterior) >= -1e-9)


def test_strengths_read_out_and_put_back_are_the_same_knowledge():
    again = strengths.put(SHIPPED, strengths.read(SHIPPED))
    assert [s.links for s in again.states] == [s.links for s in SHIPPED.states]
    assert {i: c.feeds for i, c in again.causes.items()} == {i: c.feeds for i, c in SHIPPED.causes.items()}
    for name, old in SHIPPED.findings.items():
        for now, before in zip(again.findings[name].links, old.links, strict=True):
            assert now.shows == pytest.approx(before.shows, abs=1e-12)


def test_without_records_nothing_moves():
    learnt = learn(SHIPPED, [])
    assert learnt.knowledge is SHIPPED
    assert learnt.moved == learnt.log_posterior == ()


def simulated(truth, number: int, findings: list[str]) -> list[Example]:
    context = context_of(motor="star", cooling="refrigerant", oil_feed="pump", duty="medium")
    network = Network(truth, context)
    values, levels = conflict.simulate(network, findings, number, 8)
    size = {f: len(network.leaf(f).table) for f in findings}
    return [
        Example(context, {f: np.eye(size[f])[levels[f][i]] for f in findings}, network.mechanisms[values[0][i]])
        for i in range(number)
    ]


def test_a_strength_that_is_other_in_truth_is_approached_and_its_interval_holds_it():
    """Records drawn from the shipped network with one link changed: liquid thins the oil in 1 of 10, not in 4 of 10."""
    key = ("oil.thin_diluted", 0)
    written = strengths.read(SHIPPED)
    true = strengths.put(SHIPPED, {**written, key: np.array([0.05, 0.05])})
    learnt = learn(SHIPPED, simulated(true, 960, ["oil.thin_diluted", "oil.foaming"]), prior_records=5.0, steps=6)
    moved = next(m for m in learnt.moved if m.key == key)
    assert moved.before > 0.3
    assert abs(moved.after - 0.1) < 0.25 * abs(moved.before - 0.1)
    assert moved.low < 0.1 < moved.high
    assert np.all(np.diff(learnt.log_posterior) >= -1e-9)
    links = [m for m in learnt.moved if m.key[1] >= 0 and m.records > 1]
    assert max(links, key=lambda m: abs(m.after - m.before)).key == key


def test_confirmed_causes_are_counted_by_hand():
    """Eight of ten named the cause: (8 + 20 x .5) / (10 + 20); a record without named causes says nothing of it."""
    knowledge = graded()
    named = [Example(ANY, {}, "overheating", ("heat",))] * 8
    other = dataclasses.replace(knowledge.causes["heat"], id="cold", feeds=(("overheating", 0.5, {}),))
    knowledge = dataclasses.replace(knowledge, causes={**knowledge.causes, "cold": other})
    records = [*named, *[Example(ANY, {}, "overheating", ("cold",))] * 2, *[Example(ANY, {}, "overheating")] * 50]
    learnt = learn(knowledge, records, prior_records=20.0)
    moved = {m.key: m for m in learnt.moved}
    assert moved["heat", 0].after == pytest.approx((8 + 10) / 30, abs=0.01)
    assert moved["cold", 0].after == pytest.approx((2 + 10) / 30, abs=0.01)
    assert moved["heat", 0].records == pytest.approx(10.0)


def test_what_cannot_be_is_named():
    knowledge = small({"floodback": 1.0}, findings=[finding("f.a", 0.1, link("floodback!", shows=1.0))])
    assert learning.impossible(knowledge, [examples("floodback", a=THERE), examples("floodback", a=ABSENT)]) == [1]
    assert learning.impossible(SHIPPED, [Example(context_of(motor="star"), {}, "half_winding")]) == [0]


def test_evidence_that_names_the_first_weighs_only_it():
    """A clamp on `first` in the engine equals its share of the evidence, for the same findings."""
    network = Network(SHIPPED, ANY)
    seen = {"oil.low": np.array([0.0, 0.0, 1.0])}
    question = Question(network, list(seen))
    first, evidence = question.first(seen)
    known = np.zeros((len(network.mechanisms), 1))
    known[3] = 1.0
    assert question.beliefs(seen, {0: known}).log_evidence == pytest.approx(np.log(first[3]) + evidence)
