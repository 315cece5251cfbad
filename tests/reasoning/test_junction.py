"""The junction tree against enumeration of random networks."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.reasoning.junction import JunctionTree


@st.composite
def networks(draw):
    """Cards, families (parents below each node), seed, evidence: networks of up to seven variables."""
    number = draw(st.integers(2, 7))
    cards = [draw(st.integers(2, 3)) for _ in range(number)]
    families = []
    for node in range(number):
        parents = draw(st.lists(st.integers(0, node - 1), max_size=3, unique=True)) if node else []
        families.append((*sorted(parents), node))
    evidence = draw(st.dictionaries(st.integers(0, number - 1), st.integers(0, 1), max_size=3))
    return cards, families, draw(st.integers(0, 2**31)), evidence


def _random_tables(cards, families, seed):
    random = np.random.default_rng(seed)
    tables = []
    for scope in families:
        table = random.random([cards[v] for v in scope]) ** 2
        tables.append((table / table.sum(axis=-1, keepdims=True))[..., None])
    return tables


def _joint(cards, families, tables, evidence):
    joint = np.zeros(cards)
    for values in itertools.product(*(range(c) for c in cards)):
        if all(values[v] == x for v, x in evidence.items()):
            joint[values] = np.prod([t[(*(values[v] for v in s), 0)] for s, t in zip(families, tables, strict=True)])
    return joint


@settings(max_examples=60, deadline=None)
@given(networks())
def test_agrees_with_enumeration(case):
    cards, families, seed, evidence = case
    tables = _random_tables(cards, families, seed)
    joint = _joint(cards, families, tables, evidence)
    scopes = [*families, *((v,) for v in evidence)]
    seen = [np.eye(cards[v])[x][:, None] for v, x in evidence.items()]
    tree = JunctionTree(cards, scopes, root=(0,))
    beliefs = tree.calibrate([*tables, *seen])
    assert np.exp(beliefs.log_evidence[0]) == pytest.approx(joint.sum(), rel=1e-12)
    for v in range(len(cards)):
        axes = tuple(u for u in range(len(cards)) if u != v)
        assert beliefs.marginal(v)[:, 0] == pytest.approx(joint.sum(axis=axes) / joint.sum(), abs=1e-12)
    for pair in itertools.combinations(range(len(cards)), 2):
        axes = tuple(u for u in range(len(cards)) if u not in pair)
        assert beliefs.marginal(*pair)[..., 0] == pytest.approx(joint.sum(axis=axes) / joint.sum(), abs=1e-12)
    for three in itertools.combinations(range(len(cards)), 3):
        axes = tuple(u for u in range(len(cards)) if u not in three)
        assert beliefs.marginal(*three)[..., 0] == pytest.approx(joint.sum(axis=axes) / joint.sum(), abs=1e-12)
    weights, scale = tree.collect([*tables, *seen], (0,))
    axes = tuple(range(1, len(cards)))
    assert weights[:, 0] * np.exp(scale[0]) == pytest.approx(joint.sum(axis=axes), abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(networks(), st.lists(st.tuples(st.integers(0, 6), st.floats(0.0, 1.0)), min_size=1, max_size=3))
def test_what_is_told_afterwards_counts_as_if_told_at_once(case, later):
    """Also where part of it rules a value out, and where two pieces speak of one variable."""
    cards, families, seed, evidence = case
    tables = _random_tables(cards, families, seed)
    pieces = [((v % len(cards),), np.linspace(1.0, x, cards[v % len(cards)])[:, None]) for v, x in later]
    joint = before = _joint(cards, families, tables, evidence)
    for (v,), weights in pieces:
        joint = joint * weights[:, 0].reshape([-1 if u == v else 1 for u in range(len(cards))])
    seen = [np.eye(cards[v])[x][:, None] for v, x in evidence.items()]
    tree = JunctionTree(cards, [*families, *((v,) for v in evidence)], root=(0,))
    beliefs = tree.calibrate([*tables, *seen])
    assert beliefs.share(pieces)[0] == pytest.approx(joint.sum() / before.sum(), rel=1e-12, abs=1e-300)
    then = beliefs.also(pieces)
    if joint.sum() > 1e-200:
        assert np.exp(then.log_evidence[0]) == pytest.approx(joint.sum(), rel=1e-11)
        for v in reversed(range(len(cards))):
            axes = tuple(u for u in range(len(cards)) if u != v)
            assert then.marginal(v)[:, 0] == pytest.approx(joint.sum(axis=axes) / joint.sum(), abs=1e-11)
    for v in range(len(cards)):
        axes = tuple(u for u in range(len(cards)) if u != v)
        assert beliefs.marginal(v)[:, 0] == pytest.approx(before.sum(axis=axes) / before.sum(), abs=1e-12)


def test_some_entries_of_a_batch_are_those_of_the_batch():
    cards, families = [2, 3, 2], [(0,), (0, 1), (0, 1, 2)]
    tables = _random_tables(cards, families, 7)
    tree = JunctionTree(cards, [*families, (2,)])
    together = tree.calibrate([*tables, np.array([[0.2, 1.0, 0.3], [0.9, 0.5, 1.0]])])
    for some in ([2, 0], slice(1, 3)):
        assert np.array_equal(together.only(some).marginal(1, 2), together.marginal(1, 2)[..., some])
        assert np.array_equal(together.only(some).log_evidence, together.log_evidence[some])


def test_batch_entries_do_not_touch_one_another():
    cards, families = [2, 3, 2], [(0,), (0, 1), (0, 1, 2)]
    tables = _random_tables(cards, families, 7)
    tree = JunctionTree(cards, [*families, (2,)])
    one = np.array([[0.2, 1.0, 0.0], [0.9, 0.0, 1.0]])
    together = tree.calibrate([*tables, one])
    for j in range(3):
        alone = tree.calibrate([*tables, one[:, [j]]])
        assert together.marginal(1)[:, j] == pytest.approx(alone.marginal(1)[:, 0], abs=1e-15)
        assert together.log_evidence[j] == pytest.approx(alone.log_evidence[0], abs=1e-13)


def test_long_evidence_does_not_underflow():
    """400 findings of probability 1e-3 under one cause come to 10^-1200: only the log can hold it."""
    scopes = [(0,)] + [(0, i) for i in range(1, 401)]
    root = np.array([[0.5], [0.5]])
    leaf = np.array([[1.0 - 1e-3, 1e-3], [1.0 - 2e-3, 2e-3]])[..., None]
    tree = JunctionTree([2] * 401, [*scopes, *((i,) for i in range(1, 401))])
    yes = np.array([[0.0], [1.0]])
    beliefs = tree.calibrate([root, *[leaf] * 400, *[yes] * 400])
    expected = np.logaddexp(np.log(0.5) + 400 * np.log(1e-3), np.log(0.5) + 400 * np.log(2e-3))
    assert beliefs.log_evidence[0] == pytest.approx(expected, rel=1e-12)
    assert beliefs.marginal(0)[1, 0] == pytest.approx(1.0)


def test_wrong_number_of_tables_and_foreign_query_are_refused():
    tree = JunctionTree([2, 2, 2, 2], [(0, 1), (1, 2)])
    with pytest.raises(ValueError, match="2 tables wanted, 1 given"):
        tree.calibrate([np.ones((2, 2, 1))])
    beliefs = tree.calibrate([np.ones((2, 2, 1)), np.ones((2, 2, 1))])
    with pytest.raises(ValueError, match="not all in the tree"):
        beliefs.marginal(0, 3)
