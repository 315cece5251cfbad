"""The questions of one step as rows of large buttons, and what may be written beside an answer."""

from collections.abc import Callable, Iterator
from typing import Any

import ipywidgets as w

from stripdown.vocabulary import label
from stripdown.widgets import intake_plan, intake_words
from stripdown.widgets.intake import Intake
from stripdown.widgets.intake_draft import Key, observation
from stripdown.widgets.intake_photo import names
from stripdown.widgets.intake_plan import LACKING, PRESENT, Question

_GRADED = {"none": "1 sound", "slight": "2 slight", "heavy": "3 heavy", "unreadable": "4 can't read"}
_PRESENT = {"none": "1 no", "heavy": "3 yes", "unreadable": "4 can't tell"}
_NOT_LOOKED = "0 not looked at"
_ALL = "whole machine"
_LEAVE_OUT = "✕ photo "
_NOTHING, _NO_CYLINDER = "", 0  # None would leave no button pressed


class Rows:
    """All questions of the step that the workbook stands at. `changed` is called after each answer."""

    def __init__(self, intake: Intake, questions: list[Question], changed: Callable[[], None]) -> None:
        self.intake = intake
        self.questions = questions
        self._changed = changed
        self._quiet = False
        self._how: dict[str, Any] = {
            "layout": w.Layout(width="auto"),
            "style": w.ToggleButtonsStyle(description_width="17em"),
        }
        self._toggles = [self._toggle(q) for q in questions]
        self._more: list[Any] = [None] * len(questions)
        self._rows = [w.VBox([t], layout=self._how["layout"]) for t in self._toggles]
        for row in self._rows:
            row.add_class("sd-row")
        self._besides: dict[Key, Beside] = {}
        self._open: Key | None = None
        self._cylinder = self._cylinders()
        self.box = w.VBox([*self._cylinder, *self._rows, *self._lacking()])
        self.refresh()

    def refresh(self) -> None:
        """Show the answers that stand, and what stands beside the one that is open."""
        self._quiet = True
        for toggle, question in zip(self._toggles, self.questions, strict=True):
            toggle.value = self.intake.answer_of(question) or _NOTHING
            toggle.description = self._words(question)
        for chooser in self._cylinder:
            chooser.value = self.intake.place.cylinder or _NO_CYLINDER
        self._quiet = False
        for index, row in enumerate(self._rows):
            wanted = tuple(self._parts(index))
            if tuple(row.children) != wanted:
                row.children = wanted

    def _parts(self, index: int) -> Iterator[Any]:
        """The buttons of a question; once it is answered, what opens the fields beside it; and those, where open."""
        yield self._toggles[index]
        key = self.intake.key(self.questions[index])
        if key is None:
            return
        more = self._more[index] = self._more[index] or self._opener(index)
        more.description = intake_words.beside(self.intake.content, key, opened=key == self._open)
        yield more
        if key == self._open:
            beside = self._besides.setdefault(key, Beside(self.intake, key, self._changed))
            beside.refresh()
            yield beside.box

    def _opener(self, index: int) -> Any:
        button = w.Button(layout=self._how["layout"])
        button.add_class("sd-more")

        def pressed(_: object) -> None:
            key = self.intake.key(self.questions[index])
            self._open = None if key == self._open else key
            self.refresh()

        button.on_click(pressed)
        return button

    def _words(self, question: Question) -> str:
        words = label(f"{question.part}.{question.condition}" if question.condition else question.part)
        cylinder = self.intake.place.cylinder if question.by_cylinder else None
        if cylinder:
            words += f", cyl. {cylinder}"
        others = intake_words.others(intake_plan.said(self.intake.content, question), cylinder)
        return words + (f" ({others})" if others and not question.either else "")

    def _toggle(self, question: Question) -> Any:
        if question.either:
            said = {c: f"{n} {label(c)}" for n, c in enumerate(question.answers[:-1], 1)}
            said |= {"unreadable": _PRESENT["unreadable"]}
        else:
            said = _PRESENT if question.answers == PRESENT else _GRADED
        options = [(said[a], a) for a in question.answers] + [(_NOT_LOOKED, _NOTHING)]
        toggle = w.ToggleButtons(options=options, value=_NOTHING, **self._how)
        toggle.add_class("sd-answer")
        toggle.observe(lambda change: self._answered(question, change["new"] or None), "value")
        return toggle

    def _answered(self, question: Question, answer: str | None) -> None:
        if self._quiet:
            return
        self.intake.answer(question, answer)
        self._open = None if answer in (None, "none") else self.intake.key(question)
        self._changed()

    def _cylinders(self) -> list[Any]:
        if not any(q.by_cylinder for q in self.questions):
            return []
        options = [(_ALL, _NO_CYLINDER), *((f"cylinder {n}", n) for n in range(1, self.intake.cylinders + 1))]
        chooser = w.ToggleButtons(options=options, value=_NO_CYLINDER, description="Looking at", **self._how)
        chooser.add_class("sd-cylinder")

        def chosen(change: dict[str, Any]) -> None:
            if not self._quiet:
                self.intake.look_at(change["new"] or None)
                self._changed()

        chooser.observe(chosen, "value")
        return [chooser]

    def _lacking(self) -> list[Any]:
        """A part that is missing or wrong is told from a list, not asked for each part."""
        parts = dict.fromkeys(q.part for q in self.questions)
        if not parts:
            return []
        options = [("", None), *((label(f"{p}.{c}"), Question(p, c, PRESENT)) for p in parts for c in LACKING)]
        chooser = w.Dropdown(
            options=options,
            description="A part is missing or wrong",
            style={"description_width": "17em"},
            layout=self._how["layout"],
        )

        def chosen(change: dict[str, Any]) -> None:
            if change["new"] is not None:
                self.intake.answer(change["new"], "heavy")
                self._changed()

        chooser.observe(chosen, "value")
        return [chooser]


