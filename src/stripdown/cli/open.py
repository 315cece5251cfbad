"""`stripdown open`: JupyterLab on one of the interactive workbooks."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain, plain_lines

_TAKES = {"intake": "record", "lesson": "record", "explorer": "results"}
"""Workbook → the parameter of its notebook that PATH is."""
_OF_ONE = {"claim": ("intake", "lesson"), "population": ("explorer",), "until": ("explorer",)}
"""Option → the workbooks that know it."""


@click.command("open", cls=Job, example="stripdown open intake returns/nb-0117.toml")
@click.argument("workbook", type=click.Choice(list(_TAKES)))
@click.argument("path", required=False, type=click.Path(path_type=Path))
@click.option("--claim", default="", metavar="CLAIM", help="Which record, where PATH holds several.")
@click.option("--population", type=options.FILE, metavar="FILE", help="Explorer: table of all units, returned or not.")
@click.option("--until", type=options.DAY, metavar="DATE", help="Explorer: last day observed.")
@options.shared("out", *options.TABLES, "system")
@click.option("--browser/--no-browser", default=True, show_default=True, help="Open the address in a browser.")
def open_(
    workbook: str,
    path: Path | None,
    claim: str,
    population: Path | None,
    until: date | None,
    out: Path,
    browser: bool,
    **chosen: Any,
) -> int:
    """Open a workbook in JupyterLab until ctrl-C.

    intake: PATH is a record, or a .toml file not there yet for a new one; without PATH a new one below --out. lesson: a
    record. explorer: records or result lines; the pages that batch wrote below --out are shown, figures and numbers are
    saved there. The notebook is a working copy below --out.
    """
    import signal
    import tempfile
    import webbrowser

    from stripdown.record import RecordError
    from stripdown.widgets import lab

    own: dict[str, Any] = {"claim": claim, "population": population, "until": until and until.isoformat()}
    if strange := [name for name, value in own.items() if value and workbook not in _OF_ONE[name]]:
        raise click.UsageError(f"--{strange[0]} is for {' and '.join(_OF_ONE[strange[0]])}, not for {workbook}")
    if workbook == "intake":
        path = path or _free(out / "records")
    if path is not None and not path.exists():
        _begins_a_record(workbook, path)
    _can_be_judged_with(population, chosen)
    try:
        _can_be_read(workbook, path, claim, chosen)
    except RecordError as faulty:
        click.echo(plain_lines(str(faulty)), err=True)
        return 1
    wanted = {_TAKES[workbook]: path, "out": out} | own | chosen
    for ending in ("SIGTERM", "SIGHUP"):  # a terminal that is closed ends the server too
        if hasattr(signal, ending):
            signal.signal(getattr(signal, ending), signal.default_int_handler)
    with tempfile.TemporaryDirectory(prefix="stripdown-") as runtime:
        try:
            notebook = lab.working_copy(workbook, out / "workbooks", lab.known(workbook, _texts(wanted)))
            with lab.running(notebook.parent, Path(runtime)) as server:
                address = server.open(notebook)
                click.echo(address)
                click.echo("ctrl-C ends it" + (f"; {_TAKES[workbook]}: {plain(str(path))}" if path else ""), err=True)
                if browser and not webbrowser.open(address):
                    click.echo("no browser was found here: open the address above in one", err=True)
                server.process.wait()
        except KeyboardInterrupt:
            click.echo("ended", err=True)
        except lab.LabError as failed:
            click.echo(plain_lines(str(failed)), err=True)
            return 1
    return 0


def _begins_a_record(workbook: str, path: Path) -> None:
    """A path that is not there can only be a new record of the intake, in a folder that is there or can be made."""
    from stripdown.record import folder_name

    if workbook != "intake":
        raise click.BadParameter(f"{path} is not there", param_hint="PATH")
    if path.suffix.casefold() != ".toml":
        what = f"{path} is not there; a new record is a file that ends in .toml"
        raise click.BadParameter(what, param_hint="PATH")
    if (other := folder_name(path.name)) != path.name:
        what = f"{path.name} is the name of a device on some systems; name the file {other}, its claim can be any"
        raise click.BadParameter(what, param_hint="PATH")
    nearest = next(p for p in path.absolute().parents if p.exists())
    if not nearest.is_dir():
        raise click.BadParameter(f"{nearest} is a file: no record can be begun below it", param_hint="PATH")


def _can_be_judged_with(population: Path | None, tables: Mapping[str, Any]) -> None:
    """Read every table once, so that a faulty one is told before anything starts."""
    from stripdown.batch.settings import Settings

    settings = Settings(**tables)
    settings.check()
    if population:
        from stripdown.fleet import read_population

        read_population(population, columns=settings.own_columns("units"))


def _can_be_read(workbook: str, path: Path | None, claim: str, tables: Mapping[str, Any]) -> None:
    """Read the one record that is meant; what a fleet is made of is read by the explorer alone. Raises RecordError."""
    from stripdown.batch.settings import Settings
    from stripdown.batch.workbook import one_record
    from stripdown.record import read_columns
    from stripdown.widgets.intake_file import take_up

    if workbook == "intake" and path is not None:
        take_up(path, claim, read_columns(tables["columns"]) if tables["columns"] else None)
    elif workbook == "lesson" and path is not None:
        one_record(str(path), Settings(**tables), claim=claim)


def _free(folder: Path) -> Path:
    number = 1
    while (path := folder / f"return-{number:03d}.toml").exists():
        number += 1
    return path


def _texts(values: Mapping[str, Any]) -> dict[str, str]:
    """Parameters of a notebook are text: absolute paths, '' for ours."""
    return {
        name: str(value.resolve()) if isinstance(value, Path) else str(value or "") for name, value in values.items()
    }
