"""The notebooks that are shipped: stripped, short cells, and parameters that change what they show."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from stripdown import resources
from stripdown.batch import notebook

NAMES = ("teardown", "fleet", "lesson", "explorer")


def cells(path: Path) -> list[dict[str, Any]]:
    return list(json.loads(path.read_text(encoding="utf-8"))["cells"])


@pytest.mark.parametrize("name", NAMES)
class TestSource:
    def test_is_stripped(self, name: str) -> None:
        for cell in cells(resources.notebook(name)):
            assert not cell.get("outputs")
            assert cell.get("execution_count") is None

    def test_has_one_cell_of_parameters_and_ends_with_assertions(self, name: str) -> None:
        code = [cell for cell in cells(resources.notebook(name)) if cell["cell_type"] == "code"]
        assert [cell["id"] for cell in code if "parameters" in cell["metadata"].get("tags", [])] == ["parameters"]
        assert "assert " in "".join(code[-1]["source"])

    def test_holds_no_logic(self, name: str) -> None:
        for cell in cells(resources.notebook(name)):
            if cell["cell_type"] == "code":
                assert len(cell["source"]) <= 15
                assert not any(line.startswith(("def ", "class ", "while ")) for line in cell["source"])

    def test_tells_a_story_before_each_step(self, name: str) -> None:
        kinds = [cell["cell_type"] for cell in cells(resources.notebook(name))]
        assert kinds[0] == "markdown"
        assert kinds.count("markdown") >= kinds.count("code") - 1


def test_every_section_of_the_page_is_a_cell() -> None:
    from stripdown.pages import FLEET_SECTIONS, SECTIONS

    for name, sections in (("teardown", SECTIONS), ("fleet", FLEET_SECTIONS)):
        code = ["".join(c["source"]) for c in cells(resources.notebook(name)) if c["cell_type"] == "code"]
        for key, title, _ in sections:
            assert any(f".{key}(" in source for source in code), title


@pytest.mark.slow
class TestRun:
    def test_the_default_shows_a_demo_record_section_by_section(self, tmp_path: Path) -> None:
        (tmp_path / "out").mkdir()
        notebook.run("teardown", tmp_path / "out", {}, kernel="stock", kept=tmp_path / "x" / "failed.ipynb")
        book = tmp_path / "out" / "teardown.ipynb"
        shown = [c for c in cells(book) if c["cell_type"] == "code" and any("data" in o for o in c["outputs"])]
        assert len(shown) >= 10
        assert sum("data:image/svg+xml" in json.dumps(c["outputs"]) for c in shown) >= 3
        assert [f.name for f in (tmp_path / "out").iterdir()] == ["teardown.ipynb"]  # the rest in a temporary folder

    def test_a_changed_parameter_changes_notebook_and_page(self, tmp_path: Path) -> None:
        pages = []
        for system in ("si", "us"):
            (tmp_path / system).mkdir()
            parameters = {"system": system, "out": "."}
            notebook.run("teardown", tmp_path / system, parameters, kernel="stock", kept=tmp_path / "failed.ipynb")
            pages.append((tmp_path / system / "page.html").read_text(encoding="utf-8"))
        assert pages[0] != pages[1]
        assert [bool(re.search(r"± [\d.]+ psi", page)) for page in pages] == [False, True]
        assert [bool(re.search(r"± [\d.]+ bar", page)) for page in pages] == [True, False]
