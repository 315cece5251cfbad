"""Many records judged together come out as each does alone, whatever stands beside them."""

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.knowledge.model import CONTEXT
from stripdown.reasoning.costs import default_costs
from stripdown.reasoning.model import Evidence
from stripdown.reasoning.network import context_of
from stripdown.reasoning.reason import AT_ONCE, Reasoner
from tests.reasoning.small import SHIPPED
from tests.reasoning.test_explain import evidence_of, records

REASONER = Reasoner(SHIPPED, default_costs())
CONTEXTS = st.fixed_dictionaries({key: st.sampled_from(words) for key, words in CONTEXT.items()})
Asked = tuple[dict[str, str], Evidence, tuple[str, ...]]


@st.composite
def asked(draw: st.DrawFn) -> Asked:
    return context_of(**draw(CONTEXTS)), evidence_of(draw(records(8))), ()


@settings(max_examples=6, deadline=None)
@given(st.lists(asked(), min_size=2, max_size=4))
def test_together_as_alone(some: list[Asked]) -> None:
    """To the last bit, which is more than the nine digits that are promised."""
    together = REASONER.judge_many(some)
    for (context, evidence, parts), finding in zip(some, together, strict=True):
        assert REASONER.judge(context, evidence, parts, brief=True) == finding


@settings(max_examples=25, deadline=None)
@given(asked())
def test_who_is_told_to_look_further_is_told_where(one: Asked) -> None:
    found = REASONER.judge(*one, brief=True)
    if found.outcome.id == "inspect_further" and found.conflict is None:
        assert found.next_checks


def test_more_records_than_go_through_at_once_keep_their_order() -> None:
    levels: list[dict[str, Any]] = [{"oil.low": 2}, {"crank.will_not_turn": 1}]
    some = [(context_of(), evidence_of(levels[i % 2]), (str(i),)) for i in range(AT_ONCE + 2)]
    found = REASONER.judge_many(some)
    assert [f.parts for f in found] == [(str(i),) for i in range(AT_ONCE + 2)]
    assert found[0].first == found[AT_ONCE].first != found[1].first == found[AT_ONCE + 1].first


def test_no_record_no_answer() -> None:
    assert REASONER.judge_many([]) == []


def test_records_with_nothing_in_them_are_judged_together_too() -> None:
    """Nothing tells them apart, so that nothing in the sums has one entry a record of its own accord."""
    nothing = (context_of(), evidence_of({}), ())
    assert REASONER.judge_many([nothing] * 3) == [REASONER.judge(*nothing, brief=True)] * 3
