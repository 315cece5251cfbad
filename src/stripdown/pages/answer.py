"""Sections that answer: the finding, how sure it is, the chain of events and the proposal on liability."""

import re
from datetime import timedelta

from stripdown.case import Case, workshop_only
from stripdown.figures import bars
from stripdown.figures import chain as chain_figure
from stripdown.figures.levels import change_words, clash_words, seen_words, step_words
from stripdown.figures.words import chance_words, finding_words, percent
from stripdown.pages import blocks as b
from stripdown.pages import outcome
from stripdown.pages.show import Show
from stripdown.pages.status import STATUS
from stripdown.pages.units import day, in_words
from stripdown.reasoning.model import Conflict
from stripdown.vocabulary import label, liabilities, words

FIRST_OF_ALL = (
    "Local codes, the equipment maker's instructions and licensed practice come before anything printed here."
)
"""Stands in front of every page's cautions, whatever the record holds."""
_SAID_ALREADY = re.compile(r"\s*Local codes?\b[^.]*\bbefore anything printed here\.")


def first_of_all(*cautions: str) -> b.Block:
    """`FIRST_OF_ALL` above these cautions; where one of them says the same, that is not said twice."""
    return b.caution([FIRST_OF_ALL, *(_SAID_ALREADY.sub("", c) for c in cautions)])


_STARTED = {
    "established": "The damage started with ",
    "likely": "The damage most likely started with ",
    "open": "The record does not decide what came first. Most probable so far is ",
    "conflicting": "The findings do not go together, so no first mechanism is put forward. The nearest is ",
}
_STANDS = {
    "likely": " The finding is likely, not established: this stands only once it is confirmed.",
    "open": " The record does not decide what came first: this stands only once the mechanism is confirmed.",
}
"""Status → how far a proposal on liability stands."""
_SMALL_SHARE = 0.01
_MOST_FLIPS = 4
_SIGNS = ("oil.", "motor_chamber.")
_ROBUST = 0.90
_TRIALS = 200


def finding(case: Case, show: Show) -> list[b.Block]:
    """What came first, what failed last, what to do with the unit and on the site."""
    f = case.finding
    mark, level, meaning = STATUS[f.status]
    top = f.first[0]
    word = f.status.upper()
    title = "No fault found" if top.id == "no_fault" else label(top.id).capitalize()
    if f.status in ("open", "conflicting"):
        title = "Not decided" if f.status == "open" else "Findings in conflict"
    out = [b.banner(word, mark, level, title, meaning), b.para(*_sentence(case))]
    out.append(first_of_all(*f.cautions))
    out += _workshop_only(case)
    out.append(b.heading("What to do now"))
    out.append(b.bullets(outcome.to_do(case, show), ordered=True))
    out += outcome.outcomes(case, show)
    if show.purpose == "warranty":
        out.append(
            b.para(
                f"Probability that this unit need not have come back: {chance_words(f.avoidable_return)}; that a cause "
                "which the site, the installer or the supply could have corrected was at work: "
                f"{chance_words(f.avoidable_failure)}."
            )
        )
    return out


def _workshop_only(case: Case) -> list[b.Block]:
    """Said before the outcome: some refrigerants and a doubtful body keep every repair to an authorised workshop."""
    reasons = workshop_only(case.record)
    if not reasons:
        return []
    return [b.warning("AUTHORISED WORKSHOP ONLY", f"Whatever stands below: {' and '.join(reasons)}.")]


def _sentence(case: Case) -> list[b.Run]:
    f = case.finding
    top = f.first[0]
    runs: list[b.Run] = [
        _STARTED[f.status],
        b.strong(label(top.id)),
        f": {words(top.id)} ({chance_words(top.probability or 0)}).",
    ]
    if top.id == "no_fault" and f.status in ("established", "likely"):
        sure = "" if f.status == "established" else "most likely "
        chance = chance_words(top.probability or 0)
        runs = [f"The returned compressor is {sure}sound: nothing was found wrong with it ({chance})."]
    else:
        runs += _failed_last(case)
    if f.status == "open" and len(f.first) > 1:
        runs += [f" Next to it: {label(f.first[1].id)} ({chance_words(f.first[1].probability or 0)})."]
    return runs


def _failed_last(case: Case) -> list[b.Run]:
    """The end of the chain: the last damage or part on it, inferred or seen; oil and what lies in the chamber are but
    signs."""
    chain = case.finding.chain
    ends = (
        i
        for i in range(len(chain) - 1, -1, -1)
        if chain_figure.kind(chain[i].node) in ("damage", "part") and not chain[i].node.startswith(_SIGNS)
    )
    end = next(ends, None)
    if end is None:
        return []
    said = step_words(case, chain[end])
    if chain[end].seen:
        return [" What failed last, as seen: ", b.strong(said), "."]
    sign = f"; seen of it: {step_words(case, chain[end + 1])}" if chain[end + 1 :] and chain[end + 1].seen else ""
    return [" What failed last, inferred: ", b.strong(said), f", {chance_words(chain[end].probability)}{sign}."]


def _how_rare(conflict: Conflict, show: Show) -> str:
    if conflict.why:
        return f"{in_words(conflict.why, show.system)}."
    share = chance_words(conflict.tail)
    return f"As much that surprises comes by chance in {share} of records that looked at the same things."


