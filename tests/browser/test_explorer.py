"""A fleet explored in a real browser: clicks, keys, reload, a killed kernel; labels, focus, contrast, size.

All tests use one workbook on one fleet; each asks its own question first.
"""

import json
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from stripdown.widgets.lab import Lab
from tests.fleet.made import line

from .accessible import violations
from .conftest import Opened, new_page, workbooks
from .fast_hands import at_once

pytestmark = pytest.mark.browser
VIEWS = {"projector": (1280, 800), "desktop": (1920, 1080), "tablet": (768, 1024)}
PANELS = ("Records", "Compare", "Life", "Incidence")


@dataclass(frozen=True)
class Desk:
    """A workbook as it stands on the screen, and the folder that it saves in."""

    opened: Opened
    page: Any
    out: Path

    def choose(self, label: str, entry: str) -> None:
        """Choose an entry of a list."""
        self.page.get_by_label(label, exact=True).select_option(label=entry)

    def press(self, name: str) -> None:
        """Press a button, marked as chosen or not."""
        self.page.locator(".sd-explorer button:visible").filter(has_text=name).first.click()

    def bar(self, name: str) -> Any:
        """The row of a bar."""
        return self.page.locator(".sd-row:visible").filter(has=self.page.locator(f"button:has-text('{name}')"))

    def ask(self) -> None:
        """Share that began with floodback, by site, nothing open; the list of records beside it."""
        self.press("Records")
        if self.page.get_by_text("◀ Back to the records").is_visible():
            self.press("◀ Back to the records")
        if self.page.get_by_text("All again").is_visible():
            self.press("All again")
        self.choose("Measure", "first mechanism")
        self.choose("Of", "floodback")
        self.choose("By", "site")
        self.choose("Look into", "all chosen together")
        self.page.locator("h3", has_text="Records behind all that are chosen").wait_for()
        self.bar("south").get_by_text("20 % (").wait_for()

    def tab_to(self, script: str) -> None:
        """Tab on until the focus is where `script` says, of the element `e`."""
        for _ in range(80):
            self.page.keyboard.press("Tab")
            if self.page.evaluate(f"(e => Boolean({script}))(document.activeElement)"):
                return
        raise AssertionError(f"no tab stop: {script}")

    def focus(self) -> str:
        """The words of the button that has the focus."""
        return str(self.page.evaluate("document.activeElement.textContent"))


def write(folder: Path) -> dict[str, Path]:
    """Twenty returns from north, 10 of them by floodback, and twenty from south, 4 of them; sixty units still run."""
    lines = [
        line(f"{site}-{i:02d}", site=site, first={"floodback" if i < floodbacks else "wear_out": 1.0}, age=300 + 20 * i)
        for site, floodbacks in (("north", 10), ("south", 4))
        for i in range(20)
    ]
    results, units, out = folder / "results.jsonl", folder / "units.csv", folder / "reports"
    results.write_text("".join(json.dumps(entry) + "\n" for entry in lines), encoding="utf-8")
    rows = [f"S-{site}-{i:02d},K4-150,{site},2020-01-01" for site in ("north", "south") for i in range(20)]
    rows += [f"R{i},K4-150,south,2020-01-01" for i in range(60)]
    units.write_text("\n".join(["serial,model,site,installed", *rows]) + "\n", encoding="utf-8")
    (out / "north-00").mkdir(parents=True)
    (out / "north-00" / "page.html").write_text("<h1>The page of north-00</h1><script>document.title = 1</script>")
    return {"results": results, "population": units, "out": out}


