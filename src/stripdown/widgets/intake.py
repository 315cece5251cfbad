"""The bench workbook as a state machine: one action an entry, saved at once, judged at once. It knows no widget."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from stripdown.case import Case, judge
from stripdown.knowledge import Knowledge
from stripdown.knowledge import load as load_knowledge
from stripdown.knowledge.model import Step
from stripdown.limits import Judged, Sheets, effective_unit, load_sheets
from stripdown.pages.bench_plan import FALLBACK_CYLINDERS
from stripdown.reasoning.costs import Costs, default_costs
from stripdown.reasoning.model import Check
from stripdown.record import Columns, Fault, folder_name
from stripdown.record.model import Unit
from stripdown.widgets import intake_draft as draft
from stripdown.widgets import intake_photo, intake_plan
from stripdown.widgets.intake_draft import Content, Key, Slot
from stripdown.widgets.intake_file import UNIT, Place, RecordFile, take_up
from stripdown.widgets.intake_plan import Group, Question
from stripdown.widgets.intake_so_far import SoFar, look, next_checks
from stripdown.widgets.intake_way import Stand, Way

GENERAL = "general"
"""The caution that stands before everything."""


class Intake:
    """Guides a teardown, keeps the record of it, and says what it points to so far.

    Every action saves; what it refuses it says in `refused`. Whatever the order of actions, the file holds a record,
    or one whose faults `faults` names.
    """

    def __init__(
        self,
        content: Content,
        place: Place,
        file: RecordFile,
        *,
        sheets: Sheets | None = None,
        knowledge: Knowledge | None = None,
        costs: Costs | None = None,
        system: str = "si",
        told: Sequence[str] = (),
    ) -> None:
        self.sheets = sheets or load_sheets()
        self.way = Way(knowledge or load_knowledge())
        self._costs = costs or default_costs()
        self._judge = partial(judge, knowledge=self.way.knowledge, sheets=self.sheets, costs=self._costs, brief=True)
        general = {GENERAL: self.way.knowledge.general_caution}
        self.cautions = general | {s.id: s.caution for s in self.way.knowledge.steps if s.caution}
        """Caution id → its text, that before everything first."""
        self.system = system
        self.told = tuple(told)
        self.refused: str | None = None
        self.unsaved: str | None = None
        self._file = file
        self._aside: dict[Key, dict[str, Any]] = {}
        self._next_checks: tuple[Check, ...] | None = None  # worked out where it is asked for
        self._set(content, self._possible(place))

    @classmethod
    def open(cls, path: str | Path, claim: str = "", columns: Columns | None = None, **how: Any) -> "Intake":
        """Take up a record of any form, where its workbook stood; a path that is not there begins a new record.

        `columns`: own column names, where the path is a table. Raises RecordError with every fault of a file that is
        no record's.
        """
        content, place, file, told = take_up(Path(path), claim, columns)
        return cls(content, place, file, told=told, **how)

    # What a person does

    def field(self, section: str, name: str, text: str) -> None:
        """Type into a field of the unit or its history; '' empties it."""
        self._become(draft.with_field(self.content, section, name, draft.typed(text, section, name)))

    def confirm_caution(self, caution: str) -> None:
        """A caution was read: `general` or the id of a step."""
        if caution in self.cautions and caution not in self.place.confirmed:
            self._move(replace(self.place, confirmed=(*self.place.confirmed, caution)))

    def go(self, step: str) -> None:
        """Turn to a step, or to the pages before and after all steps; answers are of the whole machine again."""
        if step in self.way.pages and step != self.place.step:
            self._move(replace(self.place, step=step, cylinder=None))

    def look_at(self, cylinder: int | None) -> None:
        """Whose parts the next answers are of; None = all together, or not said."""
        if cylinder is None or 1 <= cylinder <= self.cylinders:
            self._move(replace(self.place, cylinder=cylinder))

    def order(self, order: str) -> None:
        """`teardown`: step by step; `gain`: what tells most a minute."""
        if order in ("teardown", "gain"):
            self._move(replace(self.place, order=order))

    def forward(self) -> None:
        """Turn to the next step in the chosen order."""
        self.go(self.next_step)

    def back(self) -> None:
        """Turn to the step before in the order of the teardown."""
        self.go(self.way.previous(self.place.step))

    def answer(self, question: Question, answer: str | None) -> None:
        """An extent, of a part that is one thing or the other its condition; None = not looked at.

        What was written beside an answer that is taken back comes again with the next one.
        """
        if not self._may(question.part) or not (answer is None or answer in question.answers):
            return
        before, cylinder = self.entry(question), self._cylinder_of(question)
        beside = {k: before[k] for k in (*draft.DETAILS, "photo") if k in before} if before else {}
        key = (question.part, question.condition, cylinder)
        if answer is None:
            self._aside[key] = beside
        elif before is None:
            beside = self._aside.pop(key, {})
        content = self.content
        condition, extent = question.condition, answer
        if question.either:
            for other in intake_plan.conditions(question):
                content = draft.answered(content, question.part, other, None, {"extent": None})
            condition = question.answers[0] if answer in (None, "unreadable") else str(answer)
            extent = answer if answer in (None, "unreadable") else "heavy"
        self._become(draft.answered(content, question.part, condition, cylinder, {**beside, "extent": extent}))

    def detail(self, key: Key, name: str, text: str) -> None:
        """`where` or `note` beside an answer."""
        if draft.observation(self.content, *key) is None or not self._may(key[0]):
            self.refused = "answer first, then write beside it"
            return
        value = draft.typed(text, "observations", name)
        self._become(draft.answered(self.content, *key, {name: value}))

    def photo(self, key: Key, data: bytes) -> None:
        """Put a picture beside the record and name it at an answer."""
        entry = draft.observation(self.content, *key)
        if entry is None or not self._may(key[0]):
            self.refused = "answer first, then add the photo"
            return
        stem = folder_name(f"{self._file.path.stem}-{entry['part']}-{entry['condition']}")
        try:
            name = intake_photo.keep(self._file.path.parent, stem, data)
        except (OSError, ValueError) as wrong:
            self.refused = f"no photo kept: {getattr(wrong, 'strerror', None) or wrong}"
            return
        photos = [*intake_photo.names(entry), name]
        self._become(draft.answered(self.content, *key, {"photo": photos}))

    def forget_photo(self, key: Key, name: str) -> None:
        """Take a picture's name out of an answer; the file stays."""
        entry = draft.observation(self.content, *key)
        if entry is not None and self._may(key[0]):
            photos = [n for n in intake_photo.names(entry) if n != name]
            self._become(draft.answered(self.content, *key, {"photo": photos}))

    def reading(self, group: Group, slot: Slot, text: str) -> None:
        """A number, "open" or "short" as typed; '' takes the reading out."""
        if not self._open(group.step):
            return
        value = draft.typed(text, "readings", "value")
        fields = {"value": value}
        if draft.reading_index(self.content, slot) is None:
            fields |= self._common_fields(group)
        self._become(draft.with_reading(self.content, slot, fields))

    def common(self, group: Group, name: str, text: str) -> None:
        """Unit, temperature, accuracy, test voltage or gas, for all readings of the group."""
        if not self._open(group.step) or name not in ("unit", *group.extras):
            return
        kept = {**self.place.common, group.id: {**self.place.common.get(group.id, {}), name: text}}
        content = self.content
        for slot in group.slots:
            if draft.reading_index(content, slot) is not None:
                content = draft.with_reading(content, slot, _common_field(name, text))
        self._become(content, replace(self.place, common=kept))

    def statement(self, at: int | None, by: str, text: str) -> None:
        """What a party says; both empty take it out."""
        entry = {"by": draft.typed(by, "statements", "by"), "text": draft.typed(text, "statements", "text")}
        self._become(draft.with_entry(self.content, "statements", at, entry))

    def confirm(self, *, by: str, first: str, causes: Sequence[str], outcome: str, liability: str) -> None:
        """A person's own finding; of the same person the last counts."""
        name = draft.typed(by, "confirmed", "by")
        if not name or not first:
            self.refused = "write who confirms and what failed first"
            return
        entry = {"by": name, "first": first, "causes": list(causes), "outcome": outcome, "liability": liability}
        earlier = [i for i, c in enumerate(self.content.get("confirmed", ())) if c.get("by") == name]
        self._become(draft.with_entry(self.content, "confirmed", earlier[-1] if earlier else None, entry))

    def write_over(self) -> None:
        """Save in spite of what another program wrote into the file."""
        self.unsaved = self._file.save(self.content, self.place, whatever=True)

    def take_up_again(self) -> None:
        """Leave the entries that were not saved and take what the file says now."""
        content, place, file, _ = take_up(self._file.path)
        self._file, self.unsaved, self.refused = file, None, None
        self._set(content, self._possible(place))

    # What a person sees

    @property
    def path(self) -> Path:
        """The file of the record."""
        return self._file.path

    @property
    def unit(self) -> Unit:
        """The machine by record and limit sheet; unknown stays None."""
        return effective_unit(self.so_far.case.record, self.sheets)

    @property
    def cylinders(self) -> int:
        """How many are asked for."""
        return self.unit.cylinders or FALLBACK_CYLINDERS

    @property
    def step(self) -> Step | None:
        """The step that the workbook stands at; None at the pages before and after."""
        return self.way.steps.get(self.place.step)

    def to_confirm(self, step: str) -> list[str]:
        """Cautions that stand before a step, those of the steps that come first among them, not yet confirmed."""
        if step not in self.way.steps:
            return []
        needed = [GENERAL, *self.way.before(step), step]
        return [c for c in self.cautions if c in needed and c not in self.place.confirmed]

    def questions(self, step: str) -> list[Question]:
        """What is looked for at a step, once its cautions are confirmed."""
        if self.to_confirm(step) or step not in self.way.steps:
            return []
        return intake_plan.questions(self.way.steps[step], self.unit, self.content)

    def groups(self, step: str) -> list[Group]:
        """What is measured at a step, once its cautions are confirmed."""
        if self.to_confirm(step) or step not in self.way.steps:
            return []
        return intake_plan.groups(self.way.steps[step], self.unit, self.content, self.system)

    def answer_of(self, question: Question) -> str | None:
        """The answer that stands, for the cylinder that is looked at."""
        entry = self.entry(question)
        if entry is None:
            return None
        extent = entry.get("extent", "heavy")
        if question.either and extent != "unreadable":
            return str(entry["condition"])
        return str(extent) if extent in question.answers else None

    def entry(self, question: Question) -> draft.Entry | None:
        """The observation behind an answer."""
        conditions = intake_plan.conditions(question)
        cylinder = self._cylinder_of(question)
        found = (draft.observation(self.content, question.part, c, cylinder) for c in conditions)
        return next((e for e in found if e is not None), None)

    def key(self, question: Question) -> Key | None:
        """What names the observation behind an answer, whatever is looked at later."""
        entry = self.entry(question)
        return None if entry is None else (entry["part"], entry["condition"], self._cylinder_of(question))

    def common_of(self, group: Group, name: str) -> str:
        """What stands for all readings of a group; '' where they differ."""
        held = [
            self.content["readings"][i] for s in group.slots if (i := draft.reading_index(self.content, s)) is not None
        ]
        if not held:
            typed = self.place.common.get(group.id, {}).get(name)
            return typed if typed is not None else _default(group, name)
        said = {_said(entry, name) for entry in held}
        return said.pop() if len(said) == 1 else ""

    def value_of(self, slot: Slot) -> str:
        """The value of a reading as it was typed."""
        index = draft.reading_index(self.content, slot)
        return "" if index is None else draft.shown(self.content["readings"][index].get("value"))

    def judged(self, slot: Slot) -> list[Judged]:
        """What the limits say of a reading, one a rule."""
        index = draft.reading_index(self.content, slot)
        there = None if index is None else self.so_far.places.get(index)
        return [] if there is None else [j for j in self.case.readings if j.entry == f"readings[{there + 1}]"]

    def faults_of(self, slot: Slot) -> list[Fault]:
        """What is wrong with a reading."""
        index = draft.reading_index(self.content, slot)
        return [] if index is None else self.faults_at(f"readings[{index + 1}]")

    def faults_at(self, entry: str) -> list[Fault]:
        """What is wrong with a field or entry, as `history.failed` or `observations[2]`."""
        return [f for f in self.faults if f.entry == entry or f.entry.startswith((f"{entry}.", f"{entry}["))]

    def stands(self) -> list[Stand]:
        """How far each step is."""
        return self.way.stands(self.unit, self.content)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Everything that stands in the way of a record."""
        return self.so_far.faults

    @property
    def case(self) -> Case:
        """What the record says so far, without the entries that have faults."""
        return self.so_far.case

    @property
    def untouched(self) -> bool:
        """Whether nothing was looked at and nothing measured yet, so that there is no finding to tell."""
        return not (self.content.get("observations") or self.content.get("readings"))

    @property
    def next_checks(self) -> tuple[Check, ...]:
        """What to look at next, that which tells most a minute first; empty where none is worth its time."""
        if self._next_checks is None:
            self._next_checks = next_checks(self.case, self.way.knowledge, self.sheets, self._costs)
        return self._next_checks

    @property
    def clashes(self) -> list[tuple[str, Step | None]]:
        """Findings that do not go together, as `connecting_rod.broken heavy`, each with the step it is looked at."""
        found = self.case.finding.conflict
        names = () if found is None else found.findings
        return [(n, intake_plan.step_of_label(self.way.knowledge, n)) for n in names]

    @property
    def next_step(self) -> str:
        """The step to turn to in the chosen order: where no check pays, the next of the teardown."""
        telling = self._most_telling() if self.place.order == "gain" else None
        return telling or self.way.following(self.place.step, self.content)

    # How it is kept

    def _become(self, content: Content, place: Place | None = None) -> None:
        self.refused = None
        self.unsaved = self._file.save(content, place or self.place)  # before anything is thought about it
        self._set(content, place or self.place)

    def _move(self, place: Place) -> None:
        """A place alone is kept only in a file that the workbook writes already."""
        self.refused = None
        self.place = place
        if self._file.ours:
            self.unsaved = self._file.save(self.content, self.place)

    def _set(self, content: Content, place: Place) -> None:
        self.content, self.place = content, place
        folder = str(self._file.path.parent)
        self.so_far: SoFar = look(content, self._file.path.name, folder, self._judge)
        self._next_checks = None

    def _possible(self, place: Place) -> Place:
        """A place that this workbook has, whatever the file says."""
        step = place.step if place.step in self.way.pages else UNIT
        return replace(place, step=step, confirmed=tuple(c for c in place.confirmed if c in self.cautions))

    def _open(self, step: str) -> bool:
        self.refused = "confirm the caution first" if self.to_confirm(step) else None
        return self.refused is None

    def _may(self, part: str) -> bool:
        step = intake_plan.step_of_finding(self.way.knowledge, part)
        return step is not None and self._open(step.id)

    def _cylinder_of(self, question: Question) -> int | None:
        cylinder = self.place.cylinder
        return cylinder if question.by_cylinder and (cylinder or 0) <= self.cylinders else None

    def _common_fields(self, group: Group) -> dict[str, Any]:
        fields: dict[str, Any] = {}
        for name in ("unit", *group.extras):
            fields |= _common_field(name, self.common_of(group, name) or _default(group, name))
        return fields

    def _most_telling(self) -> str | None:
        """The step of the check that tells most a minute; None = no check pays."""
        return self.way.leading_to(self.next_checks, self.content)


def _common_field(name: str, text: str) -> dict[str, Any]:
    return draft.temperature(text) if name == "temperature" else {name: draft.typed(text, "readings", name)}


def _default(group: Group, name: str) -> str:
    return {"unit": group.units[0], "test_voltage": "500"}.get(name, "")


def _said(entry: draft.Entry, name: str) -> str:
    unit = entry.get("temperature_unit") if name == "temperature" else None
    return " ".join(t for t in (draft.shown(entry.get(name)), draft.shown(unit)) if t)
