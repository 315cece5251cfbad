"""`stripdown check`: every fault and notice, nothing written."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain

if TYPE_CHECKING:
    from stripdown.record import Fault


@click.command(cls=Job, example="stripdown check data/demo")
@options.paths
@options.shared("columns")
def check(paths: Sequence[str], columns: Path | None) -> int:
    """Say what is wrong with records, and what would be right.

    Prints every fault and notice of every record with file and entry.
    PATH is a record, a workbook, a folder, or - for records on standard input. Nothing is written.
    """
    from stripdown.record import Fault, Rejected, read_all, read_columns

    good = rejected = notices = 0
    passed_over: list[Fault] = []
    for item in read_all(paths, columns=read_columns(columns) if columns else None, passed_over=passed_over):
        if isinstance(item, Rejected):
            rejected += 1
            _show("fault", item.faults)
        else:
            good += 1
            notices += len(item.notices)
            _show("notice", item.notices)
    _show("notice", passed_over)
    click.echo(f"{good} good, {rejected} rejected, {notices} notices")
    return 1 if rejected else 0


def _show(kind: str, faults: "Sequence[Fault]") -> None:
    for fault in faults:
        click.echo(f"{kind}: {plain(str(fault))}")