@pytest.fixture(scope="module")
def desk(server: Lab, chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    files = write(tmp_path_factory.mktemp("fleet"))
    with workbooks(server, "desk") as open_workbook, new_page(chromium) as page:
        opened = open_workbook("explorer", **files)
        page.goto(opened.address)
        page.locator(".sd-explorer h2", has_text="40 returns · 0 rejected").wait_for()
        yield Desk(opened, page, files["out"])


def test_from_a_bar_to_its_records_and_a_page(desk: Desk, shot: Any) -> None:
    page = desk.page
    desk.ask()
    assert desk.bar("north").text_content().endswith("of 20")
    desk.bar("north").locator("button").click()
    page.locator("h3", has_text="Records behind site north").wait_for()
    assert page.get_by_label("Look into").evaluate("e => e.selectedOptions[0].label") == "north"
    shot(page, "records")
    page.locator(".sd-records button", has_text="north-00").click()
    frame = page.frame_locator("iframe[title='Page of claim north-00']")
    frame.locator("h1", has_text="The page of north-00").wait_for()
    fact = page.locator("th:has-text('First mechanism') + td")
    assert fact.text_content() == "floodback over 99 % (established)"
    shot(page, "page")
    desk.press("◀ Back to the records")
    page.locator(".sd-records button", has_text="north-01").wait_for()


def test_keeping_and_letting_go(desk: Desk) -> None:
    page = desk.page
    desk.ask()
    desk.choose("Keep only", "site")
    desk.choose("Named", "south")
    desk.press("Keep")
    page.get_by_text("Among site south: 20 returns").wait_for()
    desk.bar("north").wait_for(state="detached")
    desk.press("✕ site: south")
    page.get_by_text("Among all returns: 40 returns").wait_for()


def test_a_comparison_counts_as_a_look_and_outlives_a_reload(desk: Desk, shot: Any) -> None:
    """10 of 20 against 4 of 20: +30 points, 0.0 to 54.5 (Agresti and Caffo); p 0.0495 (N − 1 chi-square)."""
    page = desk.page
    desk.ask()
    desk.press("Compare")
    desk.press("Compare and count the look")
    page.locator("[role=status]", has_text="open a bar first").wait_for()
    desk.bar("north").locator("button").click()
    desk.press("Compare and count the look")
    page.locator(".sd-latest", has_text="+30.0 points (+0.0 to +54.5)").wait_for()
    desk.choose("Measure", "needless return")
    desk.press("Compare and count the look")
    page.get_by_text("2 looks taken, each p corrected for all of them").wait_for()
    shot(page, "looks")
    page.reload()
    page.get_by_text("2 looks taken, each p corrected for all of them").wait_for()
    row = page.locator("tr", has_text="floodback: north against all others")
    assert [c.strip() for c in row.locator("td").all_text_contents()][2:4] == ["0.05", "0.099"]


def test_a_press_right_after_a_choice_waits_for_it(desk: Desk) -> None:
    page = desk.page
    desk.ask()
    desk.press("Compare")
    desk.choose("Measure", "preventable failure")
    page.locator("h3", has_text="Preventable failure, by site").wait_for()
    into = page.get_by_label("Look into")
    compare = page.locator("button", has_text="Compare and count the look")
    at_once(page, (into, "north"), (into, "south"), (compare, None))
    page.locator(".sd-latest", has_text="Preventable failure: ").wait_for()
    assert page.locator("td", has_text="Preventable failure: ").all_text_contents() == [
        "Preventable failure: south against all others"
    ]
    name, keep = page.get_by_label("Named"), page.locator("button", has_text="Keep").first
    desk.choose("Keep only", "site")
    at_once(page, (name, "south"), (name, "north"), (keep, None))
    page.get_by_text("Among site north: 20 returns").wait_for()


def test_life_and_incidence_and_what_is_saved(desk: Desk, shot: Any) -> None:
    page = desk.page
    desk.ask()
    desk.press("Life")
    page.locator(".sd-drawing svg").wait_for()
    page.locator("td", has_text="60").first.wait_for()
    shot(page, "life")
    desk.press("Save")
    page.locator("[role=status]", has_text="-life.csv").wait_for()
    desk.press("Incidence")
    page.locator("h3", has_text="What fails how soon").wait_for()
    page.locator(".sd-drawing svg").wait_for()
    shot(page, "incidence")
    desk.ask()
    desk.press("Save")
    page.locator("[role=status]", has_text=re.compile(r"explorer-\d+\.csv")).wait_for()
    saved = {f.suffix for f in (desk.out / "explorer").iterdir()}
    assert saved == {".csv", ".png", ".svg", ".json"}


def test_by_keyboard_alone(desk: Desk) -> None:
    """From the first list to a bar, its comparison, and its records, with letters, Tab, Enter and Space."""
    page = desk.page
    desk.ask()
    cells = page.locator(".jp-Cell").count()
    page.get_by_label("Measure", exact=True).focus()
    page.keyboard.type("no f")  # a native list: letters choose
    page.locator("h3", has_text="No fault found, by site").wait_for()
    desk.tab_to("e.textContent === '▷ south'")
    page.keyboard.press("Enter")
    page.locator("h3", has_text="Records behind site south").wait_for()
    assert desk.focus() == "▶ south"  # the focus stays on what was pressed
    page.keyboard.press("Shift+Tab")
    assert desk.focus() == "▷ north"
    page.locator("button", has_text="Records").first.focus()
    desk.tab_to("e.textContent === '▷ Compare'")
    page.keyboard.press("Space")
    desk.tab_to("e.textContent === 'Compare and count the look'")
    for key in ("a", "m", "d", "d", "x"):  # commands of a notebook: add a cell, make one text, delete and cut it
        page.keyboard.press(key)
    page.keyboard.press("Enter")
    page.locator(".sd-latest", has_text="No fault found: south against all others").wait_for()
    assert page.locator(".jp-Cell").count() == cells


def test_labels_focus_and_contrast(desk: Desk) -> None:
    pytest.importorskip("axe_playwright_python", reason="the checker is not installed: pip install .[dev]")
    desk.ask()
    desk.bar("north").locator("button").click()
    for panel in PANELS:
        desk.press(panel)
        desk.page.locator("button", has_text=f"▶ {panel}").wait_for()
        assert violations(desk.page, ".sd-explorer") == []
    desk.press("Records")
    desk.page.locator(".sd-records button", has_text="north-00").click()
    desk.page.locator("iframe").wait_for()
    assert violations(desk.page, ".sd-explorer") == []


@pytest.mark.parametrize("view", VIEWS)
def test_legible_and_large_enough_to_touch(desk: Desk, view: str, shot: Any) -> None:
    """Read at five metres from a picture 2 m wide: capitals of 20 mm need 18 pixels of 1280; a thumb needs 44."""
    page = desk.page
    width, height = VIEWS[view]
    page.set_viewport_size({"width": width, "height": height})
    desk.ask()
    desk.bar("north").locator("button").click()
    for panel in PANELS:
        desk.press(panel)
        page.locator("button", has_text=f"▶ {panel}").wait_for()
        time.sleep(0.3)
        shot(page, f"{view}-{panel}")
        sizes = page.evaluate(
            "[...document.querySelectorAll('.sd-explorer button, .sd-explorer select, .sd-explorer .sd-said, "
            ".sd-explorer p, .sd-explorer td')].filter(e => e.offsetParent && e.textContent)"
            ".map(e => [parseFloat(getComputedStyle(e).fontSize), e.matches('button, select') ? e.offsetHeight : 99])"
        )
        assert len(sizes) > 20
        assert min(font for font, _ in sizes) >= 16
        assert min(font for font, touched in sizes if touched < 99) >= 18
        assert min(touched for _, touched in sizes) >= 44
        assert page.evaluate("document.querySelector('.sd-explorer').scrollWidth <= window.innerWidth")
    page.set_viewport_size({"width": 1280, "height": 800})


def test_a_killed_kernel_is_said_and_the_workbook_comes_back_with_its_looks(desk: Desk, shot: Any) -> None:
    page = desk.page
    desk.ask()
    desk.press("Compare")
    desk.press("Compare each site against all others")
    page.locator(".sd-latest", has_text="each site against all others: 2 looks").wait_for()
    shot(page, "each")
    desk.opened.kill_kernel()
    page.locator("[role=alert]", has_text="has stopped").wait_for()
    page.get_by_role("button", name="Take it up again").click()
    page.wait_for_function("document.querySelector('.sd-explorer')?.inert === false")
    page.locator(".sd-latest").wait_for(state="detached")
    page.get_by_text("looks taken, each p corrected for all of them").wait_for()
    assert page.get_by_label("By", exact=True).evaluate("e => e.selectedOptions[0].label") == "site"
    assert page.locator("tr", has_text="floodback: north against all others").count() == 1
    desk.ask()
