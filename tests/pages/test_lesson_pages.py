"""Lesson and hand-out as a trainer and a class get them: closed steps, one source, and nothing that leaks."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from stripdown import knowledge, vocabulary
from stripdown.knowledge.lesson import teaching
from stripdown.lesson import Complaint, Lesson, plan
from stripdown.pages import handout_html, handout_pdf, lesson_html, lesson_pdf
from stripdown.record import Record, read
from stripdown.resources import demo
from tests.pages import cases

RECORD = read(demo() / "returns" / "tw-2025-016.toml")
KNOWLEDGE = knowledge.load()


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    return plan(RECORD)


@pytest.fixture(scope="module")
def page(lesson: Lesson) -> str:
    return lesson_html(lesson)


def _printed(pdf: bytes) -> str:
    return " ".join(" ".join(p.extract_text() for p in PdfReader(BytesIO(pdf)).pages).split())


def _handouts(record: Record) -> tuple[str, str]:
    complaint = Complaint.of(record)
    return handout_html(complaint, KNOWLEDGE), _printed(handout_pdf(complaint, KNOWLEDGE))


@pytest.fixture(scope="module")
def handouts() -> tuple[str, str]:
    """The hand-out of the record, on the screen and as printed text."""
    return _handouts(RECORD)


class _Steps(HTMLParser):
    """The text outside all `<details>`, and the ids and attributes of those on the top level."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.depth = 0
        self.outside: list[str] = []
        self.steps: list[str] = []
        self.opened = 0
        self.tags: set[str] = set()
        self._style = False
        self.feed(source)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self._style = tag == "style"
        if tag == "details":
            self.opened += "open" in dict(attrs)
            if self.depth == 0:
                self.steps.append(dict(attrs).get("id") or "")
            self.depth += 1

    def handle_endtag(self, tag: str) -> None:
        self.depth -= tag == "details"

    def handle_data(self, data: str) -> None:
        if self.depth == 0 and not self._style:
            self.outside.append(data)


class TestLesson:
    def test_every_step_is_closed_details(self, page: str) -> None:
        steps = _Steps(page)
        assert steps.steps == [*(s.id for s in teaching().stations), "answer"]
        assert steps.opened == 0
        assert steps.depth == 0

    def test_outside_the_steps_stands_no_answer(self, page: str) -> None:
        outside = " ".join(_Steps(page).outside).lower()
        assert "claim tw-2025-016" in outside
        for told in ("floodback", "%", "bearing", "iced"):
            assert told not in outside

    def test_odds_of_a_step_stand_behind_its_guess(self, page: str) -> None:
        oil = page.split('id="oil"')[1].split('id="heads"')[0]
        found, later = oil.split('<details class="later">')
        assert "YOUR GUESS" in found
        assert "floodback" not in found
        assert "thin diluted" in found
        assert "floodback" in later
        assert "Liquid returning while running thins the oil" in later  # the `why` of the link

    def test_cautions_stand_before_what_was_found(self, page: str) -> None:
        for step in ("before_opening", "electrical", "oil", "heads", "pump_end", "motor_end", "layout", "site"):
            inside = page.split(f'id="{step}"')[1]
            assert "CAUTION" in inside[: inside.index("<table")]

    def test_ends_with_chain_corrections_and_the_heads_left_on(self, page: str) -> None:
        end = page.split('id="answer"')[1]
        for part in (
            *("How the class is scored", "Chain of events", "The chain on the machine", "The letter to the site"),
            *("Had the heads stayed on", "What the next unit would have cost", "Motor burnt, so electrical."),
        ):
            assert part in end

    def test_is_one_file_without_script(self, page: str) -> None:
        assert _Steps(page).tags.isdisjoint({"script", "link", "iframe", "object", "form"})
        assert not re.search(r"(?:src|href)=[\"'](?:https?:)?//", page)

    def test_same_record_same_bytes(self, lesson: Lesson, page: str) -> None:
        again = plan(RECORD)
        assert lesson_html(again) == page
        assert lesson_pdf(again) == lesson_pdf(lesson)

    @pytest.mark.parametrize(("paper", "width"), [("a4", 595), ("letter", 612)])
    def test_prints_the_same_on_its_paper(self, lesson: Lesson, paper: str, width: int) -> None:
        made = lesson_pdf(lesson, paper=paper)  # type: ignore[arg-type]
        assert round(float(PdfReader(BytesIO(made)).pages[0].mediabox.width)) == width
        text = _printed(made)
        for title in (s.title for s in teaching().stations):
            assert title in text
        assert "Motor burnt, so electrical." in text

    @pytest.mark.parametrize("paper", ["a4", "letter"])
    def test_a_station_that_needs_two_pages_has_its_odds_on_the_second(self, lesson: Lesson, paper: Any) -> None:
        made = PdfReader(BytesIO(lesson_pdf(lesson, paper=paper)))
        pages = [" ".join(p.extract_text().split()) for p in made.pages]
        titles = [s.title for s in teaching().stations]
        first, end = (
            next(i for i, p in enumerate(pages) if p.startswith(begins)) for begins in (f"1 {titles[0]}", "The answer")
        )
        heads = [f"{n} {t}" for n, t in enumerate(titles, 1)]
        for text, before in zip(pages[first:end], pages[first - 1 : end], strict=False):
            assert text.startswith((*heads, "How the odds moved"))
            assert not text.startswith("How") or before.startswith(tuple(heads))

    def test_record_text_is_never_markup(self) -> None:
        hostile = plan(cases.hostile().record)
        made = lesson_html(hostile)
        assert _Steps(made).tags.isdisjoint({"script", "img"})
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in made
        assert "{{7*7}}" in made
        assert "#panic()" in _printed(lesson_pdf(hostile))

    def test_us_units(self, lesson: Lesson) -> None:
        # the air gaps are judged in mm; a thou is a thousandth of an inch
        assert not re.search(r"\d thou\b", lesson_html(lesson))
        assert re.search(r"\d thou\b", lesson_html(lesson, system="us"))


