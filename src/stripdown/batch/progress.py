"""How far a batch is: a bar on a terminal, a plain line every few seconds elsewhere, always on standard error."""

import sys
import time
from types import TracebackType
from typing import Any, Self

_EVERY = 5.0


class Progress:
    """Counts the records that are over with, out of `total`."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._over = 0
        self._started = self._said = time.monotonic()
        self._bar: Any = _bar() if total and sys.stderr.isatty() else None

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
            self._task = self._bar.add_task("records", total=self._total)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, raised: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    def step(self) -> None:
        """One more is over with."""
        self._over += 1
        if self._bar is not None:
            self._bar.advance(self._task)
        elif time.monotonic() - self._said >= _EVERY:
            self._said = time.monotonic()
            print(line(self._over, self._total, self._said - self._started), file=sys.stderr, flush=True)


def line(over: int, total: int, seconds: float) -> str:
    """How many, how fast, how long still; `seconds` since the start."""
    left = seconds / over * (total - over)
    return f"{over} of {total} records, {60 * over / seconds:.0f} a minute, about {left:.0f} s left"


def _bar() -> Any:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    return Bar(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
    )
