"""A teardown entered in a real browser: clicks, keys, reload, a killed kernel; labels, focus order, contrast."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from stripdown.record import Record, RecordError, read

from .accessible import violations
from .conftest import Opened

pytestmark = [pytest.mark.browser, pytest.mark.slow]
CAUTION = "button:has-text('It is so')"


def turn_to(page: Any, title: str) -> None:
    page.get_by_label("Step", exact=True).select_option(label=title)
    page.locator(".sd-page h2", has_text=title.split("  ")[-1]).wait_for()


def confirm(page: Any) -> None:
    """Confirm the cautions one by one, as they stand."""
    while page.locator(CAUTION).count():
        left = page.locator(CAUTION).count()
        page.locator(CAUTION).first.click()
        page.wait_for_function(f"document.querySelectorAll('.sd-caution:not(.sd-confirmed)').length < {left}")


def row(page: Any, words: str) -> Any:
    return page.locator(".sd-answer").filter(has=page.locator(f".widget-label:text-matches('^{words}')"))


def saved(path: Path, right: Callable[[Record], bool]) -> Record:
    """The record once the file says what it should; the last one after a minute."""
    end = time.monotonic() + 60
    while True:
        try:
            record = read(path)
            if right(record) or time.monotonic() > end:
                return record
        except RecordError:
            if time.monotonic() > end:
                raise
        time.sleep(0.05)


def extents(record: Record) -> dict[str, str]:
    return {o.finding: o.extent for o in record.observations}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "returns" / "NB-1.toml"


@pytest.fixture
def opened(open_workbook: Callable[..., Opened], page: Any, path: Path) -> Opened:
    """The workbook of a new record, serial typed."""
    workbook = open_workbook("intake", record=path, model="K4-150")
    page.goto(workbook.address)
    page.get_by_label("Serial *").fill("00123")
    saved(path, lambda r: r.unit.serial == "00123")
    return workbook


def test_caution_then_clicks_then_reload(opened: Opened, page: Any, path: Path, shot: Any) -> None:
    shot(page, "unit")
    turn_to(page, "11  Valve plate")
    assert page.locator(".sd-answer").count() == 0
    shot(page, "caution")
    confirm(page)
    row(page, "suction reed broken").get_by_text("3 heavy").click()
    record = saved(path, lambda r: bool(r.observations))
    assert extents(record) == {"suction_reed.broken": "heavy"}
    page.get_by_label("Note").fill("two of four, bank 1")
    record = saved(path, lambda r: bool(r.observations[0].note))
    assert record.observations[0].note == "two of four, bank 1"
    page.get_by_text("cylinder 2", exact=True).click()
    row(page, "backer bolts backed out, cyl. 2").get_by_text("2 slight").click()
    record = saved(path, lambda r: len(r.observations) == 2)
    assert record.observations[1].cylinders == (2,)
    page.wait_for_function("!document.querySelector('.sd-headline').textContent.includes('nothing wrong')")
    shot(page, "answered")

    page.reload()
    page.locator(".sd-page h2", has_text="Valve plate").wait_for()
    active = row(page, "backer bolts backed out, cyl. 2").locator("button.mod-active")
    active.wait_for()
    assert active.text_content() == "2 slight"
    row(page, "valve plate scored").get_by_text("1 sound").click()
    saved(path, lambda r: len(r.observations) == 3)
    assert extents(read(path))["valve_plate.scored"] == "none"


def test_by_keyboard_alone(opened: Opened, page: Any, path: Path) -> None:
    page.get_by_label("Step", exact=True).focus()
    page.keyboard.type("13")  # a native list: typing chooses
    page.locator(".sd-page h2", has_text="Turn the crank").wait_for()
    for left in (2, 1):
        page.wait_for_function(f"document.querySelectorAll('.sd-caution').length === {left}")
        press_until(page, "It is so")
        page.keyboard.press("Enter")
    page.locator(".sd-answer").first.wait_for()
    press_until(page, "not looked at")
    page.keyboard.press("2")
    record = saved(path, lambda r: bool(r.observations))
    assert extents(record) == {"crank.will_not_turn": "heavy"}
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    record = saved(path, lambda r: "crank.turns_freely" in extents(r))
    assert extents(record) == {"crank.turns_freely": "heavy"}
    assert page.locator(".jp-Cell").count() == 4  # no key went to the notebook itself


def press_until(page: Any, words: str) -> None:
    """Tab on until the focus is on a button of these words."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if words in page.evaluate("(e => e.tagName === 'BUTTON' ? e.textContent : '')(document.activeElement)"):
            return
    raise AssertionError(f"no tab stop: {words}")


def test_digits_go_down_a_list(opened: Opened, page: Any, path: Path) -> None:
    turn_to(page, "8  Drain and sample the oil")
    confirm(page)
    row(page, "oil low").locator("button").last.focus()
    for digit in "3124":
        page.keyboard.press(digit)
        page.keyboard.press("ArrowDown")
    record = saved(path, lambda r: len(r.observations) == 4)
    assert extents(record) == {
        "oil.low": "heavy",
        "oil.overfull": "none",
        "oil.dark_burnt": "slight",
        "oil.milky": "unreadable",
    }


