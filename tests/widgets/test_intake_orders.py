"""Any order of clicks leaves a valid record, or one whose faults are shown; and it is taken up where it stood."""

import tempfile
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from stripdown.record import Record, Rejected, read_all, schema
from stripdown.widgets.intake import Intake

ODD = st.sampled_from(
    ["", "0", "-1", "0,5", "24", "open", "nan", "2026-01-31", "2026-13-01", "\x00\x7f", "é\n#", "yes"]
)
TYPED = ODD | st.text(max_size=8)
FIELDS = [(s, n) for s in ("", "unit", "unit.plate", "history", "history.alarms") for n in schema.SECTIONS[s]]
PLAIN = [f for f in FIELDS if schema.SECTIONS[f[0]][f[1]].kind not in ("table", "tables") and f != ("", "format")]


class Clicks(RuleBasedStateMachine):
    """A person who clicks anything at any time; beside it what was answered, kept the simplest way."""

    @initialize(model=st.sampled_from(["K4-150", "T3-075", "nobody's"]))
    def begin(self, model: str) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.intake = Intake.open(Path(self.folder.name) / "NB-1.toml")
        self.intake.field("unit", "serial", "00123")
        self.intake.field("unit", "model", model)
        self.answers: dict[tuple[str, str, int | None], str] = {}

    def teardown(self) -> None:
        self.folder.cleanup()

    @rule(data=st.data())
    def go(self, data: st.DataObject) -> None:
        self.intake.go(data.draw(st.sampled_from(self.intake.way.pages)))

    @rule()
    def forward(self) -> None:
        self.intake.forward()

    @rule(all_of_them=st.booleans())
    def confirm_cautions(self, all_of_them: bool) -> None:
        waiting = self.intake.to_confirm(self.intake.place.step)
        for caution in waiting if all_of_them else waiting[:1]:
            self.intake.confirm_caution(caution)

    @rule(cylinder=st.none() | st.integers(-1, 9))
    def look_at(self, cylinder: int | None) -> None:
        self.intake.look_at(cylinder)

    @rule(data=st.data())
    def answer(self, data: st.DataObject) -> None:
        for caution in self.intake.to_confirm(self.intake.place.step):
            self.intake.confirm_caution(caution)
        questions = self.intake.questions(self.intake.place.step)
        if not questions:
            return
        question = data.draw(st.sampled_from(questions))
        answer = data.draw(st.sampled_from([None, *question.answers]))
        self.intake.answer(question, answer)
        assert self.intake.answer_of(question) == answer
        cylinder = self.intake.place.cylinder if question.by_cylinder else None
        self.answers.pop((question.part, question.condition, cylinder), None)
        if answer is not None:
            self.answers[question.part, question.condition, cylinder] = answer
            key = self.intake.key(question)
            assert key is not None
            self.intake.detail(key, "note", data.draw(TYPED))

    @rule(data=st.data(), text=TYPED)
    def measure(self, data: st.DataObject, text: str) -> None:
        groups = self.intake.groups(self.intake.place.step)
        if not groups:
            return
        group = data.draw(st.sampled_from(groups))
        name = data.draw(st.sampled_from(["", "unit", *group.extras]))
        if name:
            self.intake.common(group, name, text)
        else:
            self.intake.reading(group, data.draw(st.sampled_from(group.slots)), text)

    @rule(where=st.sampled_from(PLAIN), text=TYPED)
    def fill_in(self, where: tuple[str, str], text: str) -> None:
        self.intake.field(*where, text)

    @rule(at=st.sampled_from([None, 0, 1]), by=TYPED, text=TYPED)
    def state(self, at: int | None, by: str, text: str) -> None:
        self.intake.statement(at, by, text)

    @rule(by=TYPED)
    def confirm(self, by: str) -> None:
        f = self.intake.case.finding
        self.intake.confirm(by=by, first=f.first[0].id, causes=[], outcome=f.outcome.id, liability="system")

    @rule()
    def kernel_dies(self) -> None:
        place, content = self.intake.place, self.intake.content
        self.intake = Intake.open(self.intake.path)
        assert (self.intake.place, self.intake.content) == (place, content)

    @invariant()
    def the_file_is_a_record_or_its_faults_are_shown(self) -> None:
        (result,) = read_all([self.intake.path])
        faults = result.faults if isinstance(result, Rejected) else ()
        assert [(f.entry, f.what) for f in faults] == [(f.entry, f.what) for f in self.intake.faults]
        assert isinstance(result, Record) or faults
        assert {p.name for p in self.intake.path.parent.iterdir()} == {"NB-1.toml"}

    @invariant()
    def nothing_was_answered_before_its_caution(self) -> None:
        parts = {e["part"] for e in self.intake.content.get("observations", ())}
        for step in self.intake.way.steps.values():
            assert not (parts & set(step.parts)) or not self.intake.to_confirm(step.id)

    @invariant()
    def every_answer_stands(self) -> None:
        held = {
            (e["part"], c): e["extent"]
            for e in self.intake.content.get("observations", ())
            for c in (e.get("cylinder") or [None])
            if e["part"] in schema.EXCLUSIVE
        }
        graded = {
            (e["part"], e["condition"], c): e["extent"]
            for e in self.intake.content.get("observations", ())
            for c in (e.get("cylinder") or [None])
            if e["part"] not in schema.EXCLUSIVE
        }
        assert graded == {k: a for k, a in self.answers.items() if k[0] not in schema.EXCLUSIVE}
        assert len(held) == sum(k[0] in schema.EXCLUSIVE for k in self.answers)


_HOW = {"deadline": None, "suppress_health_check": list(HealthCheck), "derandomize": True}


class TestSomeOrders(Clicks.TestCase):  # type: ignore[misc,name-defined]  # made by hypothesis
    """Enough to break what is broken."""

    settings = settings(max_examples=6, stateful_step_count=15, **_HOW)


@pytest.mark.slow
class TestManyOrders(Clicks.TestCase):  # type: ignore[misc,name-defined]  # made by hypothesis
    """Longer ones, and more of them."""

    settings = settings(max_examples=15, stateful_step_count=40, **_HOW)
