"""The bench workbook on the screen: a thin view on `Intake`, made of large buttons and plain fields."""

import tempfile
from pathlib import Path
from typing import Any

import ipywidgets as w

from stripdown.knowledge import load as load_knowledge
from stripdown.limits import load_sheets
from stripdown.reasoning.costs import Costs
from stripdown.record import read_columns
from stripdown.widgets import front as browser
from stripdown.widgets import intake_draft as draft
from stripdown.widgets import intake_words
from stripdown.widgets.intake import Intake
from stripdown.widgets.intake_file import FINISH, UNIT
from stripdown.widgets.intake_forms import HISTORY_SECTIONS, UNIT_SECTIONS, Confirm, Form, Statements
from stripdown.widgets.intake_readings import Readings
from stripdown.widgets.intake_rows import Rows

_HERE = Path(__file__).parent
_HISTORY = "site_history"
_TITLES = {UNIT: "Claim and unit", FINISH: "Look through and confirm"}
_ORDERS = [("step by step", "teardown"), ("what tells most a minute", "gain")]


def workbook(
    record: str,
    *,
    claim: str = "",
    model: str = "",
    limits: str = "",
    knowledge: str = "",
    costs: str = "",
    columns: str = "",
    system: str = "si",
) -> "View":
    """What the notebook shows; '' = ours, for `record` a new one in a temporary folder."""
    path = Path(record) if record else Path(tempfile.mkdtemp(prefix="stripdown-")) / "return-001.toml"
    intake = Intake.open(
        path,
        claim,
        read_columns(columns) if columns else None,
        sheets=load_sheets(Path(limits) if limits else None),
        knowledge=load_knowledge(Path(knowledge) if knowledge else None),
        costs=Costs.load(Path(costs)) if costs else None,
        system=system,
    )
    if model and not draft.table_of(intake.content, "unit").get("model"):
        intake.field("unit", "model", model)
    return View(intake)


def front() -> tuple[Any, Any]:
    """Style and keys of the workbook, to be displayed before it."""
    return browser.front(f"<style>{(_HERE / 'intake.css').read_text(encoding='utf-8')}</style>", "intake.js")


class View:
    """Head, page and live panel; a page is built anew only where its questions change, so that focus stays."""

    def __init__(self, intake: Intake) -> None:
        self.intake = intake
        self._quiet = False
        self._built: object = None
        self._parts: list[Any] = []
        wide = w.Layout(width="auto")
        self._head, self._headline, self._live = w.HTML(), w.HTML(), w.HTML()
        self._headline.add_class("sd-now")
        self._pages = w.Dropdown(
            options=[(self._title(p), p) for p in intake.way.pages],
            description="Step",
            style={"description_width": "auto"},
            layout=wide,
        )
        self._order = w.Dropdown(options=_ORDERS, description="Order", style={"description_width": "auto"}, layout=wide)
        self._pages.observe(lambda change: self._do(intake.go, change["new"]), "value")
        self._order.observe(lambda change: self._do(intake.order, change["new"]), "value")
        steer = w.HBox(
            [
                _button("◀ Back", self._act(intake.back)),
                self._pages,
                self._order,
                _button("Next ▶", self._act(intake.forward), "sd-main"),
            ],
            layout=w.Layout(flex_flow="row wrap"),
        )
        steer.add_class("sd-steer")
        self._clash = w.HBox(
            [
                _button("Take up what the file says now", self._act(intake.take_up_again)),
                _button("Write over it", self._act(intake.write_over)),
            ]
        )
        self._page = w.VBox()
        self._page.add_class("sd-page")
        self._live.add_class("sd-live")
        body = w.HBox([self._page, self._live])
        body.add_class("sd-body")
        self.box = w.VBox([self._head, self._clash, self._headline, steer, body])
        self.box.add_class("sd-intake")
        self.box.add_class("stripdown-workbook")
        self.refresh()

    def refresh(self) -> None:
        """Show the workbook as it stands."""
        intake = self.intake
        self._head.value = intake_words.head(intake)
        self._headline.value = intake_words.headline(intake)
        self._live.value = intake_words.live(intake)
        self._clash.layout.display = "flex" if intake.unsaved else "none"
        self._quiet = True
        self._pages.value, self._order.value = intake.place.step, intake.place.order
        self._quiet = False
        step = intake.place.step
        questions, groups = intake.questions(step), intake.groups(step)
        wanted = (step, intake.to_confirm(step), questions, [g.id for g in groups], intake.cylinders)
        if wanted != self._built:
            self._built = wanted
            self._page.children = self._make(step, questions, groups)
        for part in self._parts:
            part.refresh(groups) if isinstance(part, Readings) else part.refresh()
        if step == FINISH:
            self._page.children[1].value = intake_words.progress(intake.stands())

    def _make(self, page: str, questions: list[Any], groups: list[Any]) -> list[Any]:
        self._parts = []
        title = w.HTML(f"<h2>{self._title(page)}</h2>")
        if page == UNIT:
            self._parts = [Form(self.intake, UNIT_SECTIONS, self.refresh)]
            needed = w.HTML("<p>* is needed before the file is a record.</p>")
            return [title, needed, *(p.box for p in self._parts)]
        if page == FINISH:
            self._parts = [Confirm(self.intake, self.refresh)]
            return [title, w.HTML(), *(p.box for p in self._parts)]
        if waiting := self.intake.to_confirm(page):
            return [title, *(c for caution in waiting for c in self._caution(caution))]
        step = self.intake.way.steps[page]
        front = [w.HTML(intake_words.caution(step.title, step.caution, confirmed=True)), w.HTML(f"<p>{step.text}.</p>")]
        if groups:
            self._parts.append(Readings(self.intake, groups, self.refresh))
        if questions:
            self._parts.append(Rows(self.intake, questions, self.refresh))
        if page == _HISTORY:
            self._parts.insert(0, Form(self.intake, HISTORY_SECTIONS, self.refresh))
            self._parts.append(Statements(self.intake, self.refresh))
        return [title, *front, *(p.box for p in self._parts)]

    def _caution(self, caution: str) -> list[Any]:
        title = intake_words.caution_title(self.intake, caution)
        text = self.intake.cautions[caution]
        button = _button(f"It is so: {title}", self._act(lambda: self.intake.confirm_caution(caution)), "sd-main")
        return [w.HTML(intake_words.caution(title, text, confirmed=False)), button]

    def _title(self, page: str) -> str:
        steps = self.intake.way.steps
        return f"{list(steps).index(page) + 1}  {steps[page].title}" if page in steps else _TITLES[page]

    def _do(self, action: Any, value: Any) -> None:
        if not self._quiet:
            action(value)
            self.refresh()

    def _act(self, action: Any) -> Any:
        def act(_: object) -> None:
            action()
            self.refresh()

        return act


def _button(title: str, act: Any, *classes: str) -> Any:
    button = w.Button(description=title, layout=w.Layout(width="auto"))
    button.on_click(act)
    for name in classes:
        button.add_class(name)
    return button
