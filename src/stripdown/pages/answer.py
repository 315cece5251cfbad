"""Sections that answer: the finding, how sure it is, the chain of events and the proposal on liability."""

import re
from datetime import timedelta

from stripdown.case import Case, workshop_only
from stripdown.figures import bars
from stripdown.figures import chain as chain_figure
from stripdown.figures.words import finding_words, percent
from stripdown.pages import blocks as b
from stripdown.pages.show import Show
from stripdown.pages.units import day, in_words, money
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


STATUS = {
    "established": ("●", "good", "one mechanism has at least 90 %, and the findings go together"),
    "likely": ("◆", "warn", "one mechanism has at least 60 %"),
    "open": ("○", "warn", "no mechanism has 60 %: the next checks decide"),
    "conflicting": ("✕", "bad", "the findings do not go together"),
}
"""Status → marker, level and meaning."""

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
KEPT_DAYS = 90
_CORRECT_FROM = 0.15
_SMALL_SHARE = 0.01
_MOST_FLIPS = 4
_SIGNS = ("oil.", "motor_chamber.")
_ROBUST = 0.90
_SURE = 0.90


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
    out.append(b.bullets(_to_do(case), ordered=True))
    out.append(_outcomes(case))
    why = [w for w in f.outcome.why if w != words(f.outcome.id)]
    if why:
        out.append(b.small("Why: " + "; ".join(why) + "."))
    out.append(
        b.para(
            f"Probability that this unit need not have come back: {percent(f.avoidable_return)}; that a cause which "
            f"the site, the installer or the supply could have corrected was at work: {percent(f.avoidable_failure)}."
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
        f": {words(top.id)} ({percent(top.probability or 0)}).",
    ]
    if top.id == "no_fault" and f.status in ("established", "likely"):
        sure = "" if f.status == "established" else "most likely "
        chance = percent(top.probability or 0)
        runs = [f"The returned compressor is {sure}sound: nothing was found wrong with it ({chance})."]
    elif failed := _failed_last(case):
        text, probability = failed
        sure = "What failed last" if probability >= _SURE else "What most likely failed last"
        runs += [f" {sure}: ", b.strong(text), "." if probability >= _SURE else f" ({percent(probability)})."]
    if f.status == "open" and len(f.first) > 1:
        runs += [f" Next to it: {label(f.first[1].id)} ({percent(f.first[1].probability or 0)})."]
    return runs


def _failed_last(case: Case) -> tuple[str, float] | None:
    """The end of the chain in words, with its probability: the last damage or part on it; oil and what lies in the
    chamber are but signs."""
    ends = (
        s
        for s in reversed(case.finding.chain)
        if chain_figure.kind(s.node) in ("damage", "part") and not s.node.startswith(_SIGNS)
    )
    return next(((s.text or label(s.node), s.probability) for s in ends), None)


def _to_do(case: Case) -> list[list[b.Run]]:
    f = case.finding
    o = f.outcome
    todo: list[list[b.Run]] = [
        ["This unit: ", b.strong(label(o.id)), f" ({words(o.id)}), expected cost {money(o.expected_cost, o.currency)}."]
    ]
    if o.id == "inspect_further" and f.next_checks:
        todo[0].append(f" First: {f.next_checks[0].text or label(f.next_checks[0].id)}.")
    likely = [c for c in f.causes if (c.probability or 0) >= _CORRECT_FROM]
    if f.conflict is not None:  # a bridged protection is put right whatever else is found
        likely = [c for c in likely if c.id == "protection_defeated"]
        todo.append(["Look again at the findings that do not go together, before anything is corrected by them."])
    causes = [c for c in likely if c.id != "wrong_diagnosis"]
    if len(causes) < len(likely):
        todo.append(
            ["Tell the site what was tested and passed: the reason for the complaint lies outside the compressor."]
        )
    for c in causes[:3]:
        todo.append(
            [
                "On the site, before power: look for and put right ",
                b.strong(words(c.id)),
                f" ({percent(c.probability or 0)}).",
            ]
        )
    if not likely and f.conflict is None:
        todo.append(["On the site: no cause reaches 15 %; the checks below come before any correction."])
    todo.append(["A named person confirms or rejects this proposal; nobody acts on it alone."])
    return todo


def _outcomes(case: Case) -> b.Block:
    o = case.finding.outcome
    rows = [(b.cell(label(o.id), mark="▶"), words(o.id), money(o.expected_cost, o.currency))]
    rows += [(b.cell(label(x.id)), words(x.id), money(x.expected_cost, o.currency)) for x in o.alternatives]
    caption = "Outcomes that the record allows; ▶ the one of least expected cost by the cost table"
    if o.break_even is not None:
        caption += f"; repair of the part alone stops paying above {percent(o.break_even)} probability of hidden damage"
    return b.table(caption, (("Outcome", 2), ("Meaning", 4), ("Expected cost", 1.3)), rows, "llr")


def _how_rare(conflict: Conflict, show: Show) -> str:
    if conflict.why:
        return f"{in_words(conflict.why, show.system)}."
    return (
        f"As much that surprises comes by chance in {percent(conflict.tail)} of records that looked at the same things."
    )


def certainty(case: Case, show: Show) -> list[b.Block]:
    """How sure the headline is, what speaks against it and what would change it."""
    f = case.finding
    out: list[b.Block] = []
    if f.conflict is not None:
        clash = in_words(", ".join(finding_words(x) for x in f.conflict.findings), show.system)
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
        held = percent(f.robustness)
        out.append(b.para(f"In {held} of 200 trials with all strengths of the knowledge shaken the same came first."))
    out += _without(case) + _rival(case)
    if f.flips:
        out.append(b.heading("What would change the answer"))
        out.append(b.bullets(_flips(case)))
    if f.unexplained:
        odd = ", ".join(finding_words(x) for x in f.unexplained)
        out.append(b.para(b.strong("Not explained"), f" by any mechanism thought to be at work: {odd}."))
    return out


def _flips(case: Case) -> list[list[b.Run]]:
    """One line for each mechanism that a single change of the record would put first."""
    changes: dict[str, list[str]] = {}
    for x in case.finding.flips:
        what, _, states = x.change.partition(": ")
        states = states.replace("start_long", "start after eight hours or more off")
        changes.setdefault(x.first, []).append(f"{label(what)}, {label(states)}" if states else label(what))
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
    text = f"Without “{finding_words(most.finding)}” the headline would have {percent(most.without)}."
    if sampled:
        error = f"up to {sampled:.1f}" if sampled >= 0.05 else "below 0.1"
        text += f" Weights of this record are sampled, standard error {error} deciban."
    return [b.small(text + " Ten decibans multiply the odds by ten; strong from 14.8, moderate from 7, weak from 3.")]


def _rival(case: Case) -> list[b.Block]:
    f = case.finding
    out: list[b.Block] = []
    if f.rival is not None:
        out.append(b.heading(f"Strongest alternative: {label(f.rival.id)} ({percent(f.rival.probability)})"))
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
                "; ".join(f"{label(s.id)} ({percent(s.probability or 0)}), {words(s.id)}" for s in others) + ".",
            )
        )
    return out


