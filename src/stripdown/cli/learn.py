"""`stripdown learn`: link strengths and shares from records whose finding a person has confirmed."""

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain
from stripdown.cli.writing import write_whole

if TYPE_CHECKING:
    from stripdown.record import Fault

_EVERY = 5.0
"""Seconds between two lines where there is no terminal."""


@click.command(cls=Job, example="stripdown learn data/demo --out own-knowledge.toml")
@options.paths()
@click.option(
    "--out", required=True, type=click.Path(dir_okay=False, path_type=Path), metavar="FILE", help="Where to write it."
)
@click.option("--keep-shares", is_flag=True, help="Leave how often each mechanism is the first one as it is written.")
@options.shared(*options.TABLES)
def learn(paths: Sequence[str], out: Path, keep_shares: bool, **chosen: Any) -> int:
    """Learn link strengths, and how often each mechanism is the first one, from confirmed findings; say what moved.

    PATH is a record, a workbook, a folder, or - for records on standard input. FILE is then used with --knowledge;
    the shipped knowledge stays as it is.
    """
    from stripdown.batch.settings import Settings
    from stripdown.learn import own_file, report, study
    from stripdown.record import Rejected

    settings = Settings(**chosen)
    settings.check()
    passed_over: list[Fault] = []
    items = settings.read(paths, passed_over)
    for fault in (f for item in items if isinstance(item, Rejected) for f in item.faults):
        click.echo(f"fault: {plain(str(fault))}", err=True)
    learned = study(items, progress=_Progress(), keep_shares=keep_shares, **settings.tables())
    write_whole(out, own_file(learned, settings.knowledge).encode())
    for fault in (*passed_over, *learned.notices):
        click.echo(f"notice: {plain(str(fault))}", err=True)
    for line in report(learned):
        click.echo(plain(line))
    return 1 if learned.rejected else 0


class _Progress:
    """Where the learning is: on a terminal at once, elsewhere a plain line every few seconds."""

    def __init__(self) -> None:
        self._said = time.monotonic()

    def __call__(self, text: str) -> None:
        now = time.monotonic()
        if sys.stderr.isatty():
            click.echo(f"\r{text:<60}\r", nl=False, err=True)
        elif now - self._said >= _EVERY:
            self._said = now
            click.echo(text, err=True)
