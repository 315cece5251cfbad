"""`stripdown open`: on the loopback address, behind a token, on a working copy, and gone without a trace at ctrl-C."""

import os
import queue
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import psutil
import pytest

from stripdown.resources import demo, notebook
from stripdown.widgets import lab
from tests.cli.calling import Call

RETURNS = demo() / "returns"
WAIT = 120
"""Seconds until a server that does not come is given up."""


@pytest.mark.slow
@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGHUP], ids=lambda s: s.name)
def test_serves_a_working_copy_until_it_is_ended(tmp_path: Path, ending: signal.Signals) -> None:
    before = notebook("intake").read_bytes()
    process = opening(tmp_path)
    try:
        address = urlsplit(first_line(process))
        (token,) = parse_qs(address.query)["token"]
        children = psutil.Process(process.pid).children(recursive=True)
        assert (address.scheme, address.hostname, len(token)) == ("http", "127.0.0.1", 48)
        contents = f"http://{address.netloc}/api/contents"
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(contents)
        with urllib.request.urlopen(f"{contents}?token={token}") as answer:
            assert answer.status == 200
        listening = {c.laddr.ip for p in children for c in p.net_connections("tcp") if c.status == psutil.CONN_LISTEN}
        assert listening == {"127.0.0.1"}
        assert f'record = "{tmp_path / "NB-1.toml"}"' in copied(tmp_path)
        process.send_signal(ending)
        _, said = process.communicate(timeout=WAIT)
    finally:
        process.kill()
    assert (process.returncode, said.splitlines()[-1]) == (0, "ended")
    assert [p for p in children if p.is_running() and p.status() != psutil.STATUS_ZOMBIE] == []
    assert sorted(f.name for f in tmp_path.iterdir()) == ["out"]  # no record was begun, nothing is left of the server
    assert notebook("intake").read_bytes() == before


@pytest.mark.slow
def test_a_program_that_is_killed_leaves_no_server_behind(tmp_path: Path) -> None:
    process = opening(tmp_path)
    try:
        first_line(process)
        children = psutil.Process(process.pid).children(recursive=True)
        assert len(children) >= 2  # the server and its kernel
    finally:
        process.kill()
        process.communicate(timeout=WAIT)
    _, alive = psutil.wait_procs(children, timeout=60)
    assert alive == []
    assert sorted(f.name for f in tmp_path.iterdir()) == ["out"]


def opening(folder: Path) -> "subprocess.Popen[str]":
    """`open intake` of a new record, with `folder` for all it writes and all it forgets."""
    return subprocess.Popen(
        [sys.executable, "-m", "stripdown.cli", "open", "intake", "NB-1.toml", "--out", "out", "--no-browser"],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"TMPDIR": str(folder)},
    )


def first_line(process: "subprocess.Popen[str]") -> str:
    """What is printed first; fails where nothing is."""
    lines: queue.Queue[str] = queue.Queue()
    assert process.stdout
    threading.Thread(target=lambda out=process.stdout: lines.put(out.readline()), daemon=True).start()
    return lines.get(timeout=WAIT)


def copied(folder: Path) -> str:
    """The working copy, its quotes as they are typed."""
    return (folder / "out" / "workbooks" / "intake.ipynb").read_text(encoding="utf-8").replace('\\"', '"')


def test_wrong_calls(call: Call) -> None:
    for arguments in (["open"], ["open", "mending"], ["open", "lesson", "nowhere.toml"]):
        answer = call(*arguments)
        assert answer.code == 2, arguments
        assert answer.out == ""
        assert answer.err.count("\n") == 1


def test_a_path_that_no_record_can_be_begun_at_is_a_wrong_call(call: Call, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    for path, said in (
        ("no.xlsx", "a new record is a file that ends in .toml"),
        ("file/new.toml", "is a file"),
        ("Nul.2.toml", "name the file Nul+.2.toml"),
    ):
        answer = call("open", "intake", path)
        assert (answer.code, answer.out) == (2, "")
        assert said in answer.err
        assert answer.err.count("\n") == 1
    assert sorted(f.name for f in tmp_path.iterdir()) == ["file"]


def test_an_option_of_another_workbook_and_a_faulty_table_are_wrong_calls(call: Call, tmp_path: Path) -> None:
    (tmp_path / "columns.toml").write_text("returns.nonsense = 'S/N'", encoding="utf-8")
    for arguments, said in (
        (["explorer", "--claim", "A"], "--claim is for intake and lesson"),
        (["lesson", "--until", "2026-01-31"], "--until is for explorer"),
        (["intake", "--columns", "columns.toml"], "nonsense"),
    ):
        answer = call("open", *arguments)
        assert (answer.code, answer.out) == (2, "")
        assert said in answer.err


def test_own_column_names_reach_every_workbook() -> None:
    for name in ("intake", "lesson", "explorer"):
        assert lab.known(name, {"columns": "ours.toml"}) == {"columns": "ours.toml"}


def test_a_file_that_cannot_be_taken_up_is_said_before_anything_starts(call: Call, tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("format = 1\nclaim = [", encoding="utf-8")
    answer = call("open", "intake", tmp_path / "a.toml")
    assert (answer.code, answer.out) == (1, "")
    assert "a.toml" in answer.err
    several = call("open", "intake", RETURNS / "returns.xlsx")
    assert several.code == 1
    assert "holds 5 records; say which claim is meant" in several.err
    other = call("open", "intake", RETURNS / "returns.xlsx", "--claim", "XX-1")
    assert other.code == 1
    assert "holds 0 records with the claim XX-1" in other.err
    told = call("open", "lesson", RETURNS / "tw-2025-018.toml")
    assert (told.code, told.out) == (1, "")
    assert "is before history.installed" in told.err


@pytest.mark.slow
def test_an_explorer_of_nothing_is_not_opened(call: Call, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("to do", encoding="utf-8")
    answer = call("open", "explorer", "notes.txt", "--no-browser")
    assert (answer.code, answer.out) == (1, "")
    assert "notes.txt: is no kind of file that is read here" in answer.err
