"""`stripdown judge`: the finding of each record, without notebook or page."""

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain

if TYPE_CHECKING:
    from stripdown.batch.settings import Settings
    from stripdown.record import Fault, Lot, Record, Rejected

    _Items = Sequence[Record | Rejected]

AT_ONCE = 96
"""Records that are judged together."""
MANY, MANY_IN_FULL = 2_000, 60
"""Records from which on the start of further processes pays, brief ones and in full."""
_Answer = tuple[bool, str]


@click.command(cls=Job, example="stripdown judge data/demo --brief")
@options.paths()
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line, one line a record, in input order.")
@click.option("--brief", is_flag=True, help="The finding alone, without explanation: many times faster.")
@options.shared(*options.TABLES)
def judge(paths: Sequence[str], as_json: bool, brief: bool, **chosen: Any) -> int:
    """Say what failed first and why, in a few lines or as JSON.

    PATH is a record, a workbook, a folder, or - for records on standard input.
    """
    from stripdown.batch.settings import Settings

    settings = Settings(**chosen)
    settings.check()
    passed_over: list[Fault] = []
    rejected = 0
    job = partial(_told, settings=settings, as_json=as_json, brief=brief)
    lots, many = _lots(paths, settings, passed_over, brief=brief)
    for lot in _answers(lots, job, many=many):
        for refused, text in lot:
            rejected += refused
            click.echo(text)
    for fault in passed_over:
        click.echo(plain(str(fault)), err=True)
    if rejected:
        click.echo(f"{rejected} rejected: stripdown check says what to mend", err=True)
    return 1 if rejected else 0


def _lots(
    paths: Sequence[str], settings: "Settings", passed_over: "list[Fault]", *, brief: bool
) -> "tuple[Iterable[_Items | Lot], bool]":
    """(the records in lots, brief ones together; whether they are many). A large file of JSON lines is never held as a
    whole."""
    from stripdown.record import Lots

    if brief and len(paths) == 1 and Lots.serve(paths[0]) and not (lots := Lots(paths[0], AT_ONCE)).empty:
        return lots, True
    items = settings.read(paths, passed_over)
    size, many = (AT_ONCE, MANY) if brief else (1, MANY_IN_FULL)
    return [items[start : start + size] for start in range(0, len(items), size)], len(items) >= many


def _answers(
    lots: "Iterable[_Items | Lot]", job: "Callable[[_Items | Lot], list[_Answer]]", *, many: bool
) -> Iterator[list[_Answer]]:
    """The answers in the order of the records, lot by lot; many by all processors."""
    processes = os.cpu_count() or 1
    if many and processes > 1:
        from stripdown.batch.abreast import in_order

        yield from in_order(job, lots, processes)
    else:
        yield from map(job, lots)


def _told(lot: "_Items | Lot", settings: "Settings", as_json: bool, brief: bool) -> list[_Answer]:
    """(whether it was rejected, what is printed) for each record."""
    from stripdown.batch.results import brief_results, json_line, result
    from stripdown.cli.finding import lines

    items = lot if isinstance(lot, Sequence) else lot.read()
    answers = brief_results(items, settings) if brief else [result(item, settings, brief=False) for item in items]
    own = settings.costs is not None
    told = (json_line(a) if as_json else "\n".join(map(plain, lines(a, own_costs=own))) for a in answers)
    return [(a["status"] == "rejected", text) for a, text in zip(answers, told, strict=True)]
