"""The drawings in the docs are those of the knowledge as it stands."""

import runpy
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from stripdown import knowledge
from stripdown.vocabulary import label

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "docs" / "knowledge"
RULES = knowledge.load()
DRAWN: dict[str, str] = runpy.run_path(str(ROOT / "tools" / "draw_knowledge.py"))["drawings"](RULES)


def test_what_stands_in_the_docs_is_what_is_drawn_now() -> None:
    """Else: python tools/draw_knowledge.py"""
    assert {p.name: p.read_text(encoding="utf-8") for p in FOLDER.glob("*.svg")} == DRAWN


def test_every_state_and_linked_finding_is_in_a_drawing() -> None:
    words = {t.text for svg in DRAWN.values() for t in ElementTree.fromstring(svg).iter() if t.tag.endswith("}text")}
    for state in RULES.states:
        assert not state.links or label(state.id) in words, state.id
    for finding in RULES.findings.values():
        assert not finding.links or label(finding.id) in words, finding.id
    for cause in RULES.causes:
        assert label(cause) in words, cause


@pytest.mark.parametrize("name", sorted(DRAWN))
def test_each_is_shown_on_the_page(name: str) -> None:
    assert f"(knowledge/{name})" in (ROOT / "docs" / "knowledge.md").read_text(encoding="utf-8")


def test_they_stay_small() -> None:
    assert sum(len(svg) for svg in DRAWN.values()) < 1_000_000


def test_the_own_file_of_the_page_loads(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "knowledge.md").read_text(encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(page.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    assert knowledge.load(own).findings["compressor_location.colder_than_evaporator"].otherwise == (0.07,)
