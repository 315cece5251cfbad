"""How far a batch is: a bar on a terminal, a plain line every few seconds elsewhere, always on standard error."""

import sys
import time
from collections import deque
from types import TracebackType
from typing import Any, Self

_EVERY = 5.0
_FEW, _LOOKED_BACK = 6, 30
"""The rate is that of the last so many records, as the first ones wait for the workers to start; of fewer than the
first number nothing is said."""


class Progress:
    """Counts the records that are over with, out of `total`."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._over = 0
        self._said = time.monotonic()
        self._last: deque[float] = deque(maxlen=_LOOKED_BACK)
        self._bar: Any = _bar() if total and sys.stderr.isatty() else None

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
            self._task = self._bar.add_task("", total=self._total, told=line(0, self._total, 0.0))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, raised: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    def step(self, *, run: bool = True) -> None:
        """One more is over with; one that was not `run`, as its record was rejected, tells nothing of the rate."""
        self._over += 1
        now = time.monotonic()
        if run:
            self._last.append(now)
        spent = now - self._last[0] if len(self._last) >= _FEW else 0.0
        rate = (len(self._last) - 1) / spent if spent else 0.0
        if self._bar is not None:
            self._bar.update(self._task, advance=1, told=line(self._over, self._total, rate))
        elif now - self._said >= _EVERY:
            self._said = now
            print(line(self._over, self._total, rate), file=sys.stderr, flush=True)


def line(over: int, total: int, rate: float) -> str:
    """How many, how fast, how long still; `rate` [1/s], 0 = not known yet."""
    told = f"{over} of {total} records"
    return f"{told}, {60 * rate:.0f} a minute, about {_span((total - over) / rate)} left" if rate else told


def _span(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def _bar() -> Any:
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    told = TextColumn("{task.fields[told]}", markup=False)
    return Bar(BarColumn(), TimeElapsedColumn(), told, console=Console(stderr=True))
