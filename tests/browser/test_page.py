"""The root-cause page on a phone."""

from pathlib import Path
from typing import Any

import pytest

from stripdown.pages import case_html
from tests.figures.crowded import crowded

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("system", ["si", "us"])
def test_nothing_is_wider_than_a_phone(page: Any, tmp_path: Path, system: Any, shot: Any) -> None:
    """360 px wide; a claim of a hundred letters, over 60 findings, every figure. What is wider scrolls by itself."""
    (tmp_path / "page.html").write_text(case_html(crowded(), system=system), encoding="utf-8")
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto((tmp_path / "page.html").as_uri())
    shot(page, system)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
