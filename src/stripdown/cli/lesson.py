"""`stripdown lesson`: a case for the class room."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain

if TYPE_CHECKING:
    from stripdown.batch.settings import Settings


@click.command(cls=Job, example="stripdown lesson data/demo/returns/tw-2025-016.toml")
@click.argument(
    "record", required=False, metavar="RECORD", type=click.Path(exists=True, dir_okay=False, readable=False)
)
@click.option("--deck", is_flag=True, help="Instead of RECORD: the best cases of the demo, from easy to hard.")
@options.shared("out", *options.TABLES, "system", "paper")
def lesson(record: str | None, deck: bool, out: Path, **chosen: Any) -> int:
    """Write a case for the class room, and a hand-out.

    The case opens step by step: what was found, room for a guess, how the odds moved and why. Below --out appear
    CLAIM/lesson.html, lesson.pdf, handout.html, handout.pdf and lesson.ipynb; the hand-out tells no answer.
    """
    from stripdown.batch.settings import Settings

    if deck == bool(record):
        raise click.UsageError("give either a RECORD or --deck")
    settings = Settings(**chosen)
    settings.check()
    if record:
        return _one(record, out, settings)
    from stripdown import resources

    return _deck(out, replace(settings, limits=settings.limits or resources.demo() / "limits"))


def _one(path: str, out: Path, settings: "Settings") -> int:
    from stripdown.batch import lessons
    from stripdown.record import Fault, Record, RecordError, Rejected, folder_name

    found = settings.read([path])
    faults = [f for item in found if isinstance(item, Rejected) for f in item.faults]
    for fault in faults:
        click.echo(plain(str(fault)), err=True)
    records = [item for item in found if isinstance(item, Record)]
    if len(found) > 1:
        raise RecordError([Fault(path, "", f"holds {len(found)} records", "give a file that holds one")])
    for item in records:
        lessons.write(item, path, out, settings)
        click.echo(plain(str(out / folder_name(item.claim) / "lesson.html")))
    return 1 if faults else 0


def _deck(out: Path, settings: "Settings") -> int:
    """Every lesson of the demo's deck, each with the line that says why it is in it."""
    from stripdown import resources
    from stripdown.batch import lessons
    from stripdown.batch.results import renamed
    from stripdown.record import Record, folder_name

    scenario = resources.demo()
    records = {r.claim: r for r in settings.read([str(scenario / "returns")]) if isinstance(r, Record)}
    for number, card in enumerate(lessons.deck(), 1):
        record = records[card.claim]
        named = renamed(record, f"{scenario}/", "")
        assert isinstance(named, Record)
        lessons.write(named, record.file, out, settings)
        click.echo(plain(f"{number}  {out / folder_name(card.claim) / 'lesson.html'}: {card.why}"))
    return 0
