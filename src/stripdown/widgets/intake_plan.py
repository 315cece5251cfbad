"""What the workbook asks at each step: the parts and points that this machine has, and all that the record says."""

from collections.abc import Iterator
from dataclasses import dataclass

from stripdown import vocabulary
from stripdown.knowledge.model import Knowledge, Step
from stripdown.pages import bench_plan
from stripdown.pages.bench_plan import Kind
from stripdown.record import schema, units
from stripdown.widgets.intake_draft import Content, Slot, cylinders_of, same_place, slots

GRADED = ("none", "slight", "heavy", "unreadable")
PRESENT = ("none", "heavy", "unreadable")
LACKING = ("missing", "wrong_part")


@dataclass(frozen=True, slots=True)
class Question:
    """One condition to look for on one part. `answers` are the extents that may be said of it; for a part that is one
    thing or the other (a crank turns or not) its conditions and `unreadable`."""

    part: str
    condition: str
    answers: tuple[str, ...]
    by_cylinder: bool = False

    @property
    def either(self) -> bool:
        """Whether the answer names the condition that is true."""
        return not self.condition


@dataclass(frozen=True, slots=True)
class Group:
    """The readings of one quantity at a step; unit, temperature, accuracy and test voltage are typed once for all."""

    step: str
    quantity: str
    slots: tuple[Slot, ...]
    units: tuple[str, ...]
    extras: tuple[str, ...]
    meter: bool

    @property
    def id(self) -> str:
        """What names it in `Place.common`."""
        return f"{self.step}.{self.quantity}"


def questions(step: Step, kind: Kind, content: Content) -> list[Question]:
    """The questions of a step for this machine; what the record already answers is asked on any machine."""
    held: dict[str, list[str]] = {}
    for entry in content.get("observations", ()):
        part, condition = entry.get("part"), entry.get("condition")
        if isinstance(part, str) and isinstance(condition, str) and condition in schema.conditions().get(part, ()):
            held.setdefault(part, []).append(condition)
    return [q for part in step.parts if part in vocabulary.parts() for q in _of_part(part, kind, held.get(part, []))]


def _of_part(part: str, kind: Kind, held: list[str]) -> Iterator[Question]:
    own = bench_plan.conditions(part, kind)
    if part in schema.EXCLUSIVE:
        yield Question(part, "", (*own, "unreadable"))
        own = ()
        held = [c for c in held if c in LACKING]
    for condition in dict.fromkeys((*own, *held)):
        answers = PRESENT if vocabulary.presence_only(part, condition) else GRADED
        yield Question(part, condition, answers, bench_plan.by_cylinder(part))


def groups(step: Step, kind: Kind, content: Content, system: str = "si") -> list[Group]:
    """The readings that a step asks for, and those of its quantities that the record holds besides."""
    asked = [Slot(m.quantity, m.between, m.at, m.cylinder, m.site) for m in bench_plan.measures(step.id, kind)]
    held = [s for s in slots(content) if s.quantity in schema.QUANTITIES]
    held = [s for s in held if bench_plan.step_of(s.quantity, s.at) == step.id]
    wanted = asked + [h for h in held if not any(same_place(h, a) and h.nth == a.nth for a in asked)]
    out = []
    for quantity in dict.fromkeys(s.quantity for s in wanted):
        of_quantity = [s for s in wanted if s.quantity == quantity]
        if schema.QUANTITIES[quantity].repeats:
            of_quantity = [*of_quantity, *_another(of_quantity, held)]
        out.append(_group(step.id, quantity, tuple(of_quantity), system))
    return out


def _another(of_quantity: list[Slot], held: list[Slot]) -> Iterator[Slot]:
    """A further slot of each place that has its readings, where several are usual."""
    for first in (s for s in of_quantity if s.nth == 0):
        filled = sum(same_place(first, h) for h in held)
        if filled:
            yield Slot(first.quantity, first.between, first.at, first.cylinder, first.site, filled)


def _group(step: str, quantity: str, of_quantity: tuple[Slot, ...], system: str) -> Group:
    known = schema.QUANTITIES[quantity]
    extras = ["accuracy"]
    if known.family == "resistance":
        extras.insert(0, "temperature")
    if known.insulation:
        extras += ["test_voltage", "gas"]
    names = units.names(known.family)
    first = bench_plan.first_unit(quantity, system)
    return Group(step, quantity, of_quantity, tuple(dict.fromkeys((first, *names))), tuple(extras), known.meter)


def step_of_finding(knowledge: Knowledge, finding: str) -> Step | None:
    """The step at which a finding is looked at or measured."""
    part = finding.partition(".")[0]
    return next((s for s in knowledge.steps if finding in s.readings or part in s.parts), None)


def step_of_label(knowledge: Knowledge, label: str) -> Step | None:
    """The step of what a conflict names: `oil.low heavy`, or a reading as `winding_resistance U-V at leads open`."""
    what, *more = label.split(" ")
    if what not in schema.QUANTITIES:
        return step_of_finding(knowledge, what)
    at = more[more.index("at") + 1] if "at" in more else None
    step = bench_plan.step_of(what, at)
    return next((s for s in knowledge.steps if s.id == step), None)


def conditions(question: Question) -> tuple[str, ...]:
    """The conditions that an answer may name."""
    return schema.conditions()[question.part][:2] if question.either else (question.condition,)


def said(content: Content, question: Question) -> list[tuple[int | None, str]]:
    """(cylinder, extent) of all that the record says of a question."""
    return [
        (cylinder, str(entry.get("extent", "heavy")))
        for entry in content.get("observations", ())
        if entry.get("part") == question.part and entry.get("condition") in conditions(question)
        for cylinder in cylinders_of(entry)
    ]


def is_answered(content: Content, question: Question) -> bool:
    """Whether the record says anything of it."""
    return bool(said(content, question))


def point(slot: Slot) -> str:
    """Where a reading is taken, in words: 'U-V', 'cylinder 2', 'second'."""
    words = [slot.between or "", f"cylinder {slot.cylinder}" if slot.cylinder else ""]
    words += [f"no. {slot.nth + 1}" if slot.nth else ""]
    return " ".join(w for w in words if w)
