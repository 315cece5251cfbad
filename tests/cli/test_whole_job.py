"""`page`, `batch`, `fleet`, `demo`, `sheet`: the files of the contract, as a person would call for them."""

import errno
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

import openpyxl
import pytest

from stripdown.reasoning.costs import SHIPPED
from tests.cli.calling import ROOT, Call
from tests.small_record import small_record

PAGES = {"teardown.ipynb", "page.html", "page.pdf", "result.json"}


def test_sheet_writes_one_pdf(call: Call, tmp_path: Path) -> None:
    answer = call("sheet", "K4-150", "--out", "out")
    assert answer.code == 0
    assert Path(answer.out.strip()).read_bytes().startswith(b"%PDF-")
    assert answer.err == ""


def test_a_sheet_that_cannot_be_written_leaves_nothing_behind(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a full disk: half of it is written, then there is no room."""

    def full(path: Path, data: bytes) -> int:
        with path.open("wb") as file:
            file.write(data[:1000])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    answer = call("sheet", "K4-150", "--out", "out")
    assert (answer.code, answer.err.count("\n")) == (2, 1)
    assert "No space left" in answer.err
    assert list((tmp_path / "out").iterdir()) == []


def test_sheet_as_a_workbook_is_judged_once_it_is_filled_in(call: Call, tmp_path: Path) -> None:
    answer = call("sheet", "K4-150", "--form", "workbook", "--out", "out")
    assert (answer.code, answer.out.strip()) == (0, str(Path("out") / "sheet-K4-150.xlsx"))
    path = tmp_path / "out" / "sheet-K4-150.xlsx"
    book = openpyxl.load_workbook(path)
    names = [c.value for c in book["returns"][1]]
    for name, value in (("claim", "A-1"), ("serial", "00123")):
        book["returns"].cell(2, names.index(name) + 1, value)
    for row in book["readings"].iter_rows(min_row=2):
        if any(c.value == "insulation_resistance" for c in row):
            row[[c.value for c in book["readings"][1]].index("value")].value = 620
    book.save(path)
    judged = json.loads(call("judge", str(path), "--json").out)
    assert judged["claim"] == "A-1"
    assert [(r["quantity"], r["at"], r["value"]) for r in judged["readings"]] == [
        ("insulation_resistance", at, 620.0) for at in ("terminals", "leads")
    ]


def test_sheet_of_an_unknown_model_says_so_and_stays_in_its_folder(call: Call, tmp_path: Path) -> None:
    answer = call("sheet", "../../X 1", "--out", "out")
    assert answer.code == 0
    assert "limits of the class" in answer.err
    assert [f.name for f in (tmp_path / "out").iterdir()] == ["sheet-..-..-X-1.pdf"]


def test_page_of_a_faulty_record_says_what_to_mend(call: Call, tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text("format = 1")
    answer = call("page", "bad.toml")
    assert (answer.code, answer.out) == (1, "")
    assert "bad.toml: claim" in answer.err
    assert not (tmp_path / "reports").exists()


def test_page_wants_one_record(call: Call) -> None:
    answer = call("page", ROOT / "data/demo/returns/larkhill-and-pellworth.jsonl")
    assert answer.code == 2
    assert "stripdown batch" in answer.err


def test_an_output_folder_that_is_a_file_is_a_wrong_call(call: Call, record: Callable[[str], Path]) -> None:
    record("A")
    answer = call("page", "A.toml", "--out", "A.toml")
    assert (answer.code, answer.err.count("\n")) == (2, 1)


@pytest.mark.slow
def test_page_for_the_site_has_no_proposal_on_liability(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    record("A")
    shown = {}
    for purpose in ("warranty", "site"):
        answer = call("page", "A.toml", "--for", purpose, "--out", purpose)
        assert (answer.code, answer.out.strip()) == (0, f"{purpose}/A/page.html")
        assert {f.name for f in (tmp_path / purpose / "A").iterdir()} == PAGES
        shown[purpose] = (tmp_path / purpose / "A" / "page.html").read_text(encoding="utf-8")
    assert "Proposal on liability" in shown["warranty"]
    assert "Proposal on liability" not in shown["site"]


@pytest.mark.slow
def test_a_page_for_the_site_among_those_of_a_batch_is_told_and_resume_puts_it_right(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    record("A")
    assert call("batch", "A.toml").code == 0
    page = tmp_path / "reports/A/page.html"
    before = page.read_text(encoding="utf-8")
    answer = call("page", "A.toml", "--for", "site")
    assert answer.code == 0
    assert "batch --resume makes that again" in answer.err
    assert page.read_text(encoding="utf-8") != before
    assert call("batch", "A.toml", "--resume").out.startswith("1 done\n")
    assert page.read_text(encoding="utf-8") == before
    assert call("batch", "A.toml", "--resume").out.startswith("1 done before\n")


@pytest.mark.slow
def test_a_claim_that_names_a_device_has_a_folder_that_any_system_takes(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    """Windows keeps AUX for itself, also as aux.1, and drops a last dot; the index leads to each page."""
    for claim in ("AUX", "aux.1", "B."):
        record(claim)
    answer = call("batch", ".", "--out", "out", "--workers", "1")
    assert answer.code == 0
    folders = {"AUX+", "aux+.1", "B.+"}
    assert {p.parent.name for p in (tmp_path / "out").glob("*/page.html")} == folders
    index = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert all(f'href="{quote(name)}/page.html"' in index for name in folders)
    assert call("batch", ".", "--out", "out", "--resume").code == 0


@pytest.mark.slow
def test_fleet_reads_records_and_result_lines_alike(call: Call, tmp_path: Path) -> None:
    records = ROOT / "data/demo/returns/larkhill-and-pellworth.jsonl"
    (tmp_path / "lines.jsonl").write_text(call("judge", "--json", records).out, encoding="utf-8")
    of_records = call("fleet", records, "--json")
    of_lines = call("fleet", "lines.jsonl", "--json", "--out", "again")
    assert of_records.code == of_lines.code == 0
    assert json.loads(of_lines.out) == json.loads(of_records.out)
    written = {f.name for f in (tmp_path / "reports/fleet").iterdir()}
    assert {"fleet.ipynb", "fleet.html", "fleet.pdf", "fleet.json", "first.csv", "returns.csv"} <= written
    assert (tmp_path / "reports/fleet/fleet.json").read_text(encoding="utf-8") == of_records.out


@pytest.mark.slow
def test_own_costs_reach_result_lines_or_it_is_said_that_they_do_not(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    """One return that can only be replaced, and one that could be rebuilt, whose line does not say enough."""
    record("A").write_text(
        small_record("A") + '[[observations]]\npart = "rotor"\ncondition = "rubbed"\nextent = "heavy"\n'
    )
    record("B")
    (tmp_path / "lines.jsonl").write_text(call("judge", "--json", "A.toml", "B.toml").out, encoding="utf-8")
    ours = SHIPPED.read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(ours.replace('currency = "EUR"', 'currency = "SEK"'), encoding="utf-8")
    answer = call("fleet", "lines.jsonl", "--costs", "own.toml", "--limits", ROOT / "data/demo/limits", "--json")
    assert answer.code == 0
    assert "lines.jsonl: holds result lines, which stay as they were judged: --limits is for records" in answer.err
    costs = json.loads(answer.out)["costs"]
    assert [(c["id"], c["returns"]) for c in costs["currencies"]] == [("EUR", 1), ("SEK", 1)]
    assert costs["kept"] == 1
    assert "1 of 2 returns keep the cost of the table that their line was judged with" in answer.err


@pytest.mark.slow
def test_until_leaves_out_what_failed_later(call: Call) -> None:
    returns, units = ROOT / "data/demo/returns", ROOT / "data/demo/units.csv"
    answer = call("fleet", returns, "--population", units, "--until", "2024-12-31", "--json")
    report = json.loads(answer.out)
    assert report["until"] == "2024-12-31"
    assert report["period"][1] <= "2024-12-31"


@pytest.mark.parametrize("option", ["--until", "--change"])
@pytest.mark.parametrize(
    ("day", "says"), [("1800-01-01", "the first did on 2021-05-01"), ("2400-01-01", "2400-01-01 is still ahead")]
)
def test_a_day_on_which_nothing_is_known_is_a_wrong_call(
    call: Call, record: Callable[[str], Path], tmp_path: Path, option: str, day: str, says: str
) -> None:
    for claim, failed in (("A", "2021-05-01"), ("B", "2022-05-01")):
        record(claim).write_text(small_record(claim) + f"[history]\nfailed = {failed}\n")
    answer = call("fleet", "A.toml", "B.toml", option, day)
    assert (answer.code, answer.err.count("\n")) == (2, 1)
    assert says in answer.err
    assert option in answer.err
    assert not (tmp_path / "reports").exists()


def test_a_broken_population_is_told_before_anything_is_run(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    record("A")
    (tmp_path / "units.csv").write_text("a,b\n1,2\n")
    answer = call("fleet", "A.toml", "--population", "units.csv")
    assert answer.code == 2
    assert "units.csv" in answer.err
    assert not (tmp_path / "reports").exists()


@pytest.mark.slow
def test_the_demo_does_the_whole_job_from_any_folder(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "stripdown.cli", "demo"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    out = tmp_path / "reports"
    for said in ("index.html", "TW-2025-016/page.html", "fleet/fleet.html"):
        assert said in done.stdout
        assert (out / said).is_file()
    states = [json.loads(line)["state"] for line in (out / "ledger.jsonl").read_text(encoding="utf-8").splitlines()]
    assert states.count("rejected") == 1
    assert states.count("done") == len(states) - 1 >= 23
    assert json.loads((out / "fleet/fleet.json").read_text(encoding="utf-8"))["returns"] == states.count("done")
    assert str(ROOT) not in (out / "TW-2025-016/result.json").read_text(encoding="utf-8")
