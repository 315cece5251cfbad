"""Sections for the site and the close of the page: corrections, start-up, statements, sign-off, method."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from stripdown.case import Case
from stripdown.figures.words import percent
from stripdown.pages import blocks as b
from stripdown.pages.answer import KEPT_DAYS, STATUS, first_of_all
from stripdown.pages.show import Show
from stripdown.vocabulary import words


@cache
def startup() -> dict[str, Any]:
    """The start-up list of `startup.toml`."""
    return tomllib.loads(Path(__file__).with_name("startup.toml").read_text(encoding="utf-8"))


def corrections(case: Case, show: Show) -> list[b.Block]:
    """What to put right on the site, cause by cause, then the start-up of the replacement."""
    f = case.finding
    chance = {c.id: c.probability or 0.0 for c in f.causes}
    named = [(c.cause, c.text) for c in f.corrections if c.cause is not None]
    common = [c.text for c in f.corrections if c.cause is None]
    start = startup()
    out: list[b.Block] = [b.caution([start["caution"]])]
    if named:
        out.append(
            b.bullets(
                [
                    [b.strong(f"{words(cause)} ({percent(chance.get(cause, 0.0))}): "), b.sentence(text)]
                    for cause, text in named
                ],
                ordered=True,
            )
        )
    else:
        out.append(b.para("No cause is probable enough to propose a correction; the checks above come first."))
    if common:
        out.append(b.bullets([[b.strong("In any case: "), b.sentence(t)] for t in common]))
    out.append(b.heading("Start-up of the replacement, or of this unit when it goes back"))
    out.append({"kind": "steps", "items": [_step(s) for s in start["step"]]})
    return out


def _step(step: dict[str, str]) -> dict[str, str]:
    return {"caution": step.get("caution", ""), "text": step["text"], "source": step["source"]}


def statements(case: Case, show: Show) -> list[b.Block]:
    """What the parties say, as it came; none of it is weighed."""
    r = case.record
    said = [b.quote("complaint, as reported", r.history.reported)] if r.history.reported else []
    said += [b.quote(s.by or "not named", s.text) for s in r.statements]
    if not said:
        return [b.para("No statement came with the claim.")]
    return [b.small("As they came; not weighed in the finding."), *said]


def signoff(case: Case, show: Show) -> list[b.Block]:
    """Where people sign; what persons have confirmed so far."""
    out: list[b.Block] = []
    for c in case.record.confirmed:
        bits = [words(x) for x in (c.first, *c.causes, c.outcome) if x]
        if show.purpose == "warranty" and c.liability:
            bits.append(words(c.liability))
        out.append(b.para(b.strong(f"Concluded by {c.by or 'a person not named'}: "), "; ".join(bits) + "."))
    if show.purpose == "site":
        fields = (("Corrected on the site", 2), ("Name", 1), ("Date", 1), ("Signature", 1))
        return [
            *out,
            b.form("For the site", ("read", "corrections made before power", "start-up sheet filled in"), fields),
        ]
    fields = (("Examined by", 1), ("Checked by", 1), ("Date", 1), ("Signatures", 1))
    return [*out, b.form("Examination", ("examined as written", "page agrees with the record"), fields)]


def method(case: Case, show: Show) -> list[b.Block]:
    """What this page can and cannot say, what was noticed in the record, and what it was made with."""
    status = "; ".join(f"{mark} {word}: {meaning}" for word, (mark, _, meaning) in STATUS.items())
    limits = [
        "The program proposes; a person confirms. Probabilities follow from the record and the knowledge named below.",
        "What is not in the record was not looked at, and counts neither for nor against.",
        "What is known of the site came with the claim unless a reading says otherwise.",
        "A pattern that the knowledge does not hold cannot be found; what fits none is named as not explained.",
        f"Status words. {status}.",
        f"Parts are kept for {KEPT_DAYS} days from the examination.",
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
        ("Version", case.version),
    ]
    out.append(b.facts(made))
    return out
