"""What a record in the making says so far: its faults, and the finding without the entries that have them."""

from collections.abc import Callable
from dataclasses import dataclass

from stripdown.case import Case, gather, reasoner
from stripdown.knowledge import Knowledge
from stripdown.limits import Sheets
from stripdown.reasoning import checks
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Check
from stripdown.record import Fault, Record, Rejected, parse, schema
from stripdown.widgets import intake_draft as draft
from stripdown.widgets.intake_draft import Content

_NAMELESS = {"claim": "unnamed", "unit": {"serial": "unknown", "model": "unknown"}}
_PASSES = 5


@dataclass(frozen=True, slots=True)
class SoFar:
    """`faults` stand in the way of a record; `case` is judged without the entries that have them. `places`: number of
    a reading in the content → its number in the case, both from 0."""

    faults: tuple[Fault, ...]
    case: Case
    places: dict[int, int]


def look(content: Content, file: str, folder: str, judge: Callable[[Record], Case]) -> SoFar:
    """Parse and judge what is there; fields that a record cannot do without are made up meanwhile."""
    asked = content if content.get("unit") else {**content, "unit": {}}  # so that its fields are what is missing
    result = parse(asked, file=file, folder=folder)
    faults = result.faults if isinstance(result, Rejected) else ()
    kept = list(range(len(content.get("readings", ()))))
    for _ in range(_PASSES):
        if isinstance(result, Record):
            break
        content = _named(_mended(content, result, kept))
        result = parse(content, file=file, folder=folder)
    if isinstance(result, Rejected):  # nothing of it can be used
        kept = []
        result = parse({"format": schema.FORMAT, **_NAMELESS}, file=file, folder=folder)
    assert isinstance(result, Record)
    return SoFar(faults, judge(result), {index: i for i, index in enumerate(kept)})


def next_checks(case: Case, knowledge: Knowledge, sheets: Sheets, costs: Costs) -> tuple[Check, ...]:
    """What to look at next, by what tells most a minute; a likely brief finding, or one in conflict, leaves it out."""
    if case.finding.next_checks or case.finding.status not in ("likely", "conflicting"):
        return case.finding.next_checks
    known = gather(case.record, knowledge=knowledge, sheets=sheets)
    network = reasoner(knowledge, costs).network(known.context)
    posterior = everything(network, known.evidence.likelihoods)
    return checks.next_checks(knowledge, costs, known.evidence, posterior)[0]


def _mended(content: Content, result: Rejected, kept: list[int]) -> Content:
    """Without whatever has a fault; the numbers of readings that are left out are taken from `kept`."""
    for entry in sorted({_whole(f.entry) for f in result.faults}, key=_from_the_end):
        if entry.startswith("readings["):
            del kept[int(entry[9:-1]) - 1]
        elif entry == "readings":
            kept.clear()
        content = draft.without(content, entry)
    return content


def _named(content: Content) -> Content:
    unit = {"serial": "unknown", "model": "unknown"} | draft.table_of(content, "unit")
    return {"claim": "unnamed", **content, "unit": unit}


def _whole(entry: str) -> str:
    """The list entry that a fault is in, or the field itself."""
    head, bracket, _ = entry.partition("]")
    return head + bracket if bracket and head.partition("[")[0] in draft.OF_LISTS else entry


def _from_the_end(entry: str) -> tuple[str, int]:
    """Later entries of a list first, so that the numbers of the others stay true."""
    section, _, rest = entry.partition("[")
    number = rest.partition("]")[0]
    return section, -int(number) if number.isdigit() else 0
