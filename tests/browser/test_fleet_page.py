"""The fleet page on a phone and beside another window."""

from pathlib import Path
from typing import Any

import pytest

from stripdown.pages import fleet_html
from tests.pages import fleets

pytestmark = pytest.mark.browser

_CUT = """() => [...document.querySelectorAll('.drawing svg')]
  .filter(f => f.getBoundingClientRect().right > innerWidth + 1 && !f.closest('figure').innerText.includes('damage'))
  .map(f => f.closest('figure').innerText)"""
_OVERPRINTED = """() => [...document.querySelectorAll('td')]
  .filter(d => parseFloat(getComputedStyle(d, '::before').height) > d.getBoundingClientRect().height + 1)
  .map(d => d.dataset.title)"""
_BROKEN = """() => [...document.querySelectorAll('td.right')].filter(d => {
    const told = d.firstChild, range = document.createRange();
    if (!told || told.nodeType !== 3 || / /.test(told.data.trim())) return false;
    range.selectNodeContents(told);
    return new Set([...range.getClientRects()].map(r => Math.round(r.top))).size > 1;
  }).map(d => d.innerText)"""


def _large() -> dict[str, Any]:
    report = fleets.large()
    report["life"] = [m | {"failures": 22025.84, "running": 174650} for m in report["life"]]
    report["first"] = [r | {"expected": 12564.8, "count": 12298} for r in report["first"]]
    return report


@pytest.mark.parametrize("width", [1280, 1100, 390, 360])
def test_nothing_is_cut_broken_or_overprinted(page: Any, tmp_path: Path, width: int, shot: Any) -> None:
    """Figures whole (that of the machine scrolls by itself), labels clear of the next row, numbers in one line."""
    (tmp_path / "fleet.html").write_text(fleet_html(_large()), encoding="utf-8")
    page.set_viewport_size({"width": width, "height": 844})
    page.goto((tmp_path / "fleet.html").as_uri())
    shot(page, str(width))
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate(_CUT) == []
    assert page.evaluate(_BROKEN) == []
    if width <= 390:
        assert page.evaluate(_OVERPRINTED) == []
