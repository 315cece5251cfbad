"""The lesson on a screen: a thin view on `ClassRoom`, in type for a projector."""

from typing import Any, Literal

import ipywidgets as w

from stripdown.lesson import Lesson, candidates
from stripdown.pages import lesson_style
from stripdown.pages.lesson_answer import SURE
from stripdown.pages.lesson_page import answer_html, station_html
from stripdown.pages.lesson_score import score_html
from stripdown.vocabulary import label
from stripdown.widgets import front as browser
from stripdown.widgets.lesson import ClassRoom

_WIDE = w.Layout(width="auto", min_width="16rem", height="3rem")


class LessonView:
    """Widgets around one class room; `widget` is what a notebook shows."""

    def __init__(self, lesson: Lesson, system: Literal["si", "us"] = "si") -> None:
        self.room = ClassRoom(lesson)
        self._system = system
        choices = [("Choose what came first", ""), *((label(c), c) for c in candidates())]
        self.page = w.HTML()
        self.told = w.HTML()
        self.candidate = w.Dropdown(options=choices, value="", description="Came first", layout=_WIDE)
        self.sure = w.Dropdown(
            options=[(f"{s} of 100", s) for s in SURE], value=50, description="How sure", layout=_WIDE
        )
        self.commit = w.Button(description="Commit the guess", button_style="primary", layout=_WIDE)
        self.go_on = w.Button(description="Go on", button_style="primary", layout=_WIDE)
        self.go_back = w.Button(description="Look back", layout=_WIDE)
        self.go_on.add_class("sd-onward")
        self.commit.on_click(self._committed)
        self.go_on.on_click(self._went_on)
        self.go_back.on_click(self._went_back)
        self.asking = w.HBox([self.candidate, self.sure, self.commit], layout=w.Layout(flex_flow="row wrap"))
        self.asking.add_class("sd-onward")
        moving = w.HBox([self.go_back, self.go_on], layout=w.Layout(flex_flow="row wrap"))
        self.widget = w.VBox([self.page, self.told, self.asking, moving])
        self.widget.add_class("stripdown-lesson")
        self.widget.add_class("stripdown-workbook")
        self._draw()

    def _committed(self, _: Any) -> None:
        self.room.guess(self.candidate.value, self.sure.value / 100)
        self._draw()

    def _went_on(self, _: Any) -> None:
        self.room.forward()
        self._draw()

    def _went_back(self, _: Any) -> None:
        self.room.back()
        self._draw()

    def _draw(self) -> None:
        """Show what the class room stands at; the page last, so that it never stands above the buttons of another."""
        room, lesson = self.room, self.room.lesson
        told = room.refused or self._committed_to()
        self.told.value = (
            f'<div class="lesson room"><p class="stripdown" role="status">{told}</p></div>' if told else ""
        )
        self.asking.layout.display = "flex" if room.stage == "guess" else "none"
        self.go_on.disabled = room.stage != "odds"
        self.go_on.description = "The answer" if room.showing == room.last - 1 else "Go on"
        self.go_back.disabled = room.showing == 1
        if room.reveal is None:
            page = score_html(room.lesson.answer, room.scores()) + answer_html(lesson, system=self._system)
        else:
            page = station_html(lesson, room.reveal, odds=room.stage == "odds", system=self._system)
        self.page.value = f'<div class="lesson room">{page}</div>'

    def _committed_to(self) -> str:
        guess = self.room.guesses.get(self.room.showing)
        return "" if guess is None else f"The class said: {label(guess.candidate)}, sure {100 * guess.confidence:.0f}."


def front() -> tuple[Any, Any]:
    """Style and script of the lesson, to be displayed before it."""
    return browser.front(lesson_style())


def show(lesson: Lesson, *, system: Literal["si", "us"] = "si") -> w.Widget:
    """The lesson from its complaint on."""
    return LessonView(lesson, system).widget
