"""A teardown entered in a real browser: clicks, keys, reload, a killed kernel; labels, focus order, contrast.

All tests use one workbook on one record, as a bench does; each turns to a step of its own and looks at its parts only.
"""

import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from stripdown.record import Record, RecordError, read
from stripdown.resources import demo
from stripdown.widgets.lab import Lab

from .accessible import violations
from .conftest import Opened, new_page, workbooks
from .fast_hands import at_once

pytestmark = pytest.mark.browser
CAUTION = "button:has-text('It is so')"


@dataclass(frozen=True)
class Bench:
    """A workbook as it stands on the screen, and the record that it keeps."""

    opened: Opened
    page: Any
    path: Path

    def turn_to(self, title: str) -> None:
        """Choose a step from the list."""
        self.page.get_by_label("Step", exact=True).select_option(label=title)
        self.at(title)

    def at(self, title: str) -> None:
        """Wait until a step is on show."""
        self.page.locator(".sd-page h2", has_text=title.split("  ")[-1]).wait_for()

    def confirm(self) -> None:
        """Confirm the cautions one by one, as they stand."""
        self.page.locator(f"{CAUTION}, .sd-page :is(.sd-answer, .sd-reading)").first.wait_for()
        while left := self.page.locator(CAUTION).count():
            self.page.locator(CAUTION).first.click()
            self.page.wait_for_function(f"document.querySelectorAll('.sd-caution:not(.sd-confirmed)').length < {left}")

    def row(self, words: str) -> Any:
        """The buttons of one question."""
        return self.page.locator(".sd-answer").filter(
            has=self.page.locator(f".widget-label:text-matches('^{words}( \\\\(|$)')")
        )

    def pressed(self, words: str, answer: str) -> None:
        """Wait until a question shows that answer."""
        self.row(words).locator("button.mod-active", has_text=answer).wait_for()

    def saved(self, right: Callable[[Record], bool]) -> Record:
        """The record once the file says what it should; as it is after a minute."""
        end = time.monotonic() + 60
        while True:
            try:
                record = read(self.path)
                if right(record) or time.monotonic() > end:
                    return record
            except RecordError:
                if time.monotonic() > end:
                    raise
            time.sleep(0.05)

    def extents(self, part: str, number: int) -> dict[str, str]:
        """Finding → extent for a part, once that many are there."""

        def of_part(record: Record) -> dict[str, str]:
            return {o.finding: o.extent for o in record.observations if o.part == part}

        return of_part(self.saved(lambda r: len(of_part(r)) == number))

    def tab_to(self, script: str) -> None:
        """Tab on until the focus is where `script` says, of the element `e`."""
        for _ in range(150):
            self.page.keyboard.press("Tab")
            if self.page.evaluate(f"(e => Boolean({script}))(document.activeElement)"):
                return
        raise AssertionError(f"no tab stop: {script}")


