"""Records → what a person confirmed of them, beside what the program says, and what is learned from it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from stripdown.case import gather, judge
from stripdown.knowledge import Knowledge
from stripdown.learn.shares import Share, learn_shares
from stripdown.limits import Sheets
from stripdown.reasoning import learning
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.network import cause_shares
from stripdown.record import Fault, Record, Rejected

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Pair:
    """One confirmed record: first mechanisms of all who confirmed it, in order, and the program's headline."""

    claim: str
    people: tuple[str, ...]
    program: str
    probability: float


@dataclass(frozen=True)
class Study:
    """What was learned, from what. `notices`: what a person should know of single records."""

    knowledge: Knowledge
    learnt: learning.Learnt
    shares: tuple[Share, ...]
    prior_records: float
    pairs: tuple[Pair, ...]
    used: int
    unconfirmed: int
    rejected: int
    notices: tuple[Fault, ...]


def study(
    items: Iterable[Record | Rejected],
    *,
    knowledge: Knowledge,
    sheets: Sheets,
    costs: Costs,
    prior_records: float = learning.PRIOR_RECORDS,
    keep_shares: bool = False,
    progress: Progress = lambda text: None,
) -> Study:
    """Learn from the confirmed records among these; `knowledge` is the prior. Of several who confirmed a record, the
    last counts. `keep_shares`: leave how often each mechanism is the first one as it is written."""
    examples: list[learning.Example] = []
    entries: list[Record] = []
    pairs: list[Pair] = []
    notices: list[Fault] = []
    unconfirmed = rejected = 0
    for item in items:
        if isinstance(item, Rejected):
            rejected += 1
            continue
        said = [c for c in item.confirmed if c.first]
        if not said:
            unconfirmed += 1
            continue
        people = tuple(str(c.first) for c in said)
        if len(set(people)) > 1:
            what = f"those who confirmed it disagree: {', '.join(people)}"
            notices.append(Fault(item.file, "confirmed", what, "the last one counts"))
        pairs.append(_pair(item, people, knowledge, sheets, costs))
        examples.append(_example(item, people[-1], said[-1].causes, knowledge, sheets, notices))
        entries.append(item)
        progress(f"{len(pairs)} confirmed records read")
    cannot = set(learning.impossible(knowledge, examples))
    notices += [
        Fault(
            entries[i].file,
            "confirmed",
            f"{examples[i].first} cannot bring about what this record states, by this knowledge",
            "not learned from: look again at the record, or write the missing link into an own knowledge file",
        )
        for i in sorted(cannot)
    ]
    used = [e for i, e in enumerate(examples) if i not in cannot]
    learnt = learning.learn(
        knowledge, used, prior_records=prior_records, progress=lambda step: progress(f"step {step} of learning")
    )
    shares = () if keep_shares else learn_shares(knowledge, used, prior_records)
    return Study(
        knowledge, learnt, shares, prior_records, tuple(pairs), len(used), unconfirmed, rejected, tuple(notices)
    )


def _pair(record: Record, people: tuple[str, ...], knowledge: Knowledge, sheets: Sheets, costs: Costs) -> Pair:
    top = judge(record, knowledge=knowledge, sheets=sheets, costs=costs, brief=True).finding.first[0]
    return Pair(record.claim, people, top.id, float(top.probability or 0.0))


def _example(
    record: Record,
    first: str,
    causes: tuple[str, ...],
    knowledge: Knowledge,
    sheets: Sheets,
    notices: list[Fault],
) -> learning.Example:
    known = gather(record, knowledge=knowledge, sheets=sheets)
    shares = cause_shares(knowledge, known.context)
    row = knowledge.mechanisms.index(first)
    strange = [c for c in causes if shares[c][row] <= 0.0]
    if strange:
        what = f"{', '.join(strange)} named under {first}, which by this knowledge it never brings about"
        notices.append(Fault(record.file, "confirmed", what, "its causes are not learned from; the rest is"))
    return learning.Example(known.context, known.evidence.likelihoods, first, () if strange else causes)
