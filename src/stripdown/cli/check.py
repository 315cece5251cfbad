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
@options.paths(required=False)
@click.option(
    "--knowledge",
    is_flag=False,
    flag_value="",
    metavar="[FILE]",
    callback=lambda ctx, param, value: options.FILE.convert(value, param, ctx) if value else value,
    help="Check the knowledge instead of records: ours, or with FILE laid over it.",
)
@click.option("--costs-table", is_flag=True, help="Print the cost table instead, as a file to start your own from.")
@options.shared("costs", "limits", "columns")
def check(paths: Sequence[str], knowledge: Path | str | None, costs_table: bool, **chosen: Path | None) -> int:
    """Say what is wrong with records, and what would be right.

    Prints every fault and notice of every record with file and entry, those of its readings against the limit sheets
    too; for tables with names not known here, a columns file to save. Own tables are checked as well.
    PATH is a record, a workbook, a folder, or - for records on standard input. Nothing is written.
    """
    if costs_table:
        from stripdown.reasoning.costs import SHIPPED

        click.echo(SHIPPED.read_text(encoding="utf-8"), nl=False)
        return 0
    if knowledge is not None:
        return _knowledge(Path(knowledge) if knowledge else None)
    if not paths:
        raise click.UsageError("Missing argument 'PATH...'.")
    return _records(paths, **chosen)


def _knowledge(own: Path | None) -> int:
    from stripdown.cli.knowledge import report
    from stripdown.knowledge import KnowledgeError

    try:
        for line in report(own):
            click.echo(plain(line))
    except KnowledgeError as wrong:
        for problem in wrong.problems:
            click.echo(f"fault: {plain(str(problem))}")
        return 1
    return 0


def _records(paths: Sequence[str], costs: Path | None, limits: Path | None, columns: Path | None) -> int:
    from stripdown.batch.settings import Settings
    from stripdown.case import gather
    from stripdown.limits import load_sheets
    from stripdown.record import Columns, Fault, Rejected, read_all, read_columns
    from stripdown.record.propose import propose

    good = rejected = 0
    told: set[Fault] = set()
    passed_over: list[Fault] = []
    Settings(costs=costs, limits=limits, columns=columns).check()
    known = read_columns(columns) if columns else Columns()
    sheets = load_sheets(limits)
    for item in read_all(paths, columns=known, passed_over=passed_over):
        if isinstance(item, Rejected):
            rejected += 1
            _show("fault", item.faults)
        else:
            good += 1
            noticed = dict.fromkeys((*item.notices, *gather(item, sheets=sheets).notices))
            news = [n for n in noticed if n not in told]  # a column not known stands in every record of its table
            told.update(news)
            _show("notice", news)
    _show("notice", passed_over)
    more = f", {len(passed_over)} passed over" if passed_over else ""
    click.echo(f"{good} good, {rejected} rejected, {len(told)} notices{more}")
    if (proposal := propose(paths, known)).news:
        click.echo("\nfor names not known here, save this as columns.toml and add --columns columns.toml:\n")
        click.echo(proposal.toml(), nl=False)
    return 1 if rejected else 0


def _show(kind: str, faults: "Sequence[Fault]") -> None:
    for fault in faults:
        click.echo(f"{kind}: {plain(str(fault))}")