@pytest.fixture(scope="module")
def bench(server: Lab, chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """The workbook of a new record, serial typed."""
    path = tmp_path_factory.mktemp("returns") / "NB-1.toml"
    with workbooks(server, "bench") as open_workbook, new_page(chromium) as page:
        opened = open_workbook("intake", record=path, model="K4-150")
        page.goto(opened.address)
        page.get_by_label("Serial *").fill("00123")
        bench = Bench(opened, page, path)
        bench.saved(lambda r: r.unit.serial == "00123")
        yield bench


def test_the_caution_comes_before_its_step_and_a_reload_keeps_the_place(bench: Bench, shot: Any) -> None:
    page = bench.page
    bench.turn_to("11  Valve plate")
    page.locator(CAUTION).first.wait_for()
    assert page.locator(".sd-answer").count() == 0
    shot(page, "caution")
    bench.confirm()
    bench.row("suction reed broken").get_by_text("3 heavy").click()
    assert bench.extents("suction_reed", 1) == {"suction_reed.broken": "heavy"}
    page.get_by_label("Note").fill("two of four, bank 1")
    record = bench.saved(lambda r: any(o.note for o in r.observations))
    assert [o.note for o in record.observations if o.part == "suction_reed"] == ["two of four, bank 1"]
    page.get_by_text("cylinder 2", exact=True).click()
    bench.row("backer bolts backed out, cyl. 2").get_by_text("2 slight").click()
    assert bench.extents("backer_bolts", 1) == {"backer_bolts.backed_out": "slight"}
    (bolts,) = (o for o in read(bench.path).observations if o.part == "backer_bolts")
    assert bolts.cylinders == (2,)
    # the finding beside the questions has moved to liquid in a cylinder, which breaks reeds: common practice
    page.locator(".sd-headline", has_text="compressed in a cylinder").wait_for()
    page.locator(".sd-live", has_text="Next check that tells most a minute").wait_for()
    shot(page, "answered")

    page.reload()
    bench.at("Valve plate")
    bench.pressed("backer bolts backed out, cyl. 2", "2 slight")
    bench.row("valve plate scored").get_by_text("1 sound").click()
    assert bench.extents("valve_plate", 1) == {"valve_plate.scored": "none"}


def test_by_keyboard_alone(bench: Bench) -> None:
    """From the step's list to the answer and on to the next step, with Tab, digits, arrows and Enter."""
    page = bench.page
    bench.tab_to("e.tagName === 'SELECT' && e.labels?.[0]?.textContent === 'Step'")
    page.keyboard.press("9")  # a native list: typing chooses
    bench.at("Suction strainer")
    page.locator(f"{CAUTION}, .sd-answer").first.wait_for()
    while left := page.locator(CAUTION).count():
        bench.tab_to("e.tagName === 'BUTTON' && e.textContent.includes('It is so')")
        page.keyboard.press("Enter")
        page.wait_for_function(f"document.querySelectorAll('.sd-caution:not(.sd-confirmed)').length < {left}")
    page.locator(".sd-answer").first.wait_for()
    # the button that was pressed last is gone: the focus has gone on to what is asked, not to the top of the window
    page.wait_for_function("document.activeElement.closest('.sd-answer') !== null")
    page.keyboard.press("3")
    assert bench.extents("suction_strainer", 1) == {"suction_strainer.metal_debris": "heavy"}
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    bench.pressed("suction strainer metal debris", "2 slight")
    bench.saved(lambda r: any((o.part, o.extent) == ("suction_strainer", "slight") for o in r.observations))
    page.keyboard.press("ArrowDown")
    page.keyboard.press("1")
    assert bench.extents("suction_strainer", 2) == {
        "suction_strainer.metal_debris": "slight",
        "suction_strainer.blocked": "none",
    }
    page.keyboard.press("0")
    assert bench.extents("suction_strainer", 1) == {"suction_strainer.metal_debris": "slight"}
    bench.tab_to("e.tagName === 'BUTTON' && e.textContent.includes('Next')")
    page.keyboard.press("Space")
    bench.at("Heads off")
    assert page.locator(".jp-Cell").count() == 4  # no key went to the notebook itself


def test_digits_go_down_a_list(bench: Bench) -> None:
    bench.turn_to("8  Drain and sample the oil")
    bench.confirm()
    bench.row("oil low").locator("button").last.focus()
    for digit in "3124":
        bench.page.keyboard.press(digit)
        bench.page.keyboard.press("ArrowDown")
    assert bench.extents("oil", 4) == {
        "oil.low": "heavy",
        "oil.overfull": "none",
        "oil.dark_burnt": "slight",
        "oil.milky": "unreadable",
    }


def test_a_reading_is_judged_while_it_is_typed(bench: Bench, shot: Any) -> None:
    page = bench.page
    bench.turn_to("4  Insulation to frame")
    bench.confirm()
    field = page.get_by_label("insulation resistance all-frame")
    field.press_sequentially("0.2", delay=30)
    verdict = page.locator(".sd-reading", has=field)
    verdict.filter(has_text="outside").filter(has_text="±").wait_for()
    assert "limit at least 5 Mohm" in verdict.text_content()  # common practice
    shot(page, "judged")
    field.fill("abc")
    verdict.get_by_text("must be a number").wait_for()
    shot(page, "fault")
    field.fill("0,3")
    record = bench.saved(lambda r: any(m.value == 0.3 for m in r.readings))
    assert [m.value for m in record.readings if m.quantity == "insulation_resistance"] == [0.3]
    assert field.input_value() == "0,3"  # what is being typed is left alone


def test_what_is_pressed_right_after_an_entry_waits_for_it(bench: Bench) -> None:
    """A browser keeps the second change of a field back until the first was heard; a press must not overtake it."""
    page = bench.page
    bench.turn_to("11  Valve plate")
    bench.confirm()
    bench.row("discharge valve broken").get_by_text("0 not looked at").wait_for()
    cylinder = page.locator(".sd-cylinder")
    at_once(
        page,
        (cylinder.get_by_text("cylinder 1", exact=True), None),
        (cylinder.get_by_text("cylinder 3", exact=True), None),
        (bench.row("discharge valve broken").get_by_text("3 heavy"), None),
    )
    record = bench.saved(lambda r: any(o.part == "discharge_valve" for o in r.observations))
    assert [(o.cylinders, o.extent) for o in record.observations if o.part == "discharge_valve"] == [((3,), "heavy")]
    note = page.get_by_label("Note")
    at_once(
        page,
        (note, "bro"),
        (note, "broken at the root"),
        (bench.row("discharge valve bent, cyl. 3").get_by_text("2 slight"), None),
    )
    record = bench.saved(lambda r: any(o.finding == "discharge_valve.bent" for o in r.observations))
    assert {o.finding: o.note for o in record.observations if o.part == "discharge_valve"} == {
        "discharge_valve.broken": "broken at the root",
        "discharge_valve.bent": None,
    }


def test_a_photo_is_attached(bench: Bench, tmp_path: Path, shot: Any) -> None:
    from PIL import Image

    picture = tmp_path / "a.png"
    Image.new("RGB", (40, 30), "grey").save(picture)
    bench.turn_to("2  Terminal box")
    bench.confirm()
    bench.row("terminal plate burnt").get_by_text("3 heavy").click()
    with bench.page.expect_file_chooser() as chooser:
        bench.page.locator(".sd-beside").get_by_text("Add photo").click()
    chooser.value.set_files(picture)
    record = bench.saved(lambda r: any(o.photos for o in r.observations))
    (name,) = (p for o in record.observations for p in o.photos)
    assert (bench.path.parent / name).read_bytes() == picture.read_bytes()
    shot(bench.page, "kept")
    bench.page.locator(".sd-more", has_text="1 photo").click()
    bench.page.locator(".sd-beside").wait_for(state="detached")
    bench.page.locator(".sd-more", has_text="1 photo").click()
    bench.page.get_by_text(f"✕ photo {name}").click()
    bench.saved(lambda r: not any(o.photos for o in r.observations))
    bench.page.locator(".sd-more", has_text="1 photo").wait_for(state="detached")


def test_only_the_parts_that_the_model_has(bench: Bench) -> None:
    page = bench.page

    def machine(model: str) -> None:
        bench.turn_to("Claim and unit")
        page.get_by_label("Model *").fill(model)
        bench.saved(lambda r: r.unit.model == model)

    asked = page.locator(".sd-answer .widget-label")
    bench.turn_to("12  Oil pump and its cover off")
    bench.confirm()
    bench.row("oil pump gouged").wait_for()
    machine("T3-075")  # oil feed by splash, says its limit sheet
    bench.turn_to("12  Oil pump and its cover off")
    asked.first.wait_for()
    assert [t for t in asked.all_text_contents() if t.startswith("oil pump")] == []
    machine("K4-150")


def test_a_record_is_taken_up_in_the_order_of_what_tells_most(
    open_workbook: Callable[..., Opened], page: Any, tmp_path: Path
) -> None:
    path = tmp_path / "tw-2024-027.toml"  # nobody looked inside: nothing is decided
    shutil.copy(demo() / "returns" / path.name, path)
    page.goto(open_workbook("intake", record=path).address)
    page.locator(".sd-headline", has_text="open: not decided").wait_for()
    page.get_by_label("Order").select_option(label="what tells most a minute")
    page.get_by_text("Next ▶").click()
    page.wait_for_function("!document.querySelector('.sd-page h2').textContent.includes('Claim and unit')")
    title = page.locator(".sd-page h2").text_content().lstrip("0123456789 ")
    assert page.locator(".sd-live b").first.text_content().startswith(f"{title}: ")  # step: finding


def test_labels_focus_and_contrast(bench: Bench, shot: Any) -> None:
    pytest.importorskip("axe_playwright_python", reason="the checker is not installed: pip install .[dev]")
    page = bench.page
    bench.turn_to("Claim and unit")
    assert violations(page, ".sd-intake") == []
    bench.turn_to("15  Bottom cover off")
    page.locator(CAUTION).first.wait_for()
    assert violations(page, ".sd-intake") == []
    bench.confirm()
    bench.row("oil screen blocked").get_by_text("3 heavy").click()
    page.locator(".sd-beside").wait_for()
    assert violations(page, ".sd-intake") == []
    bench.turn_to("3  Winding resistances at the terminals")
    bench.confirm()
    page.get_by_label("winding resistance U-V").fill("0.85")
    assert violations(page, ".sd-intake") == []
    bench.turn_to("Look through and confirm")
    assert violations(page, ".sd-intake") == []
    shot(page, "finish")


def test_whatever_is_touched_is_large_enough_for_gloves(bench: Bench, shot: Any) -> None:
    """44 px and more, by the target size of WCAG 2.1 (2.5.5), and nothing beyond the edge of the screen."""
    page = bench.page
    for width, height in ((768, 1024), (1280, 800)):
        page.set_viewport_size({"width": width, "height": height})
        bench.turn_to("11  Valve plate")
        bench.confirm()
        page.locator(".sd-answer").first.wait_for()
        sizes = page.evaluate(
            "[...document.querySelectorAll('.sd-intake button, .sd-intake select, .sd-intake input[type=text]')]"
            ".filter(e => e.offsetParent).map(e => [e.textContent, e.offsetWidth, e.offsetHeight])"
        )
        assert len(sizes) > 80
        assert [s for s in sizes if s[1] < 44 or s[2] < 44] == []
        assert page.evaluate("document.querySelector('.sd-intake').scrollWidth <= window.innerWidth")
        shot(page, f"{width}")
        bench.turn_to("Look through and confirm")
        ticks = page.locator(".sd-choices label:visible")
        ticks.first.wait_for()
        assert min(label.bounding_box()["height"] for label in ticks.all()) >= 44
        assert page.evaluate("document.querySelector('.sd-intake').scrollWidth <= window.innerWidth")


def test_a_person_confirms_at_the_end(bench: Bench) -> None:
    page = bench.page
    bench.turn_to("Look through and confirm")
    page.get_by_text("I confirm this finding").click()
    page.locator(".sd-now", has_text="Not done: write who confirms").wait_for()
    for tick in page.locator(".sd-choices input:checked").all():
        tick.uncheck()
    page.get_by_label("end of normal life").check()
    name, first = page.get_by_label("Name of the person *"), page.get_by_label("What failed first *")
    at_once(
        page,
        (name, "analyst"),
        (name, "analyst 2"),
        (first, "not known"),
        (first, "normal wear at high hours"),
        (page.get_by_text("I confirm this finding"), None),
    )
    record = bench.saved(lambda r: bool(r.confirmed))
    (confirmed,) = record.confirmed
    assert (confirmed.by, confirmed.first, confirmed.causes) == ("analyst 2", "wear_out", ("age",))
    page.locator(".sd-page", has_text="analyst 2: normal wear at high hours").wait_for()


def test_a_killed_kernel_loses_nothing(bench: Bench, shot: Any) -> None:
    page = bench.page
    bench.turn_to("10  Heads off")
    bench.confirm()
    bench.row("head gasket blown").get_by_text("3 heavy").click()
    assert bench.extents("head_gasket", 1) == {"head_gasket.blown": "heavy"}
    bench.opened.kill_kernel()
    page.get_by_role("alert").get_by_text("has stopped").wait_for()
    assert page.evaluate("document.querySelector('.sd-intake').inert")  # what would be lost cannot be entered
    shot(page, "stopped")
    take_up_again(bench)
    bench.pressed("head gasket blown", "3 heavy")
    bench.row("head gasket cracked").get_by_text("2 slight").click()
    assert bench.extents("head_gasket", 2) == {"head_gasket.blown": "heavy", "head_gasket.cracked": "slight"}


def test_a_page_that_is_reloaded_after_its_kernel_was_killed_loses_nothing(bench: Bench, shot: Any) -> None:
    page = bench.page
    bench.turn_to("10  Heads off")
    bench.confirm()
    bench.row("head gasket cracked").get_by_text("2 slight").click()
    bench.pressed("head gasket cracked", "2 slight")
    bench.opened.kill_kernel()
    page.get_by_role("alert").get_by_text("has stopped").wait_for()
    page.reload()
    page.get_by_role("alert").get_by_text("has stopped").wait_for()
    take_up_again(bench)
    bench.pressed("head gasket cracked", "2 slight")
    shot(page, "again")


def take_up_again(bench: Bench) -> None:
    """The one button that a stopped workbook offers."""
    bench.page.get_by_text("Take it up again").click()
    bench.page.wait_for_function("document.querySelector('.sd-intake')?.inert === false")
    bench.at("Heads off")
