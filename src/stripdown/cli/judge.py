"""`stripdown judge`: the finding of each record, without notebook or page."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from stripdown import vocabulary
from stripdown.cli import options
from stripdown.cli.program import Job, plain
from stripdown.figures.words import percent

if TYPE_CHECKING:
    from stripdown.record import Fault

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
    from stripdown.batch.results import json_line, result
    from stripdown.batch.settings import Settings

    settings = Settings(**chosen)
    passed_over: list[Fault] = []
    rejected = 0
    for item in settings.read(paths, passed_over):
        answer = result(item, settings, brief=brief)
        rejected += answer["status"] == "rejected"
        for line in [json_line(answer)] if as_json else map(plain, lines(answer)):
            click.echo(line)
    for fault in passed_over:
        click.echo(plain(str(fault)), err=True)
    if rejected:
        click.echo(f"{rejected} rejected: stripdown check says what to mend", err=True)
    return 1 if rejected else 0


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
