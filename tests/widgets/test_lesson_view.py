"""The view on the class room: what it shows follows the machine, and it shows nothing too soon."""

import pytest

from stripdown.lesson import plan
from stripdown.record import read
from stripdown.resources import demo
from stripdown.widgets.lesson_view import LessonView

LESSON = plan(read(demo() / "returns" / "tw-2023-008.toml"))


@pytest.fixture
def view() -> LessonView:
    return LessonView(LESSON)


def test_opens_on_the_complaint_and_waits(view: LessonView) -> None:
    assert "The complaint" in view.page.value
    assert view.page.value.index("Isolate, lock out, tag") < view.page.value.index("Compressor")
    assert "How the odds moved" not in view.page.value
    assert view.go_on.disabled
    assert view.go_back.disabled
    assert view.asking.layout.display == "flex"


def test_commit_without_a_choice_says_what_is_missing(view: LessonView) -> None:
    view.commit.click()
    assert "choose what came first" in view.told.value
    assert "How the odds moved" not in view.page.value


def test_a_whole_lesson_by_its_buttons(view: LessonView) -> None:
    clicks = 0
    while view.room.stage != "answer":
        clicks += 1
        assert clicks < 40
        assert "The answer" not in view.page.value
        if view.room.stage == "guess":
            view.candidate.value, view.sure.value = "liquid_slug", 80
            view.commit.click()
            assert "How the odds moved" in view.page.value
        view.go_on.click()
    assert "+4.14 points" in view.page.value  # log2(22 × 0.8) = 4.14
    assert "The letter to the site" in view.page.value
    view.go_back.click()
    assert "The site" in view.page.value
