"""The class room: no order of clicks shows odds before a guess or the answer before the last station."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.lesson import Lesson, candidates, plan, points
from stripdown.record import read
from stripdown.resources import demo
from stripdown.widgets.lesson import ClassRoom

LESSON = plan(read(demo() / "returns" / "tw-2023-008.toml"))
POOR = plan(read(demo() / "returns" / "tw-2024-027.toml"))


def _through(lesson: Lesson, candidate: str, confidence: float) -> ClassRoom:
    room = ClassRoom(lesson)
    while room.stage != "answer":
        if room.stage == "guess":
            room.guess(candidate, confidence)
        room.forward()
    return room


def test_odds_wait_for_the_guess() -> None:
    room = ClassRoom(LESSON)
    assert room.stage == "guess"
    room.forward()
    assert (room.showing, room.refused) == (1, "commit the guess first, then look on")
    room.guess("liquid_slug", 0.4)
    assert (room.stage, room.refused) == ("odds", None)
    room.forward()
    assert room.showing == 2


@pytest.mark.parametrize(
    ("candidate", "confidence"), [("", 0.5), ("gremlins", 0.5), ("surge", 0.0), ("surge", 1.0), ("surge", float("nan"))]
)
def test_a_guess_must_be_one(candidate: str, confidence: float) -> None:
    room = ClassRoom(LESSON)
    room.guess(candidate, confidence)
    assert room.refused
    assert not room.guesses


def test_a_guess_stands() -> None:
    room = ClassRoom(LESSON)
    room.guess("surge", 0.3)
    room.guess("liquid_slug", 0.99)
    assert room.guesses[1].candidate == "surge"
    room.forward()
    room.back()
    room.guess("liquid_slug", 0.99)
    assert room.guesses[1].candidate == "surge"


def test_score_of_the_right_and_the_wrong() -> None:
    right = _through(LESSON, "liquid_slug", 0.8).scores()
    assert {s.points for s in right} == {points(0.8, right=True)}
    wrong = _through(LESSON, "wear_out", 0.8).scores()
    assert {s.points for s in wrong} == {points(0.8, right=False)}
    assert right[-1].points > 0 > wrong[-1].points


def test_not_decided_can_be_right() -> None:
    assert _through(POOR, "not_decided", 0.6).scores()[-1].points == points(0.6, right=True)


def test_where_nothing_was_looked_at_nothing_is_asked() -> None:
    room = _through(POOR, "not_decided", 0.6)
    assert set(room.guesses) == {r.number for r in POOR.reveals if r.looked}
    assert len(room.guesses) < len(POOR.reveals)


_ACTION = st.one_of(
    st.tuples(st.just("guess"), st.sampled_from([*candidates(), "nonsense"]), st.floats(-0.5, 1.5)),
    st.tuples(st.just("forward")),
    st.tuples(st.just("back")),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(_ACTION, max_size=60))
def test_any_order_of_clicks_leaves_a_lesson(actions: list[tuple[object, ...]]) -> None:
    room = ClassRoom(LESSON)
    for name, *arguments in actions:
        before = dict(room.guesses)
        getattr(room, str(name))(*arguments)
        assert 1 <= room.showing <= room.last
        assert before.items() <= room.guesses.items()
        if room.stage == "odds" and room.reveal is not None and room.reveal.looked:
            assert room.showing in room.guesses
        looked = [r.number for r in LESSON.reveals[: room.showing - 1] if r.looked]
        assert set(looked) <= set(room.guesses)
        assert bool(room.scores()) <= room.over
        if room.stage == "answer":
            assert room.over
