"""The program run in this process."""

from collections.abc import Callable
from pathlib import Path

import pytest

from stripdown.cli import run
from tests.cli.calling import Answer, Call
from tests.small_record import small_record


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Call:
    """`call("judge", path)` in an empty folder."""
    monkeypatch.chdir(tmp_path)

    def called(*arguments: object) -> Answer:
        capsys.readouterr()
        code = run([str(a) for a in arguments])
        return Answer(code, *capsys.readouterr())

    return called


@pytest.fixture
def record(tmp_path: Path) -> Callable[[str], Path]:
    """Write a small record with this claim."""

    def written(claim: str) -> Path:
        path = tmp_path / f"{claim}.toml"
        path.write_text(small_record(claim))
        return path

    return written
