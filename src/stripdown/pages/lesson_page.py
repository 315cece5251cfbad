"""The lesson for the trainer and the hand-out for the class, each as HTML and PDF from one content."""

from typing import Any, Literal

from stripdown.knowledge.lesson import teaching
from stripdown.lesson import Lesson, Reveal
from stripdown.pages import blocks as b
from stripdown.pages import html, pdf
from stripdown.pages.answer import first_of_all
from stripdown.pages.blocks import cleaned
from stripdown.pages.lesson_answer import answer
from stripdown.pages.lesson_station import found, odds
from stripdown.pages.show import Paper, Show

_MOVED = "How the odds moved, and why"


def lesson_html(lesson: Lesson, *, system: Literal["si", "us"] = "si", paper: Paper = "a4") -> str:
    """One file: each station and the answer stay closed until they are opened, the odds until the guess is made."""
    return html.lesson(content(lesson, Show(system=system, paper=paper)))


def lesson_pdf(lesson: Lesson, *, system: Literal["si", "us"] = "si", paper: Paper = "a4") -> bytes:
    """The same for the trainer's hand: a page a station, what was found above, the odds below."""
    return pdf.page(flat(content(lesson, Show(system=system, paper=paper))))


def content(lesson: Lesson, show: Show) -> dict[str, Any]:
    """Title, opening and stations as plain data; `later` of a station is shown after the guess."""
    case = lesson.case
    head = {
        "title": "Lesson, trainer's version",
        "subject": f"Claim {case.record.claim}",
        "line": f"Compressor {case.record.unit.model}: one case in the order of the bench",
        "facts": [],
        "paper": show.paper,
        "foot": f"Lesson {case.record.claim} · stripdown {case.version} · knowledge {case.knowledge[:19]}",
    }
    stations = [station(lesson, r, show) for r in lesson.reveals]
    last = {"key": "answer", "title": "The answer", "note": f"{teaching().answer_minutes} min", "later": []}
    opening = {"key": "opening", "title": "How it runs", "blocks": _opening(lesson)}
    whole = head | {
        "opening": opening,
        "moved": _MOVED,
        "sections": [*stations, last | {"blocks": answer(lesson, show)}],
    }
    shown: dict[str, Any] = cleaned(whole)
    return shown


def station(lesson: Lesson, reveal: Reveal, show: Show) -> dict[str, Any]:
    """One station as plain data: `blocks` before the guess, `later` after it."""
    shown: dict[str, Any] = cleaned(
        {
            "key": reveal.station.id,
            "title": f"{reveal.number}  {reveal.station.title}",
            "note": f"from minute {reveal.starts}, {reveal.minutes} min",
            "blocks": found(lesson, reveal, show),
            "later": odds(lesson, reveal, show) if reveal.looked else [],
        }
    )
    return shown


def station_html(lesson: Lesson, reveal: Reveal, *, odds: bool, system: Literal["si", "us"] = "si") -> str:
    """One station as a fragment for a screen, the first with what comes before any step; its odds only where they
    may be seen."""
    made = station(lesson, reveal, Show(system=system))
    if reveal.number == 1:
        made["blocks"] = [first_of_all(lesson.caution), *made["blocks"]]
    shown = html.section(made)
    if odds and made["later"]:
        shown += html.section({"key": f"{made['key']}-odds", "title": _MOVED, "blocks": made["later"]})
    return shown


def answer_html(lesson: Lesson, *, system: Literal["si", "us"] = "si") -> str:
    """The end of the lesson as a fragment for a screen."""
    blocks = cleaned(answer(lesson, Show(system=system)))
    return html.section({"key": "answer", "title": "The answer", "blocks": blocks})


def flat(page: dict[str, Any]) -> dict[str, Any]:
    """The content for paper: no room is closed, every station begins a page; its odds begin another one where both do
    not go on the same."""
    sections = [
        {
            "key": s["key"],
            "title": f"{s['title']} ({s['note']})",
            "blocks": [*s["blocks"], *([b.heading(_MOVED)] if s["later"] else []), *s["later"]],
            "break": bool(s["later"]) or s["key"] == "answer",
            "turn": len(s["blocks"]) if s["later"] else 0,
        }
        for s in page["sections"]
    ]
    return page | {"sections": [page["opening"], *sections]}


def _opening(lesson: Lesson) -> list[b.Block]:
    minutes = sum(r.minutes for r in lesson.reveals) + teaching().answer_minutes
    rules = [
        "Open a station: the class reads what was found, and nothing that comes later.",
        "Everybody writes a guess and how sure, from 0 to 100. Then open the odds and ask.",
        teaching().before_answer,
        "Hand-outs go round first; this page stays with the trainer.",
    ]
    rows: list[list[str | b.Block]] = [
        [
            b.cell(f"{r.number}  {r.station.title}", note="" if r.looked else "not looked at"),
            f"{r.starts} to {r.starts + r.minutes}",
            f"{sum(s.minutes for s in r.steps):g}" if r.steps else "–",
        ]
        for r in lesson.reveals
    ]
    columns = (("Station", 4), ("Minute", 1.5), ("At the bench, min", 2))
    return [
        first_of_all(lesson.caution),
        b.bullets(rules, ordered=True),
        b.table(f"{minutes} minutes in all, {teaching().answer_minutes} of them for the answer", columns, rows, "lrr"),
    ]
