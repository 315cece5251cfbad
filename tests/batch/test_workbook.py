"""What the explorer's notebook calls: the returns to be asked, and the page behind each."""

from pathlib import Path

import pytest

from stripdown import resources
from stripdown.batch import workbook
from stripdown.batch.results import gather, json_line
from stripdown.batch.settings import Settings
from stripdown.record import RecordError

RECORD = resources.demo() / "returns" / "tw-2025-016.toml"
CLAIM = "TW-2025-016"


@pytest.fixture
def results(tmp_path: Path) -> Path:
    """One result line, whose file is named from where the line stands, as `judge --json` was called there."""
    (tmp_path / "returns").mkdir()
    (tmp_path / "returns" / RECORD.name).write_bytes(RECORD.read_bytes())
    (line,) = gather([str(RECORD)], Settings())
    path = tmp_path / "results.jsonl"
    path.write_text(json_line(line | {"file": f"returns/{RECORD.name}"}) + "\n", encoding="utf-8")
    return path


def test_result_lines_and_units_are_opened(results: Path) -> None:
    fleet = workbook.open_returns(str(results), str(resources.demo() / "units.csv"), "2026-01-31", Settings())
    assert list(fleet.returns["claim"]) == [CLAIM]
    assert fleet.lives is not None
    assert "site" in fleet.rated


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("notes.txt", "to do", "notes.txt: is no kind of file that is read here"),
        ("cut.toml", "format = 1\nclaim = [", "cut.toml: is not TOML"),
        ("empty.jsonl", "", "empty.jsonl: is empty"),
        ("no.jsonl", '{"claim": "A", "status": "fine"}\n', "no.jsonl: holds no record and no line of judge --json"),
        (
            "rejected.jsonl",
            '{"claim": "A", "status": "rejected", "faults": [{"file": "a", "entry": "b", "what": "c", "fix": "d"}]}\n',
            "^a: b: c; d$",
        ),
    ],
)
def test_where_nothing_can_be_asked_the_faults_are_told(tmp_path: Path, name: str, data: str, said: str) -> None:
    (tmp_path / name).write_text(data, encoding="utf-8")
    with pytest.raises(RecordError, match=said):
        workbook.open_returns(str(tmp_path / name), "", "", Settings())


def test_one_good_return_beside_faulty_ones_is_asked(results: Path) -> None:
    with results.open("a", encoding="utf-8") as lines:
        lines.write('{"claim": "A", "status": "rejected", "faults": 3}\nnot a line\n')
    fleet = workbook.open_returns(str(results), "", "2020-01-31", Settings())
    assert (len(fleet.returns), fleet.rejected) == (0, 2)  # it failed after that day


def test_the_page_that_batch_wrote_comes_first(results: Path, tmp_path: Path) -> None:
    (tmp_path / "reports" / CLAIM).mkdir(parents=True)
    (tmp_path / "reports" / CLAIM / "page.html").write_text("<p>as written</p>", encoding="utf-8")
    where = {"results": str(results), "out": str(tmp_path / "reports"), "settings": Settings()}
    assert workbook.page_of(CLAIM, f"returns/{RECORD.name}", **where) == "<p>as written</p>"


def test_else_it_is_made_from_the_record_beside_the_results(results: Path) -> None:
    page = workbook.page_of(CLAIM, f"returns/{RECORD.name}", str(results), "", Settings())
    assert CLAIM in page
    assert page.lower().startswith("<!doctype html>")


@pytest.mark.parametrize("claim", ["../secret", "/etc", "", "secret/../../secret"])
def test_no_claim_leads_out_of_the_folder(claim: str, tmp_path: Path) -> None:
    (tmp_path / "secret").mkdir()
    (tmp_path / "secret" / "page.html").write_text("secret", encoding="utf-8")
    (tmp_path / "reports").mkdir()
    assert workbook.page_of(claim, "nowhere.toml", "lines.jsonl", str(tmp_path / "reports"), Settings()) == ""


def test_a_file_that_is_gone_has_no_page(results: Path) -> None:
    assert workbook.page_of("X-1", "returns/gone.toml", str(results), "", Settings()) == ""


def test_of_a_file_that_cannot_be_read_its_own_faults_are_told(tmp_path: Path) -> None:
    """Whatever claim was asked for: nobody can know whether it stands there."""
    (tmp_path / "a.toml").write_bytes(b"\xff")
    with pytest.raises(RecordError, match="is not UTF-8"):
        workbook.one_record(str(tmp_path / "a.toml"), Settings(), claim="X")
    with pytest.raises(RecordError, match="holds 0 records with the claim X"):
        workbook.one_record(str(RECORD), Settings(), claim="X")


@pytest.mark.parametrize("days", [None, 30])
def test_a_notebook_gets_all_that_a_page_is_shown_with(days: int | None) -> None:
    chosen = Settings(purpose="site", system="us", paper="letter", parts_kept=days)
    again = Settings.of(**chosen.parameters())
    assert again.show() == {"purpose": "site", "system": "us", "paper": "letter", "parts_kept": days}
    assert all(isinstance(value, str) for value in chosen.parameters().values())
    assert (chosen.digest() == Settings(purpose="site", system="us", paper="letter").digest()) == (days is None)
