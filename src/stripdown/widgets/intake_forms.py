"""The pages that are filled in like a form: the unit, its history, what the parties say, the confirmed finding."""

from collections.abc import Callable, Sequence
from typing import Any

import ipywidgets as w

from stripdown import vocabulary
from stripdown.record import schema
from stripdown.vocabulary import label
from stripdown.widgets import intake_draft as draft
from stripdown.widgets import intake_words
from stripdown.widgets.intake import Intake

Sections = Sequence[tuple[str, Sequence[str]]]
UNIT_SECTIONS: Sections = (
    ("", ("claim", "examined_by", "examined_on", "instruments", "revision")),
    ("unit", tuple(n for n in schema.SECTIONS["unit"] if n != "plate")),
    ("unit.plate", tuple(schema.SECTIONS["unit.plate"])),
)
HISTORY_SECTIONS: Sections = (
    ("history", tuple(n for n in schema.SECTIONS["history"] if n != "alarms")),
    ("history.alarms", tuple(schema.SECTIONS["history.alarms"])),
)
_HOLDERS = {"date": "year-month-day, as 2026-01-31"}
_HOW: dict[str, Any] = {"style": {"description_width": "17em"}, "layout": w.Layout(width="auto")}


class Form:
    """Fields of some sections of the record, each saved as it is typed."""

    def __init__(self, intake: Intake, sections: Sections, changed: Callable[[], None]) -> None:
        self.intake = intake
        self._changed = changed
        self._quiet = False
        self._fields = [(s, n, self._field(s, n)) for s, names in sections for n in names]
        self.box = w.VBox([f for _, _, f in self._fields])
        self.box.add_class("sd-form")
        self.refresh()

    def refresh(self) -> None:
        """Show what stands, but leave alone what is being typed and means the same."""
        self._quiet = True
        for section, name, field in self._fields:
            stands = draft.shown(draft.table_of(self.intake.content, section).get(name))
            if isinstance(field, w.Dropdown):
                if stands not in [value for _, value in field.options]:
                    field.options = [*field.options, (stands, stands)]
                field.value = stands
            elif draft.shown(draft.typed(field.value, section, name)) != stands:
                field.value = stands
        self._quiet = False

    def _field(self, section: str, name: str) -> Any:
        known = schema.SECTIONS[section][name]
        title = intake_words.title(section, name) + (" *" if known.required else "")
        if known.kind in ("choice", "truth"):
            choices = list(known.choices()) if known.choices else ["yes", "no"]
            field: Any = w.Dropdown(
                options=[(intake_words.UNSAID, ""), *((label(c), c) for c in choices)], description=title, **_HOW
            )
        elif (section, name) == ("unit", "model"):
            models = sorted(s.model for s in self.intake.sheets.models.values() if s.model)
            field = w.Combobox(options=models, ensure_option=False, description=title, **_HOW)
        elif name == "reported":
            field = w.Textarea(description=title, rows=2, **_HOW)
        else:
            field = w.Text(description=title, placeholder=_HOLDERS.get(known.kind, ""), **_HOW)
        field.observe(lambda change: self._typed(section, name, change["new"]), "value")
        return field

    def _typed(self, section: str, name: str, text: str) -> None:
        if not self._quiet:
            self.intake.field(section, name, text)
            self._changed()


class Statements:
    """What the parties say, one row each and an empty one."""

    def __init__(self, intake: Intake, changed: Callable[[], None]) -> None:
        self.intake = intake
        self._changed = changed
        self._rows: list[tuple[Any, Any]] = []
        self.box = w.VBox([w.HTML("<h4>What the parties say</h4>")])
        self.refresh()

    def refresh(self) -> None:
        """One empty row more than there are statements."""
        held = self.intake.content.get("statements", ())
        for at in range(len(self._rows), len(held) + 1):
            entry = held[at] if at < len(held) else {}
            by = w.Text(draft.shown(entry.get("by")), description=f"Said by, {at + 1}", **_HOW)
            text = w.Textarea(draft.shown(entry.get("text")), description=f"Words, {at + 1}", rows=2, **_HOW)
            for field in (by, text):
                field.observe(lambda _, row=at: self._typed(row), "value")
            self._rows.append((by, text))
            self.box.children += (by, text)

    def _typed(self, row: int) -> None:
        by, text = self._rows[row]
        held = len(self.intake.content.get("statements", ()))
        self.intake.statement(row if row < held else None, by.value, text.value)
        self._changed()


class Confirm:
    """A person confirms the finding or writes their own."""

    def __init__(self, intake: Intake, changed: Callable[[], None]) -> None:
        self.intake = intake
        self._changed = changed
        finding = intake.case.finding
        mine = (intake.content.get("confirmed") or [{}])[-1]
        self._by = w.Text(draft.shown(mine.get("by")), description="Name of the person *", **_HOW)
        self._first = _choice("What failed first *", vocabulary.mechanisms(), mine.get("first", finding.first[0].id))
        likely = [s.id for s in finding.causes if (s.probability or 0.0) >= 0.5]
        ticked = mine.get("causes", likely)
        self._causes = {
            id_: w.Checkbox(id_ in ticked, description=words, indent=False, layout=_HOW["layout"])
            for id_, words in vocabulary.causes().items()
        }
        causes = w.Box([*self._causes.values()], layout=_HOW["layout"])
        causes.add_class("sd-choices")
        self._outcome = _choice("What to do with it", vocabulary.outcomes(), mine.get("outcome", finding.outcome.id))
        said = next((s.id for s in finding.liability), "undetermined")
        self._liability = _choice("Whose it is", vocabulary.liabilities(), mine.get("liability", said))
        self._said = w.HTML()
        button = w.Button(description="I confirm this finding", layout=w.Layout(width="auto"))
        button.add_class("sd-main")
        button.on_click(lambda _: self._confirmed())
        brought = w.HTML("<h4>What brought it: tick each</h4>")
        fields = (self._by, self._first, brought, causes, self._outcome, self._liability)
        self.box = w.VBox([*fields, button, self._said])
        self.refresh()

    def refresh(self) -> None:
        """Say who confirmed what."""
        self._said.value = intake_words.confirmed(self.intake)

    def _confirmed(self) -> None:
        self.intake.confirm(
            by=self._by.value,
            first=self._first.value,
            causes=[id_ for id_, box in self._causes.items() if box.value],
            outcome=self._outcome.value,
            liability=self._liability.value,
        )
        self._changed()


def _choice(title: str, words: Any, value: object) -> Any:
    options = [(intake_words.UNSAID, ""), *((f"{text}", id_) for id_, text in words.items())]
    return w.Dropdown(options=options, value=value if value in words else "", description=title, **_HOW)
