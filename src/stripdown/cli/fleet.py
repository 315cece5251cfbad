"""`stripdown fleet`: tallies and life over many records."""

from collections.abc import Collection, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click

from stripdown.cli import options
from stripdown.cli.batch import tell
from stripdown.cli.program import Job, plain

_CHOICES = {
    "--model": "model",
    "--site": "site",
    "--contractor": "contractor",
    "--changed-site": "changed_sites",
}
"""Option → what the report calls the names that it takes."""
_NEAREST = 5


@click.command(cls=Job, example="stripdown fleet data/demo/returns --population data/demo/units.csv")
@options.paths()
@click.option("--population", type=options.FILE, metavar="FILE", help="Table of all units, returned or not.")
@click.option("--until", type=options.DAY, metavar="DATE", help="Last day observed, as 2026-01-31.")
@click.option("--model", multiple=True, metavar="NAME", help="Only this model; may be given several times.")
@click.option("--site", multiple=True, metavar="NAME", help="Only this site; may be given several times.")
@click.option("--contractor", multiple=True, metavar="NAME", help="Only this contractor; may be given several times.")
@click.option("--change", type=options.DAY, metavar="DATE", help="Compare failures before and after.")
@click.option("--changed-site", multiple=True, metavar="NAME", help="Where that change was made; else everywhere.")
@click.option("--json", "as_json", is_flag=True, help="Print the whole report as one JSON object too.")
@options.shared("out", *options.TABLES, "system", "paper", "kernel")
def fleet(
    paths: Sequence[str],
    population: Path | None,
    until: date | None,
    change: date | None,
    as_json: bool,
    out: Path,
    **chosen: Any,
) -> int:
    """Tally many records, fit the life of each model, write the fleet page.

    PATH is a record, a workbook, a folder, - for standard input, or a file of lines that judge --json wrote.
    """
    from stripdown.batch.fleet import run
    from stripdown.batch.results import gather, json_line
    from stripdown.batch.settings import Settings
    from stripdown.fleet import first_day, named, read_population
    from stripdown.record import Fault

    meant = {of: chosen.pop(option[2:].replace("-", "_")) for option, of in _CHOICES.items()}
    settings = Settings(**chosen)
    settings.check()
    own = settings.own_columns("units")
    units = read_population(population, columns=own) if population else None  # faults are told before anything is run
    passed_over: list[Fault] = []
    lines = list(gather(paths, settings, passed_over))
    tell(passed_over)
    _say_what_stays(paths, [f"--{name}" for name in ("limits", "knowledge", "columns") if chosen[name]])
    for option, of in _CHOICES.items():
        _is_there(option, meant[of], named("site" if of == "changed_sites" else of, lines, units))
    for option, day in (("--until", until), ("--change", change)):
        _in_time(option, day, first_day(lines))
    answer = run(
        lines,
        out,
        settings,
        population=population,
        named=str(population or ""),
        until=until,
        change=change,
        groups=meant,
    )
    if as_json:
        click.echo(json_line(answer))
    kept = answer["costs"]["kept"]
    if kept:
        what = f"{kept} of {answer['returns']} returns keep the cost of the table that their line was judged with"
        click.echo(f"{what}: a line tells too little for --costs; give their records instead", err=True)
    told = f"{answer['returns']} returns, {answer['rejected']} rejected: {out / 'fleet' / 'fleet.html'}"
    click.echo(plain(told), err=as_json)
    return 1 if answer["rejected"] else 0


def _say_what_stays(paths: Sequence[str], options_given: list[str]) -> None:
    """Result lines were judged before: what records are read and judged with changes nothing of them."""
    from stripdown.record import holds_results

    if options_given and (held := [p for p in paths if p != "-" and holds_results(p)]):
        what = f"holds result lines, which stay as they were judged: {', '.join(options_given)} is for records"
        click.echo(plain(f"{', '.join(held)}: {what}"), err=True)


def _is_there(option: str, wanted: Sequence[str], known: Collection[str]) -> None:
    """Raise BadParameter where a name stands in no return and no unit row, with the nearest that do."""
    from stripdown.record.text import closest, either

    strange = [w for w in wanted if w not in known]
    if not strange:
        return
    among = f"the nearest of {len(known)} are" if len(known) > _NEAREST else "there is"
    near = closest(strange[0], known, _NEAREST)
    what = f"no return and no unit row has {either(strange)}; " + (
        f"{among} {either(near)}" if near else "none is named"
    )
    raise click.BadParameter(what, ctx=click.get_current_context(), param_hint=option)


def _in_time(option: str, day: date | None, first: str | None) -> None:
    """Raise BadParameter where the day lies before all that the files tell, or still ahead."""
    if day is None:
        return
    told, today = day.isoformat(), datetime.now(UTC).astimezone().date().isoformat()
    what = ""
    if first is not None and told < first:
        what = f"no unit failed or came back by {told}, the first did on {first}: give a day from then on"
    elif told > today:
        what = f"{told} is still ahead: give a day up to {today}"
    if what:
        raise click.BadParameter(what, ctx=click.get_current_context(), param_hint=option)
