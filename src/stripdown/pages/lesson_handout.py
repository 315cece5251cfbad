"""The hand-out for the class: the complaint, the candidates to tick, room for a guess at every station.

It is made from the complaint alone, so nothing that the bench found, and no answer, can get on to it.
"""

from typing import Any, Literal

from stripdown.knowledge.lesson import Station, teaching
from stripdown.knowledge.model import Knowledge
from stripdown.lesson import NOT_DECIDED, Complaint, candidates
from stripdown.pages import blocks as b
from stripdown.pages import html, pdf
from stripdown.pages.answer import first_of_all
from stripdown.pages.blocks import cleaned
from stripdown.pages.case_page import life
from stripdown.pages.lesson_answer import HOW_SCORED, score_table
from stripdown.pages.show import Paper, Show
from stripdown.version import __version__
from stripdown.vocabulary import label, words

_GUESS = (("What moved", 3), ("Still possible (numbers)", 1), ("First came (number)", 1), ("How sure, 0 to 100", 1))
_NEXT = (("What next, and why not the dearest", 3), ("Points", 1))


def handout_html(
    complaint: Complaint, knowledge: Knowledge, *, system: Literal["si", "us"] = "si", paper: Paper = "a4"
) -> str:
    """The hand-out as one HTML file."""
    return html.page(content(complaint, knowledge, Show(system=system, paper=paper)))


def handout_pdf(
    complaint: Complaint, knowledge: Knowledge, *, system: Literal["si", "us"] = "si", paper: Paper = "a4"
) -> bytes:
    """The hand-out to print."""
    return pdf.page(content(complaint, knowledge, Show(system=system, paper=paper)))


def content(complaint: Complaint, knowledge: Knowledge, show: Show) -> dict[str, Any]:
    """What stands on the hand-out, as plain data."""
    unit, history = complaint.unit, complaint.history
    head = {
        "title": "Hand-out for the class",
        "subject": f"Claim {complaint.claim}",
        "line": f"Compressor {unit.model}, serial {unit.serial}",
        "facts": [[k, v] for k, v in life(unit, history, show) if v],
        "paper": show.paper,
        "foot": f"Hand-out {complaint.claim} · stripdown {__version__} · knowledge {knowledge.digest[:19]}",
    }
    stations = [_station(n, s, knowledge) for n, s in enumerate(teaching().stations, 1)]
    sections = [_complaint(complaint, knowledge), _candidates(), *stations, _end()]
    shown: dict[str, Any] = cleaned(head | {"sections": sections})
    return shown


def _complaint(complaint: Complaint, knowledge: Knowledge) -> dict[str, Any]:
    said = complaint.history.reported
    blocks = [first_of_all(knowledge.general_caution)]
    blocks.append(b.quote("complaint, as reported", said) if said else b.para("No words came with the claim."))
    blocks.append(b.form("Your name", (), (("Name", 1), ("Date", 1))))
    return {"key": "given", "title": "What you are given", "blocks": blocks}


def _candidates() -> dict[str, Any]:
    rows = [
        [f"☐ {i}", label(c), "the record does not say" if c == NOT_DECIDED else words(c)]
        for i, c in enumerate(candidates(), 1)
    ]
    columns = (("No.", 0.6), ("Candidate", 1.8), ("Meaning", 6))
    return {
        "key": "candidates",
        "title": "What may have come first",
        "blocks": [b.table("Tick what fits the complaint; strike out what later falls", columns, rows)],
        "break": True,
    }


def _station(number: int, station: Station, knowledge: Knowledge) -> dict[str, Any]:
    steps = [s for s in knowledge.steps if s.id in station.steps]
    blocks: list[b.Block] = [b.caution(list(dict.fromkeys(s.caution for s in steps)))] if steps else []
    blocks.append(b.para(station.looks))
    if steps:
        blocks.append(b.bullets([[b.strong(f"{s.title}: "), b.sentence(s.text)] for s in steps]))
    blocks.append(b.bullets([*station.asks]))
    blocks.append(b.form("Your guess, before anybody looks on", (), (("What was found", 5), *_GUESS, *_NEXT)))
    return {"key": station.id, "title": f"{number}  {station.title}", "blocks": blocks, "break": True}


def _end() -> dict[str, Any]:
    fields = (("From cause to failed part", 3), ("Put right on the site", 2), ("Check at the start-up", 2))
    blocks = [
        b.form(teaching().before_answer, (), fields),
        b.form("My score", (), (("Points in all", 1), ("Of the last guess", 1))),
        b.para(HOW_SCORED),
        score_table(),
    ]
    return {"key": "end", "title": "At the end", "blocks": blocks, "break": True}
