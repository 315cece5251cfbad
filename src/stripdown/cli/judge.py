"""`stripdown judge`: the finding of each record, without notebook or page."""

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from stripdown import vocabulary
from stripdown.cli import options
from stripdown.cli.program import Job, plain
from stripdown.figures.words import percent

if TYPE_CHECKING:
    from stripdown.batch.settings import Settings
    from stripdown.record import Fault, Record, Rejected

AT_ONCE = 96
"""Records that are judged together."""
MANY = 2_000
"""Records from which on the start of further processes pays."""
_Answer = tuple[bool, str]
_SHOWN = 3
_WORTH_NAMING = 0.05


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
    passed_over: list[Fault] = []
    rejected = 0
    items = settings.read(paths, passed_over)
    for lot in _answers(items, partial(_told, settings=settings, as_json=as_json, brief=brief), brief=brief):
        for refused, text in lot:
            rejected += refused
            click.echo(text)
    for fault in passed_over:
        click.echo(plain(str(fault)), err=True)
    if rejected:
        click.echo(f"{rejected} rejected: stripdown check says what to mend", err=True)
    return 1 if rejected else 0


def _answers(
    items: Sequence["Record | Rejected"], job: Callable[[Sequence["Record | Rejected"]], list[_Answer]], *, brief: bool
) -> Iterator[list[_Answer]]:
    """The answers in the order of the records, lot by lot: brief ones together, and many by all processors."""
    size = AT_ONCE if brief else 1
    lots = (items[start : start + size] for start in range(0, len(items), size))
    processes = os.cpu_count() or 1
    if not brief or len(items) < MANY or processes == 1:
        yield from map(job, lots)
    else:
        from stripdown.batch.abreast import in_order

        yield from in_order(job, lots, processes)


def _told(items: Sequence["Record | Rejected"], settings: "Settings", as_json: bool, brief: bool) -> list[_Answer]:
    """(whether it was rejected, what is printed) for each record."""
    from stripdown.batch.results import brief_results, json_line, result

    answers = brief_results(items, settings) if brief else [result(item, settings, brief=False) for item in items]
    return [(a["status"] == "rejected", json_line(a) if as_json else "\n".join(map(plain, lines(a)))) for a in answers]


def lines(result: Mapping[str, Any]) -> Iterator[str]:
    """The finding of one record in a few plain lines."""
    claim = result["claim"] or "no claim"
    yield f"{claim}  {result['status']}  {result['file']}"
    if result["status"] == "rejected":
        for fault in result["faults"]:
            yield f"  fault    {fault['entry'] or 'file'}: {fault['what']}; {fault['fix']}"
        return
    first = result["first"][0]
    yield f"  first    {first['id']} {percent(first['probability'])}: {vocabulary.words(first['id'])}"
    yield f"  causes   {_listed(result['causes']) or 'none to name'}"
    outcome = result["outcome"]
    yield (
        f"  outcome  {outcome['id']}: {vocabulary.words(outcome['id'])}, "
        f"expected cost {outcome['expected_cost']:.0f} {outcome['currency']}"
    )
    return_, failure = (percent(result["avoidable"][which]) for which in ("return", "failure"))
    yield f"  avoidable return {return_}, failure {failure}; liability {result['liability'][0]['id']}"
    if result["conflict"]:
        yield f"  conflict {', '.join(result['conflict']['findings'])} do not go together"
    for check in result.get("next_checks", ())[:1]:
        yield f"  next     caution: {check['caution']}" if check["caution"] else "  next     no special caution"
        yield f"           then look at {vocabulary.label(check['id'])}, {check['minutes']:.0f} min"


def _listed(shares: Sequence[Mapping[str, Any]]) -> str:
    named = [s for s in shares if s["probability"] >= _WORTH_NAMING][:_SHOWN]
    return ", ".join(f"{s['id']} {percent(s['probability'])}" for s in named)
