"""`stripdown batch`: a page for every record."""

import math
import shlex
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stripdown.batch.error import BatchError
from stripdown.cli import options
from stripdown.cli.program import Job, plain

if TYPE_CHECKING:
    from stripdown.batch.run import Batch, Tally
    from stripdown.batch.settings import Settings
    from stripdown.record import Fault, Record, Rejected

_DAY = 86400


class Seconds(click.FloatRange):
    """A range that "nan" is not in, though it is neither above nor below it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Seconds as a number."""
        seconds = super().convert(value, param, ctx)
        if math.isnan(seconds):
            self.fail(f"{value} is not in the range {self._describe_range()}.", param, ctx)
        return seconds


@click.command(cls=Job, example="stripdown batch data/demo/returns --limits data/demo/limits --workers 2")
@options.paths()
@options.workers
@options.shared("resume")
@click.option("--timeout", type=Seconds(1, _DAY), default=300, metavar="S", help="Seconds for one record; 300.")
@options.shared("out", *options.TABLES, "system", "paper", "parts_kept", "kernel", "scheduler")
def batch(
    paths: Sequence[str], workers: int, resume: bool, timeout: float, out: Path, scheduler: str, **chosen: Any
) -> int:
    """Write the pages of many records, and their index.

    Runs the teardown notebook on each; a ledger notes what is done.

    PATH is a record, a workbook, a folder, or - for records on standard input. One bad record never stops the rest.
    """
    from stripdown.batch.settings import Settings

    reach(scheduler)
    settings = Settings(**chosen)
    with nursery_of(settings, scheduler, many=len(paths) > 1 or Path(paths[0]).is_dir()) as nursery:
        from stripdown.batch.run import Batch
        from stripdown.batch.spool import spooled

        settings.check()
        passed_over: list[Fault] = []
        records = settings.read(spooled(paths, out), passed_over)
        tell(passed_over)
        how: dict[str, Any] = {"workers": workers, "timeout": timeout, "resume": resume, "scheduler": scheduler}
        tally = run(records, Batch(out=out, settings=settings, nursery=nursery, **how))
    click.echo(plain(summary(tally)))
    if tally.index is not None:
        click.echo(plain(f"index: {tally.index}"))
    return 1 if tally.faults else 0


@contextmanager
def nursery_of(settings: "Settings", scheduler: str, *, many: bool) -> Iterator[str]:
    """Where the nursery of a run over many records answers, getting ready while they are read; '' where the run is to
    start its own, if it needs one."""
    if scheduler or not many or settings.kernel_for(2) == "stock":
        yield ""
        return
    from stripdown.batch.keeper import Nursery

    with Nursery(settings.parameters()) as nursery:
        yield nursery.place


def reach(scheduler: str) -> None:
    """Before anything is read: a scheduler that cannot be used is a wrong call. None was named where it is ''."""
    if not scheduler:
        return
    from stripdown.batch.cluster import workers_of
    from stripdown.batch.error import SchedulerError

    try:
        with workers_of(scheduler):
            pass
    except SchedulerError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--scheduler") from None


def run(records: "Sequence[Record | Rejected]", todo: "Batch") -> "Tally":
    """Run a batch; stopped by ctrl-C, a full disk or the loss of all workers, say how far it came and how to go on."""
    from stripdown.batch.run import Tally, run

    tally = Tally()
    try:
        run(records, todo, tally)
    except (KeyboardInterrupt, OSError, BatchError):
        if not tally.states:
            raise
        tell(tally.faults)
        again = [*sys.argv[1:], *([] if "--resume" in sys.argv else ["--resume"])]
        click.echo(plain(f"stopped: {summary(tally)}"), err=True)
        click.echo(plain(f"to go on, type: {shlex.join(['stripdown', *again])}"), err=True)
        raise
    tell(tally.faults)
    return tally


def tell(faults: "Iterable[Fault]") -> None:
    """Each on a line of standard error."""
    for fault in faults:
        click.echo(plain(str(fault)), err=True)


def summary(tally: "Tally") -> str:
    """What became of the records, in one line."""
    counts = [f"{count} {state.replace('_', ' ')}" for state, count in sorted(tally.states.items())]
    if tally.skipped:
        counts.append(f"{tally.skipped} done before")
    return ", ".join(counts) or "nothing to do"
