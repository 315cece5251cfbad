"""Entries and presses so close together that none of them has been heard when the last is made."""

from typing import Any

_ACT = """(acts) => {
    for (const [element, words] of acts) {
        if (words === null) { element.click(); continue; }
        if (element.tagName === 'SELECT') {
            const said = [...element.options].map((o) => o.textContent.replaceAll('\\u00a0', ' '));
            element.selectedIndex = said.indexOf(words);
        } else element.value = words;
        for (const kind of ['input', 'change']) element.dispatchEvent(new Event(kind, { bubbles: true }));
    }
}"""


def at_once(page: Any, *acts: tuple[Any, str | None]) -> None:
    """Each act is an element with what is chosen or typed there, or with None to press it."""
    page.evaluate(_ACT, [[element.element_handle(), words] for element, words in acts])