def certainty(case: Case, show: Show) -> list[b.Block]:
    """How sure the headline is, what speaks against it and what would change it."""
    f = case.finding
    out: list[b.Block] = []
    if f.conflict is not None:
        clash = in_words(clash_words(case), show.system)
        out.append(
            b.warning(
                "IN CONFLICT",
                f"These findings do not go together: {clash}. {_how_rare(f.conflict, show)} Look at them again before "
                "anything is decided.",
            )
        )
    if f.robustness is not None and f.robustness < _ROBUST:
        out.append(
            b.warning(
                "NOT ROBUST",
                f"The headline holds in only {percent(f.robustness)} of trials with shaken link strengths. "
                "A small change of the assumptions would put another mechanism first.",
            )
        )
    out += b.pair(bars.first_mechanisms(case), bars.evidence(case))
    if f.robustness is not None and f.robustness >= _ROBUST:
        held = f"{_TRIALS * f.robustness:.0f} of {_TRIALS}"
        out.append(b.para(f"In {held} trials with all strengths of the knowledge shaken the same came first."))
    out += _without(case) + _rival(case)
    if f.flips:
        out.append(b.heading("What would change the answer"))
        out.append(b.bullets(_flips(case, show)))
    if f.unexplained:
        odd = "; ".join(seen_words(x, case.record.observations) for x in f.unexplained)
        out.append(b.para(b.strong("Not explained"), f" by any mechanism thought to be at work: {odd}."))
    return out


def _flips(case: Case, show: Show) -> list[list[b.Run]]:
    """One line for each mechanism that a single change of the record would put first."""
    changes: dict[str, list[str]] = {}
    for x in case.finding.flips:
        changes.setdefault(x.first, []).append(in_words(change_words(x.change), show.system))
    out: list[list[b.Run]] = []
    for first, told in changes.items():
        rest = f"; or {len(told) - _MOST_FLIPS} more" if len(told) > _MOST_FLIPS else ""
        out.append([b.strong(label(first)), " would be first with: ", "; ".join(told[:_MOST_FLIPS]) + rest + "."])
    return out


def _without(case: Case) -> list[b.Block]:
    f = case.finding
    if not f.evidence:
        return []
    most = max(f.evidence, key=lambda w: w.decibans)
    sampled = max(w.error for w in f.evidence)
    text = f"Without “{finding_words(most.finding)}” the headline would have {chance_words(most.without)}."
    if sampled:
        error = f"up to {sampled:.1f}" if sampled >= 0.05 else "below 0.1"
        text += f" Weights of this record are sampled, standard error {error} deciban."
    return [b.small(text + " Ten decibans multiply the odds by ten; strong from 14.8, moderate from 7, weak from 3.")]


def _rival(case: Case) -> list[b.Block]:
    f = case.finding
    out: list[b.Block] = []
    if f.rival is not None:
        out.append(b.heading(f"Strongest alternative: {label(f.rival.id)} ({chance_words(f.rival.probability)})"))
        said = [
            (b.strong("For it: "), "; ".join(map(finding_words, f.rival.speaks_for))),
            (b.strong("Against it: "), "; ".join(map(finding_words, f.rival.speaks_against))),
        ]
        out.append(b.bullets([(head, f"{text}.") for head, text in said if text]))
    others = [s for s in f.first[1:4] if f.rival is None or s.id != f.rival.id][:2]
    if others:
        out.append(
            b.para(
                "Next: ",
                "; ".join(f"{label(s.id)} ({chance_words(s.probability or 0)}), {words(s.id)}" for s in others) + ".",
            )
        )
    return out


def chain(case: Case, show: Show) -> list[b.Block]:
    """From cause to failed part."""
    if not case.finding.chain:
        return [b.para("No chain of events is put forward: the record does not support one.")]
    note = "Solid outline and ● = seen in the record; broken outline and ○ = inferred, with its probability."
    drawn = chain_figure.chain(outcome.for_site(case) if show.purpose == "site" else case)
    return [*b.figure(drawn), b.small(note)]


def liability(case: Case, show: Show) -> list[b.Block]:
    """The proposal, room to confirm or reject it, and room for the claimant's reply."""
    rows = [
        (b.cell(label(s.id)), liabilities()[s.id], "–" if s.probability is None else chance_words(s.probability))
        for s in case.finding.liability
        if s.probability is None or s.probability >= _SMALL_SHARE
    ]
    top, status = case.finding.liability[0].id, case.finding.status
    lead = (
        "The evidence does not decide whose matter this is. It is not resolved by default against either side."
        if top == "undetermined" or status == "conflicting"
        else f"Proposed: {label(top)}, {liabilities()[top]}.{_STANDS.get(status, '')}"
    )
    return [
        b.para(b.strong("A proposal for a named person to confirm or reject. "), lead),
        b.table(
            "Proposal by probability, from 1 % up",
            (("Belongs to", 2), ("Meaning", 4), ("Probability", 1.2)),
            rows,
            "llr",
        ),
        b.para(
            f"{_kept(case, show)}How a share is split between owner and contractor is a matter of contract and not of "
            "this page."
        ),
        b.form("Decision", ("confirmed", "rejected, because:"), (("Reason", 2),), signed=("Decided by",)),
        b.form(
            "Reply of the claimant", ("agreed", "not agreed, because:"), (("Reply", 3),), signed=("For the claimant",)
        ),
    ]


def _kept(case: Case, show: Show) -> str:
    """How long the parts are kept, where somebody has said so."""
    if show.parts_kept is None:
        return ""
    on = case.record.examined_on
    until = f", until {day(on + timedelta(days=show.parts_kept))}" if on else ""
    days = "1 day" if show.parts_kept == 1 else f"{show.parts_kept} days"
    return f"Parts are kept for {days} from the examination{until}. "
