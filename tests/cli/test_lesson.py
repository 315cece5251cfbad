"""`stripdown lesson`: five files a lesson, the notebook not run, the deck in its order."""

import json
import os
from pathlib import Path

import pytest

from tests.cli.calling import ROOT, Call

FILES = ["handout.html", "handout.pdf", "lesson.html", "lesson.ipynb", "lesson.pdf"]
RETURNS = ROOT / "data" / "demo" / "returns"
RECORD = RETURNS / "tw-2023-008.toml"


def _made(folder: Path) -> dict[str, bytes]:
    return {f.name: f.read_bytes() for f in sorted(folder.iterdir())}


def test_writes_five_files_and_says_where(call: Call, tmp_path: Path) -> None:
    answer = call("lesson", RECORD, "--out", "out")
    assert (answer.code, answer.err) == (0, "")
    assert answer.out == f"{Path('out') / 'TW-2023-008' / 'lesson.html'}\n"
    assert list(_made(tmp_path / "out" / "TW-2023-008")) == FILES
    assert [f.name for f in (tmp_path / "out").iterdir()] == ["TW-2023-008"]


def test_the_notebook_is_ready_and_not_run(call: Call, tmp_path: Path) -> None:
    call("lesson", RECORD, "--out", "out", "--system", "us")
    book = json.loads((tmp_path / "out" / "TW-2023-008" / "lesson.ipynb").read_text(encoding="utf-8"))
    code = [c for c in book["cells"] if c["cell_type"] == "code"]
    assert not any(c["outputs"] or c["execution_count"] for c in code)
    filled = next("".join(c["source"]) for c in code if "injected-parameters" in c["metadata"].get("tags", []))
    assert 'claim = "TW-2023-008"' in filled
    assert 'system = "us"' in filled
    assert f'record = "{RECORD}"' in filled


def test_same_record_same_bytes_and_other_files_stay(call: Call, tmp_path: Path) -> None:
    folder = tmp_path / "out" / "TW-2023-008"
    call("lesson", RECORD, "--out", "out")
    first = _made(folder)
    (folder / "page.html").write_text("of another command")
    call("lesson", RECORD, "--out", "out")
    assert _made(folder) == first | {"page.html": b"of another command"}


def test_paper(call: Call, tmp_path: Path) -> None:
    call("lesson", RECORD, "--out", "out", "--paper", "letter")
    assert "size: letter" in (tmp_path / "out" / "TW-2023-008" / "handout.html").read_text(encoding="utf-8")


def test_a_rejected_record_writes_nothing(call: Call, tmp_path: Path) -> None:
    answer = call("lesson", RETURNS / "tw-2025-018.toml", "--out", "out")
    assert answer.code == 1
    assert answer.err.count("\n") == 6  # every fault of it, a line each
    assert not (tmp_path / "out").exists()


def test_wrong_calls(call: Call) -> None:
    for arguments in ([], [RECORD, "--deck"], ["nowhere.toml"], [RETURNS / "larkhill-and-pellworth.jsonl"]):
        answer = call("lesson", *arguments)
        assert answer.code == 2, arguments
        assert answer.out == ""
        assert answer.err.count("\n") == 1


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_said(call: Call, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir(mode=0o555)
    assert call("lesson", RECORD, "--out", "out").code == 2


@pytest.mark.slow
def test_the_deck_from_easy_to_hard(call: Call, tmp_path: Path) -> None:
    answer = call("lesson", "--deck", "--out", "out")
    assert answer.code == 0
    lines = answer.out.splitlines()
    assert lines[0].startswith("1  ")
    assert "TW-2024-027" in lines[-1]  # the one that nothing decides
    for claim in (line.split("/")[1] for line in lines):
        assert list(_made(tmp_path / "out" / claim)) == FILES