class Beside:
    """Where, note and photos of one answer, whatever is answered after it."""

    def __init__(self, intake: Intake, key: Key, changed: Callable[[], None]) -> None:
        self.intake = intake
        self.key = key
        self._changed = changed
        self._quiet = False
        style, wide = {"description_width": "5em"}, w.Layout(width="auto")
        self._where = w.Text(description="Where", placeholder="bank 1, pump side …", style=style, layout=wide)
        self._note = w.Textarea(description="Note", rows=2, style=style, layout=wide)
        self._photo = w.FileUpload(description="Add photo", accept="image/*", multiple=True)
        self._photos = w.VBox()
        for name, widget in (("where", self._where), ("note", self._note)):
            widget.observe(lambda change, name=name: self._typed(name, change["new"]), "value")
        self._photo.observe(self._uploaded, "value")
        self.box = w.VBox([self._where, self._note, self._photo, self._photos])
        self.box.add_class("sd-beside")

    def refresh(self) -> None:
        """Show what stands beside the answer."""
        entry = observation(self.intake.content, *self.key) or {}
        self._quiet = True
        for name, widget in (("where", self._where), ("note", self._note)):
            said = str(entry.get(name, ""))
            if widget.value.strip() != said.strip():
                widget.value = said
        self._quiet = False
        photos = [str(n) for n in names(entry)]
        if photos != [p.description.removeprefix(_LEAVE_OUT) for p in self._photos.children]:
            self._photos.children = [self._named(n) for n in photos]

    def _named(self, name: str) -> Any:
        button = w.Button(description=f"{_LEAVE_OUT}{name}", layout=w.Layout(width="auto"))

        def pressed(_: object) -> None:
            self.intake.forget_photo(self.key, name)
            self._changed()

        button.on_click(pressed)
        return button

    def _typed(self, name: str, text: str) -> None:
        if not self._quiet:
            self.intake.detail(self.key, name, text)
            self._changed()

    def _uploaded(self, change: dict[str, Any]) -> None:
        if not change["new"]:
            return
        for upload in change["new"]:
            self.intake.photo(self.key, bytes(upload["content"]))
        self._photo.value = ()
        self._changed()