def chain(case: Case, show: Show) -> list[b.Block]:
    """From cause to failed part."""
    if not case.finding.chain:
        return [b.para("No chain of events is put forward: the record does not support one.")]
    note = "Solid outline and ● = seen in the record; broken outline and ○ = inferred, with its probability."
    return [*b.figure(chain_figure.chain(case)), b.small(note)]


def liability(case: Case, show: Show) -> list[b.Block]:
    """The proposal, room to confirm or reject it, and room for the claimant's reply."""
    rows = [
        (b.cell(label(s.id)), liabilities()[s.id], "–" if s.probability is None else percent(s.probability))
        for s in case.finding.liability
        if s.probability is None or s.probability >= _SMALL_SHARE
    ]
    top, status = case.finding.liability[0].id, case.finding.status
    lead = (
        "The evidence does not decide whose matter this is. It is not resolved by default against either side."
        if top == "undetermined" or status == "conflicting"
        else f"Proposed: {label(top)}, {liabilities()[top]}.{_STANDS.get(status, '')}"
    )
    r = case.record
    kept = None if r.examined_on is None else day(r.examined_on + timedelta(days=KEPT_DAYS))
    return [
        b.para(b.strong("A proposal for a named person to confirm or reject. "), lead),
        b.table(
            "Proposal by probability, from 1 % up",
            (("Belongs to", 2), ("Meaning", 4), ("Probability", 1.2)),
            rows,
            "llr",
        ),
        b.para(
            f"Parts are kept for {KEPT_DAYS} days from the examination"
            + (f", until {kept}" if kept else "")
            + ". How a share is split between owner and contractor is a matter of contract and not of this page."
        ),
        b.form(
            "Decision",
            ("confirmed", "rejected, because:"),
            (("Reason", 2), ("Name", 1), ("Date", 1), ("Signature", 1)),
        ),
        b.form(
            "Reply of the claimant", ("agreed", "not agreed, because:"), (("Reply", 3), ("Name, date, signature", 1))
        ),
    ]
