"""The way through the teardown: what comes before what, what is done, what no longer can be, and where to turn next."""

from collections.abc import Iterator
from dataclasses import dataclass

from stripdown.knowledge.model import Knowledge, Step
from stripdown.pages import bench_plan
from stripdown.pages.bench_plan import Kind
from stripdown.reasoning.model import Check
from stripdown.record import schema
from stripdown.widgets import intake_draft as draft
from stripdown.widgets import intake_plan
from stripdown.widgets.intake_draft import Content
from stripdown.widgets.intake_file import FINISH, UNIT


@dataclass(frozen=True, slots=True)
class Stand:
    """How far a step is: questions and readings answered, of how many; `barred` by steps that spoil it."""

    id: str
    title: str
    minutes: float
    answered: int
    asked: int
    barred: tuple[str, ...] = ()


class Way:
    """The steps of the knowledge, with a page before and one after them."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.steps = {s.id: s for s in knowledge.steps}
        self.pages = [UNIT, *self.steps, FINISH]

    def before(self, step: str) -> Iterator[str]:
        """The steps that must come first."""
        for earlier in self.steps[step].after:
            yield from self.before(earlier)
            yield earlier

    def previous(self, page: str) -> str:
        """The page before, in the order of the teardown."""
        return self.pages[max(0, self.pages.index(page) - 1)]

    def following(self, page: str, content: Content) -> str:
        """The page after, in the order of the teardown; steps that were spoiled are passed over."""
        done = self.done(content)
        later = self.pages[self.pages.index(page) + 1 :]
        return next((p for p in later if p == FINISH or not self._barred(self.steps[p], done)), FINISH)

    def leading_to(self, checks: tuple[Check, ...], content: Content) -> str | None:
        """The step to turn to for the check that tells most a minute, what must come before it first."""
        done = self.done(content)
        for check in checks:
            step = intake_plan.step_of_finding(self.knowledge, check.id)
            if step is not None:
                return next((s for s in self.before(step.id) if s not in done), step.id)
        return None

    def done(self, content: Content) -> set[str]:
        """Steps at which something was entered."""
        parts = {e["part"] for e in content.get("observations", ()) if isinstance(e.get("part"), str)}
        held = (s for s in draft.slots(content) if s.quantity in schema.QUANTITIES)
        measured = {bench_plan.step_of(s.quantity, s.at) for s in held}
        return {s.id for s in self.knowledge.steps if s.id in measured or parts & set(s.parts)}

    def stands(self, kind: Kind, content: Content) -> list[Stand]:
        """How far each step is."""
        done = self.done(content)
        return [self._stand(s, kind, content, done) for s in self.knowledge.steps]

    def _stand(self, step: Step, kind: Kind, content: Content, done: set[str]) -> Stand:
        asked = intake_plan.questions(step, kind, content)
        slots = [s for g in intake_plan.groups(step, kind, content) for s in g.slots if not s.nth]
        answered = sum(intake_plan.is_answered(content, q) for q in asked)
        answered += sum(draft.reading_index(content, s) is not None for s in slots)
        total = len(asked) + len(slots)
        return Stand(step.id, step.title, step.minutes, answered, total, self._barred(step, done))

    def _barred(self, step: Step, done: set[str]) -> tuple[str, ...]:
        return tuple(self.steps[s].title for s in step.until if s in done) if step.id not in done else ()
