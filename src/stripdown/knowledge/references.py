"""What the files of the knowledge name of one another: all named is there, and every observation is reached."""

from collections.abc import Iterator
from fnmatch import fnmatchcase

from stripdown import vocabulary
from stripdown.knowledge.files import Files, meant
from stripdown.knowledge.model import FailedWhen, Knowledge

BY_OTHER_NAMES = ("motor_sensor.second_failed",)
"""What a record states in words that outcomes ask for although no finding of its own stands for it."""
_SAME = {"crank.turns_freely": "crank.will_not_turn", "pumping.pumps": "pumping.does_not_pump"}


def finding_of(part: str, condition: str) -> str:
    """The finding that an observation speaks of: missing and wrong parts are one, and so are the two sides of one
    question."""
    if condition in ("missing", "wrong_part"):
        return "assembly.part_missing_or_wrong"
    node = f"{part}.{condition}"
    return _SAME.get(node, node)


def check(files: Files, knowledge: Knowledge) -> None:
    """Note every name that stands for nothing, every cycle, and every observation that no finding answers."""
    for file, near, what in (
        *_unreached(knowledge),
        *_cycles(knowledge),
        *_adjusts_and_actions(knowledge),
        *_failed_when(knowledge),
        *_steps(knowledge),
        *_dispositions(knowledge),
    ):
        files.problem(file, near, what)


_Found = Iterator[tuple[str, str, str]]


def _unreached(knowledge: Knowledge) -> _Found:
    for part, conditions in vocabulary.parts().items():
        for condition in conditions:
            if finding_of(part, condition) not in knowledge.findings:
                yield "states.toml", "", f"no link reaches {part}.{condition}"


def _cycles(knowledge: Knowledge) -> _Found:
    ids = {s.id for s in knowledge.states}
    seen: set[str] = set()
    for state in knowledge.states:
        for parent in (p for link in state.links for p in link.parents):
            if parent in ids and parent not in seen:
                below = f"{state.id} depends on {parent}, which stands below it: a cycle or a wrong order"
                yield "states.toml", f'id = "{state.id}"', below
        if state.id in seen:
            yield "states.toml", f'id = "{state.id}"', f"state {state.id} stands twice"
        seen.add(state.id)


def _adjusts_and_actions(knowledge: Knowledge) -> _Found:
    for adjust in knowledge.prior_adjusts:
        if adjust.target not in knowledge.priors:
            yield "mechanisms.toml", f'"{adjust.target}"', f"{adjust.target} is no mechanism"
    for adjust in knowledge.cause_adjusts:
        if adjust.target not in {*knowledge.causes, *vocabulary.liabilities()}:
            yield "causes.toml", f'"{adjust.target}"', f"{adjust.target} is no cause and no liability"
    states = {s.id for s in knowledge.states}
    for action in knowledge.actions:
        if action.state not in states:
            yield "causes.toml", f'"{action.state}"', f"{action.state} is no state{meant(action.state, sorted(states))}"


def _failed_when(knowledge: Knowledge) -> _Found:
    for name, row in {"any": knowledge.failed_when.any, **knowledge.failed_when.by}.items():
        if len(row) != len(FailedWhen.STATES) or min(row) < 0.0 or abs(sum(row) - 1.0) > 1e-9:
            wanted = f"{len(FailedWhen.STATES)} probabilities that sum to 1"
            yield "history.toml", f"{name} =", f"{name}: {wanted} are needed, not {list(row)}"


def _steps(knowledge: Knowledge) -> _Found:
    ids = {s.id for s in knowledge.steps}
    parts = {f.split(".")[0] for f in knowledge.findings} | set(vocabulary.parts())
    for step in knowledge.steps:
        near = f'id = "{step.id}"'
        if not step.caution:
            yield "checks.toml", near, f"{step.id} has no caution"
        if not step.minutes > 0.0:
            yield "checks.toml", near, f"{step.id}: minutes must be above 0"
        for other in {*step.after, *step.until} - ids:
            yield "checks.toml", near, f"{step.id}: {other} is no step{meant(other, sorted(ids))}"
        for part in set(step.parts) - parts:
            yield "checks.toml", near, f"{step.id}: {part} is no part{meant(part, sorted(parts))}"
        for reading in set(step.readings) - set(knowledge.findings):
            yield "checks.toml", near, f"{step.id}: {reading} is no finding{meant(reading, sorted(knowledge.findings))}"


def _dispositions(knowledge: Knowledge) -> _Found:
    file = "outcomes.toml"
    states = {s.id for s in knowledge.states}
    named = {*knowledge.findings, *BY_OTHER_NAMES}
    named |= {f"{part}.{condition}" for part, conditions in vocabulary.parts().items() for condition in conditions}
    for group, patterns in knowledge.groups.items():
        for pattern in patterns:
            if not any(fnmatchcase(f, pattern) for f in named):
                yield file, f"{group} =", f"{group}: {pattern} is no finding{meant(pattern, sorted(named))}"
    for outcome in knowledge.dispositions.values():
        near = f"[{outcome.id}]"
        if outcome.id not in vocabulary.outcomes():
            yield file, near, f"{outcome.id} is no outcome{meant(outcome.id, vocabulary.outcomes())}"
        for pattern in (*outcome.needs, *outcome.sound, *outcome.found, *outcome.bars, *outcome.spares):
            if pattern not in knowledge.groups and not any(fnmatchcase(f, pattern) for f in named):
                yield file, near, f"{outcome.id}: {pattern} is no finding and no group{meant(pattern, sorted(named))}"
        for state in set(outcome.risk) - states:
            yield file, near, f"{outcome.id}: {state} is no state{meant(state, sorted(states))}"
