"""Every command: help, wrong calls in one line, quiet ends, light imports."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from stripdown.cli import program, run
from stripdown.cli.program import Job, plain
from tests.cli.calling import ROOT, Call

COMMANDS = sorted(program.commands)
HEAVY = ("numpy", "pandas", "matplotlib", "scipy", "papermill", "typst", "openpyxl", "rich", "jupyter_client")


def stripdown(*arguments: object, **rest: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # type: ignore[call-overload,no-any-return]
        [sys.executable, "-m", "stripdown.cli", *map(str, arguments)], capture_output=True, text=True, **rest
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_help_says_what_the_command_does_and_shows_an_example(call: Call, name: str) -> None:
    answer = call(name, "--help")
    command = program.commands[name]
    assert isinstance(command, Job)
    assert answer.code == 0
    assert command.example in answer.out
    assert command.example.startswith(f"stripdown {name}")


ON_THEIR_OWN = {"demo", "open"}
"""Commands whose example is run by test_whole_job and test_open."""


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in ON_THEIR_OWN])
def test_the_example_runs(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On two returns of the demo, with its limits and its units."""
    command = program.commands[name]
    assert isinstance(command, Job)
    demo = tmp_path / "data/demo"
    (demo / "returns").mkdir(parents=True)
    for kept in ("limits", "units.csv", "returns/tw-2025-016.toml", "returns/tw-2023-014.toml"):
        (demo / kept).symlink_to(ROOT / "data/demo" / kept)
    monkeypatch.chdir(tmp_path)
    allowed = {"batch": {0}, "page": {0}}.get(name, {0, 1})
    assert run(shlex.split(command.example)[1:]) in allowed


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "type: stripdown --help"),
        (("jugde",), "judge"),
        (("judge",), "for example: stripdown judge"),
        (("judge", "nowhere.toml"), "nowhere.toml"),
        (("judge", "--jsno", "."), "--json"),
        (("judge", "--costs", "nowhere.toml", "."), "nowhere.toml"),
        (("page", ".", "--for", "contractor"), "warranty"),
        (("page", ".", "--parts-kept", "0"), "parts-kept"),
        (("batch", ".", "--workers", "0"), "workers"),
        (("batch", ".", "--timeout", "soon"), "timeout"),
        (("batch", ".", "--timeout", "nan"), "timeout"),
        (("batch", ".", "--timeout", "inf"), "timeout"),
        (("fleet", ".", "--until", "31.1.2026"), "31.1.2026 is no date: write it as 2026-01-31"),
        (("fleet", ".", "--change", "2026-02-30"), "2026-02-30 is not in the calendar"),
        (("open", "explorer", "--until", "soon"), "soon is no date: write it as 2026-01-31"),
    ],
)
def test_a_wrong_call_is_told_in_one_line(call: Call, arguments: tuple[str, ...], says: str) -> None:
    answer = call(*arguments)
    assert answer.code == 2
    assert answer.out == ""
    assert answer.err.count("\n") == 1
    assert says in answer.err
    assert "; for example: stripdown" in answer.err or "; type: stripdown --help" in answer.err


def test_a_reader_that_leaves_early_is_no_fault() -> None:
    command = f"{shlex.quote(sys.executable)} -m stripdown.cli check {shlex.quote(str(ROOT / 'data/demo'))} | head -n 1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True)
    assert done.stderr == ""
    assert done.stdout.count("\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_a_full_disk_is_named_in_one_line() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "stripdown.cli", "check", str(ROOT / "data/demo")],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert done.returncode == 2
    assert "No space left" in done.stderr
    assert done.stderr.count("\n") == 1


def test_help_loads_nothing_heavy() -> None:
    assert _loaded("--help") == []


def test_check_and_judge_load_neither_notebooks_nor_drawing_nor_tables() -> None:
    for arguments in (("check", ROOT / "data/demo/returns"), ("judge", ROOT / "data/demo/returns/tw-2025-016.toml")):
        assert [name for name in _loaded(*arguments) if name != "numpy"] == []


def _loaded(*arguments: object) -> list[str]:
    code = (
        "import sys; from stripdown.cli import run; "
        f"code = run({[str(a) for a in arguments]!r}); "
        f"print(code, *[n for n in {HEAVY!r} if n in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    code_of_run, *loaded = done.stderr.splitlines()[-1].split()
    assert code_of_run in ("0", "1"), done.stderr
    return loaded


def test_no_colour_and_no_markup_off_a_terminal() -> None:
    done = stripdown("check", ROOT / "data/demo", env=os.environ | {"NO_COLOR": "1"})
    assert "\x1b" not in done.stdout + done.stderr


def test_text_of_a_file_cannot_act_on_a_terminal() -> None:
    assert plain("a\x1b[31mb\u202ec\nd") == "a\\x1b[31mb\\u202ec\\nd"
    assert plain("Kälte 25 °C · µm") == "Kälte 25 °C · µm"