def test_a_reading_is_judged_while_it_is_typed(opened: Opened, page: Any, path: Path, shot: Any) -> None:
    turn_to(page, "4  Insulation to frame")
    confirm(page)
    field = page.get_by_label("insulation resistance all-frame")
    field.press_sequentially("0.2", delay=30)
    verdict = page.locator(".sd-reading", has=field)
    verdict.get_by_text("outside").wait_for()
    assert "at least 5 Mohm" in verdict.text_content()  # common practice
    field.fill("abc")
    verdict.get_by_text("must be a number").wait_for()
    shot(page, "fault")
    field.fill("0,3")
    saved(path, lambda r: bool(r.readings) and r.readings[0].value == 0.3)
    assert field.input_value() == "0,3"  # what is being typed is left alone


def test_a_photo_is_attached(opened: Opened, page: Any, path: Path, tmp_path: Path) -> None:
    from PIL import Image

    picture = tmp_path / "a.png"
    Image.new("RGB", (40, 30), "grey").save(picture)
    turn_to(page, "8  Drain and sample the oil")
    confirm(page)
    row(page, "oil sludge").get_by_text("3 heavy").click()
    with page.expect_file_chooser() as chooser:
        page.locator(".sd-beside").get_by_text("Add photo").click()
    chooser.value.set_files(picture)
    record = saved(path, lambda r: bool(r.observations) and bool(r.observations[0].photos))
    assert (path.parent / record.observations[0].photos[0]).read_bytes() == picture.read_bytes()


def test_a_killed_kernel_loses_nothing(opened: Opened, page: Any, path: Path, shot: Any) -> None:
    turn_to(page, "8  Drain and sample the oil")
    confirm(page)
    row(page, "oil low").get_by_text("3 heavy").click()
    saved(path, lambda r: bool(r.observations))
    opened.kill_kernel()
    page.reload()
    page.locator(".jp-Notebook").wait_for()
    page.get_by_role("menuitem", name="Kernel").click()
    page.get_by_text("Restart Kernel and Run All Cells", exact=False).first.click()
    page.locator(".jp-Dialog button", has_text="Restart").click()
    page.locator(".sd-page h2", has_text="Drain and sample the oil").wait_for()
    active = row(page, "oil low").locator("button.mod-active")
    active.wait_for()
    assert active.text_content() == "3 heavy"
    shot(page, "again")
    row(page, "oil sludge").get_by_text("2 slight").click()
    record = saved(path, lambda r: len(r.observations) == 2)
    assert extents(record) == {"oil.low": "heavy", "oil.sludge": "slight"}


def test_labels_focus_and_contrast(opened: Opened, page: Any, shot: Any) -> None:
    pytest.importorskip("axe_playwright_python", reason="the checker is not installed: pip install .[dev]")
    assert violations(page, ".sd-intake") == []
    for title in ("1  Ask the site", "3  Winding resistances at the terminals", "11  Valve plate"):
        turn_to(page, title)
        assert violations(page, ".sd-intake") == []
        confirm(page)
        page.locator(".sd-page input, .sd-answer").first.wait_for()
        if page.locator(".sd-answer").count():
            page.locator(".sd-answer button", has_text="3 ").first.click()
            page.locator(".sd-beside").wait_for()
        assert violations(page, ".sd-intake") == []
    turn_to(page, "Look through and confirm")
    assert violations(page, ".sd-intake") == []
    shot(page, "finish")


def test_whatever_is_touched_is_large_enough_for_gloves(opened: Opened, page: Any) -> None:
    for width, height in ((1280, 800), (768, 1024)):
        page.set_viewport_size({"width": width, "height": height})
        turn_to(page, "11  Valve plate")
        confirm(page)
        page.locator(".sd-answer").first.wait_for()
        sizes = page.evaluate(
            "[...document.querySelectorAll('.sd-intake button, .sd-intake select, .sd-intake input[type=text]')]"
            ".filter(e => e.offsetParent).map(e => [e.textContent, e.offsetWidth, e.offsetHeight])"
        )
        assert len(sizes) > 80
        assert [s for s in sizes if s[1] < 44 or s[2] < 44] == []
        assert page.evaluate("document.querySelector('.sd-intake').scrollWidth <= window.innerWidth")
        turn_to(page, "Claim and unit")


def test_a_person_confirms_at_the_end(opened: Opened, page: Any, path: Path) -> None:
    turn_to(page, "Look through and confirm")
    page.get_by_label("Name of the person *").fill("analyst 2")
    page.get_by_label("What failed first *").select_option(label="normal wear at high hours")
    page.get_by_text("I confirm this finding").click()
    record = saved(path, lambda r: bool(r.confirmed))
    assert (record.confirmed[0].by, record.confirmed[0].first) == ("analyst 2", "wear_out")
    page.locator(".sd-page", has_text="analyst 2: normal wear at high hours").wait_for()
