"""Lessons: open one for a notebook, write its pages, and the demo's deck of them."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stripdown import resources
from stripdown.batch import folder, notebook
from stripdown.batch.results import write_text
from stripdown.batch.settings import Settings
from stripdown.batch.workbook import one_record
from stripdown.lesson import Lesson
from stripdown.record import Record, folder_name

FILES = ("lesson.html", "lesson.pdf", "handout.html", "handout.pdf", "lesson.ipynb")
_DECK = "lessons.toml"


@dataclass(frozen=True, slots=True)
class Card:
    """One lesson of a deck: its claim, and one line on why it is in it."""

    claim: str
    why: str


def deck() -> tuple[Card, ...]:
    """The demo's lessons from easy to hard."""
    raw = tomllib.loads((resources.demo() / _DECK).read_text(encoding="utf-8"))
    return tuple(Card(card["claim"], card["why"]) for card in raw["lesson"])


def open_lesson(record: str, settings: Settings, *, claim: str = "", named: str = "") -> Lesson:
    """The lesson of one record, found as `workbook.open_case` finds it. Raises RecordError with every fault."""
    return settings.lesson(one_record(record, settings, claim=claim, named=named))


def write(record: Record, path: str, out: Path, settings: Settings) -> Lesson:
    """Write the lesson of a record that lies at `path` into the folder of its claim below `out`, whole or not at all.

    The notebook is made ready and not run: run, it would give the answers away.
    """
    from stripdown.pages import handout_html, handout_pdf, lesson_html, lesson_pdf

    lesson = settings.lesson(record)
    show: Any = {"system": settings.system, "paper": settings.paper}
    handed = (lesson.complaint, settings.knowledge_used())
    out.mkdir(parents=True, exist_ok=True)
    folder.clear_up(out)
    chosen = settings.parameters()
    wanted = {name: chosen[name] for name in ("costs", "limits", "knowledge", "columns", "system")}
    named = {"record": str(Path(path).resolve()), "claim": record.claim, "named": record.file}
    with folder.whole(out / folder_name(record.claim)) as fresh:
        write_text(fresh / "lesson.html", lesson_html(lesson, **show))
        (fresh / "lesson.pdf").write_bytes(lesson_pdf(lesson, **show))
        write_text(fresh / "handout.html", handout_html(*handed, **show))
        (fresh / "handout.pdf").write_bytes(handout_pdf(*handed, **show))
        notebook.prepare("lesson", fresh, named | wanted)
    return lesson
