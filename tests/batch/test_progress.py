"""Progress off a terminal: a plain line every few seconds, with the rate of late and the time left."""

import sys

import pytest

from stripdown.batch import progress
from stripdown.batch.progress import Progress, line


@pytest.mark.parametrize(
    ("over", "total", "rate", "said"),
    [
        (1, 200, 0.0, "1 of 200 records"),
        (60, 100, 0.5, "60 of 100 records, 30 a minute, about 80 s left"),  # 40 left at one in 2 s
        (60, 660, 0.5, "60 of 660 records, 30 a minute, about 20 min left"),
        (1, 3601, 0.5, "1 of 3601 records, 30 a minute, about 2.0 h left"),
        (5, 5, 2.0, "5 of 5 records, 120 a minute, about 0 s left"),
    ],
)
def test_the_line(over: int, total: int, rate: float, said: str) -> None:
    assert line(over, total, rate) == said


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The clock, to be set; in seconds."""
    time = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: time[0])
    return time


def test_a_slow_start_does_not_spoil_the_time_left(now: list[float], capsys: pytest.CaptureFixture[str]) -> None:
    with Progress(100) as shown:
        now[0] = 100.0  # the workers start
        for _ in range(41):
            shown.step()
            now[0] += 1.0
    said = capsys.readouterr().err.splitlines()
    assert said[0] == "1 of 100 records"
    assert said[-1] == "41 of 100 records, 60 a minute, about 59 s left"
    assert len(said) == 9  # the first, then every five seconds


def test_nothing_is_said_of_the_time_left_before_a_few_are_done(
    now: list[float], capsys: pytest.CaptureFixture[str]
) -> None:
    """Two workers end their first records together, which looks like any rate; rejected records cost no time."""
    with Progress(100) as shown:
        for _ in range(20):
            shown.step(run=False)
        for seconds in (10, 0.01, 6, 0.01, 6, 6):
            now[0] += seconds
            shown.step()
    said = capsys.readouterr().err.splitlines()
    assert said == [
        "21 of 100 records",
        "23 of 100 records",
        "25 of 100 records",
        "26 of 100 records, 17 a minute, about 4 min left",  # five in 18.02 s, 74 still to do: 267 s
    ]


def test_nothing_is_said_of_a_quick_run(capsys: pytest.CaptureFixture[str]) -> None:
    with Progress(3) as shown:
        for _ in range(3):
            shown.step()
    assert capsys.readouterr().err == ""
    assert not sys.stderr.isatty()