class TestHandout:
    def test_knows_nothing_but_the_complaint(self, handouts: tuple[str, str]) -> None:
        bare = replace(RECORD, observations=(), readings=(), statements=(), confirmed=(), notices=(), instruments=())
        assert Complaint.of(bare) == Complaint.of(RECORD)
        assert _handouts(bare) == handouts

    def test_tells_no_answer(self, lesson: Lesson, handouts: tuple[str, str]) -> None:
        case = lesson.case
        found = {vocabulary.label(o.finding) for o in RECORD.observations}
        notes = {x for o in RECORD.observations for x in (o.note, o.where) if x}
        for text in handouts:
            plain = re.sub(r"<style>.*?</style>|<col style[^>]*>", "", text, flags=re.S)
            assert "%" not in plain
            for told in (*found, *notes, *(c.text for c in case.finding.corrections)):
                assert told not in plain
            for cause in vocabulary.causes().values():
                assert cause not in plain
            for s in RECORD.statements:
                assert s.text not in plain

    def test_names_every_candidate_alike(self, handouts: tuple[str, str]) -> None:
        html, printed = handouts
        for mechanism in vocabulary.mechanisms():
            name = vocabulary.label(mechanism)
            assert html.count(f">{name}<") == 1
            assert name in printed
        assert "not decided" in printed

    def test_has_room_at_every_station_and_its_caution_before(self, handouts: tuple[str, str]) -> None:
        html, printed = handouts
        for station in teaching().stations:
            assert station.title in printed
            assert f'id="{station.id}"' in html
        assert printed.count("How sure, 0 to 100") >= len(teaching().stations)
        for step in KNOWLEDGE.steps:
            assert html.index(step.caution[:40]) < html.index(f"<strong>{step.title}: </strong>")

    def test_every_station_has_a_sheet_of_its_own(self) -> None:
        pages = [p.extract_text() for p in PdfReader(BytesIO(handout_pdf(Complaint.of(RECORD), KNOWLEDGE))).pages]
        for number, station in enumerate(teaching().stations, 1):
            assert sum(f"{number}  {station.title}" in p or f"{number} {station.title}" in p for p in pages) == 1
        assert len(pages) <= 14
