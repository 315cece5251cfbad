"""The start-up list says what the class's limit sheet says, and nowhere a figure of its own for it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from stripdown.limits import load_sheets
from stripdown.pages import startup as page
from stripdown.pages.startup import startup


@pytest.fixture
def anew() -> Iterator[None]:
    startup.cache_clear()
    yield
    startup.cache_clear()


def _text() -> str:
    return "\n".join(step["text"] for step in startup()["step"])


@pytest.mark.parametrize(
    "said",
    [
        # by hand: 67 Pa / 0.133 Pa = 503 micron; 11 K = 19.8, 10 K = 18 °F; 107 °C = 224.6 °F
        "evacuated to 500 micron (67 Pa) or less",
        "superheat at the compressor at least 11 K (20 °F)",
        "sump at least 10 K (18 °F) above saturated suction",
        "discharge line at most 107 °C (225 °F)",
        "within 90–110 % of the plate, unbalance at most 1 %, never run above 5 %;",
        "below the sheet's maximum, unbalance at most 10 %.",
        "below 0.05 mg KOH/g",
    ],
)
def test_figures_of_the_class_stand_in_it_in_both_systems(said: str) -> None:
    assert said in _text()


@pytest.mark.usefixtures("anew")
def test_a_figure_that_is_changed_in_the_class_changes_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = 'class = true\nsource = "test"\nissue = "1"\n[limits.suction_superheat]\nunit = "K"\nlimit = {low = 9}\n'
    (tmp_path / "class.toml").write_text(sheet)
    monkeypatch.setattr(page, "load_sheets", lambda: load_sheets(tmp_path))
    assert "at least 9 K (16 °F)" in _text()
    assert "11 K" not in _text()
