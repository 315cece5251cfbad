"""A lesson given to a class in a real browser: look, guess, see the odds, go on, be scored; by keyboard; labels."""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from stripdown.resources import demo
from stripdown.widgets.lab import Lab

from .accessible import violations
from .conftest import new_page, workbooks
from .fast_hands import at_once

pytestmark = pytest.mark.browser
RECORD = demo() / "returns" / "tw-2025-016.toml"
Shot = Callable[[Any, str], None]


@pytest.fixture(scope="module")
def room(server: Lab, chromium: Any) -> Iterator[Any]:
    """The page of a lesson whose complaint says motor burnt, and whose first mechanism is another."""
    with workbooks(server, "room") as open_workbook, new_page(chromium) as page:
        page.goto(open_workbook("lesson", record=RECORD).address)
        title(page).get_by_text("complaint").wait_for()
        yield page


def title(page: Any) -> Any:
    return page.locator(".stripdown-lesson h2").first


def button(page: Any, words: str) -> Any:
    return page.locator(".stripdown-lesson button", has_text=words)


def test_a_class_is_led_to_the_answer(room: Any, shot: Shot) -> None:
    page = room
    assert button(page, "Go on").is_disabled()  # nobody looks on before the guess
    shot(page, "complaint")
    pytest.importorskip("axe_playwright_python", reason="the checker is not installed: pip install .[dev]")
    assert violations(page, ".stripdown-lesson") == []

    # the first station by keyboard alone: what came first, how sure, commit, go on
    tab_to(page, "e.tagName === 'SELECT' && e.labels?.[0]?.textContent === 'Came first'")
    choose(page, "floodback")
    tab_to(page, "e.tagName === 'SELECT' && e.labels?.[0]?.textContent === 'How sure'")
    choose(page, "70 of 100")
    tab_to(page, "e.tagName === 'BUTTON' && e.textContent.includes('Commit')")
    page.keyboard.press("Enter")
    page.locator("[role=status]", has_text="The class said: floodback, sure 70.").wait_for()
    page.get_by_text("How the odds moved").first.wait_for()
    shot(page, "odds")
    assert violations(page, ".stripdown-lesson") == []
    page.wait_for_function("document.activeElement.textContent === 'Go on'")  # the button pressed last is gone
    page.keyboard.press("Space")
    title(page).get_by_text("Before opening").wait_for()
    assert page.locator(".jp-Cell").count() == 9  # no key went to the notebook itself

    # an earlier station may be looked at again, its guess is not changed
    button(page, "Look back").click()
    title(page).get_by_text("complaint").wait_for()
    assert not button(page, "Commit").is_visible()
    button(page, "Go on").click()
    title(page).get_by_text("Before opening").wait_for()

    refuted = False
    while title(page).text_content() != "The class's score":
        refuted |= station(page, "floodback")
    body = page.locator(".stripdown-lesson")
    assert refuted  # "motor burnt, so the supply": a finding takes it back
    for heading in ("The chain, from cause to failed part", "Had the heads stayed on", "The letter to the site"):
        assert body.get_by_role("heading", name=heading, exact=True).count() == 1
    assert body.get_by_text("The last guess was right").count() == 1
    assert body.locator("svg[role=img], figure svg").count() >= 2  # the chain, and the chain on the machine
    shot(page, "answer")
    assert violations(page, ".stripdown-lesson") == []


def station(page: Any, guess: str) -> bool:
    """Guess where a guess is asked for, then go on; whether a wrong conclusion was taken back."""
    before = title(page).text_content()
    if button(page, "Commit").is_visible():
        first, commit = page.get_by_label("Came first"), button(page, "Commit")
        at_once(page, (first, "surge"), (first, guess), (commit, None))
        page.locator("[role=status]", has_text=f"The class said: {guess}").wait_for()
    refuted = page.get_by_text("WRONG CONCLUSION").count() > 0
    page.locator(".stripdown-lesson button", has_text=re.compile("Go on|The answer")).click()
    page.wait_for_function("t => document.querySelector('.stripdown-lesson h2')?.textContent !== t", arg=before)
    return refuted


def choose(page: Any, words: str) -> None:
    """Down the list that has the focus, with the arrow key."""
    for _ in range(40):
        if page.evaluate("document.activeElement.selectedOptions[0].textContent").replace("\xa0", " ") == words:
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"not in the list: {words}")


def tab_to(page: Any, script: str) -> None:
    """Tab on until the focus is where `script` says, of the element `e`."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if page.evaluate(f"(e => Boolean({script}))(document.activeElement)"):
            return
    raise AssertionError(f"no tab stop: {script}")


def test_whatever_is_touched_is_large_enough_and_nothing_is_cut_off(room: Any, shot: Shot) -> None:
    """44 px and more, by the target size of WCAG 2.1 (2.5.5)."""
    for width, height in ((768, 1024), (1920, 1080), (1280, 800)):
        room.set_viewport_size({"width": width, "height": height})
        sizes = room.evaluate(
            "[...document.querySelectorAll('.stripdown-lesson button, .stripdown-lesson select')]"
            ".filter(e => e.offsetParent).map(e => [e.textContent, e.offsetWidth, e.offsetHeight])"
        )
        assert sizes
        assert [s for s in sizes if s[1] < 44 or s[2] < 44] == []
        assert room.evaluate("document.querySelector('.stripdown-lesson').scrollWidth <= window.innerWidth")
        shot(room, f"{width}")
