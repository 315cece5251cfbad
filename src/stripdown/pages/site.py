"""Sections for the site and the close of the page: corrections, start-up, statements, sign-off, method."""

from stripdown.case import Case
from stripdown.figures.words import chance_words
from stripdown.pages import blocks as b
from stripdown.pages.answer import first_of_all
from stripdown.pages.outcome import cause_words, to_correct, told
from stripdown.pages.show import Show
from stripdown.pages.startup import startup
from stripdown.pages.status import STATUS
from stripdown.vocabulary import words

MORE_THAN_NOT = 0.5


def corrections(case: Case, show: Show) -> list[b.Block]:
    """What to put right on the site, cause by cause, then the start-up of the replacement."""
    f = case.finding
    chances = {c.id: c.probability or 0.0 for c in f.causes}
    named = [(cause, text, chances.get(cause, 0.0)) for cause, text in to_correct(case, show)]
    common = [c.text for c in f.corrections if c.cause is None]
    start = startup()
    out: list[b.Block] = [b.caution([start["caution"]])]
    for heading, those in (
        ("Put right, for it was more probably at work than not", [x for x in named if x[2] >= MORE_THAN_NOT]),
        ("Look whether it is so, and put it right where it is", [x for x in named if x[2] < MORE_THAN_NOT]),
    ):
        if those:
            out += [b.para(b.strong(f"{heading}:")), b.bullets([_correction(*x, show) for x in those])]
    if not named:
        out.append(b.para("No cause is probable enough to propose a correction; the checks above come first."))
    if common:
        out.append(b.bullets([[b.strong("In any case: "), b.sentence(t)] for t in common]))
    out.append(b.heading("Start-up of the replacement, or of this unit when it goes back"))
    out.append({"kind": "steps", "items": [_step(s) for s in start["step"]]})
    return out


def _correction(cause: str, text: str, chance: float, show: Show) -> list[b.Run]:
    return [b.strong(f"{cause_words(cause, show)} ({chance_words(chance)}): "), b.sentence(text)]


def _step(step: dict[str, str]) -> dict[str, str]:
    return {"caution": step.get("caution", ""), "text": step["text"], "source": step["source"]}


def statements(case: Case, show: Show) -> list[b.Block]:
    """What the parties say, as it came; none of it is weighed. To the site only the complaint: what parties say of each
    other is for whoever decides."""
    r = case.record
    said = [b.quote("complaint, as reported", r.history.reported)] if r.history.reported else []
    if show.purpose == "warranty":
        said += [b.quote(s.by or "not named", s.text) for s in r.statements]
    if not said:
        return [b.para("No statement came with the claim.")]
    return [b.small("As they came; not weighed in the finding."), *said]


def signoff(case: Case, show: Show) -> list[b.Block]:
    """Where people sign; what persons have confirmed so far."""
    out: list[b.Block] = []
    for c in case.record.confirmed:
        causes = [cause_words(x, show) for x in c.causes if told(x, show)]
        bits = [words(c.first) if c.first else "", *causes, words(c.outcome) if c.outcome else ""]
        if show.purpose == "warranty" and c.liability:
            bits.append(words(c.liability))
        out.append(
            b.para(b.strong(f"Concluded by {c.by or 'a person not named'}: "), "; ".join(filter(None, bits)) + ".")
        )
    if show.purpose == "site":
        read = ("read", "corrections made before power", "start-up sheet filled in")
        return [*out, b.form("For the site", read, (("Corrected", 2),), signed=("For the site",))]
    choices = ("examined as written", "page agrees with the record")
    return [*out, b.form("Examination", choices, (), signed=("Examined by", "Checked by"))]


def method(case: Case, show: Show) -> list[b.Block]:
    """What this page can and cannot say, what was noticed in the record, and what it was made with."""
    status = "; ".join(f"{mark} {word}: {meaning}" for word, (mark, _, meaning) in STATUS.items())
    limits = [
        "The program proposes; a person confirms. Probabilities follow from the record and the knowledge named below.",
        "What is not in the record was not looked at, and counts neither for nor against.",
        "What is known of the site came with the claim unless a reading says otherwise.",
        "A pattern that the knowledge does not hold cannot be found; what fits none is named as not explained.",
        f"Status words. {status}.",
    ]
    out: list[b.Block] = [first_of_all(), b.bullets(limits)]
    if case.record.history.log:
        out.append(b.para("A site log came with the record (", b.strong(case.record.history.log), ")."))
    if case.notices:
        out.append(b.heading("Noticed in the record"))
        out.append(b.bullets([f"{n.entry or 'record'}: {n.what}; {n.fix}." for n in case.notices]))
    made = [
        ("Record", case.record.file),
        ("Record hash", case.record.digest),
        ("Knowledge", case.knowledge),
        ("Cost table", None if show.purpose == "site" else case.costs or "the shipped one, its amounts invented"),
        ("Version", case.version),
    ]
    out.append(b.facts(made))
    return out
