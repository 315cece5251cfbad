"""`stripdown demo`: the whole job on the demo scenario."""

from pathlib import Path
from typing import Any

import click

from stripdown.cli import options
from stripdown.cli.batch import nursery_of, reach, summary
from stripdown.cli.batch import run as run_batch
from stripdown.cli.program import Job, plain

_LOOK = {"all returns": "index.html", "one of them": "TW-2025-016/page.html", "the fleet": "fleet/fleet.html"}


@click.command(cls=Job, example="stripdown demo")
@options.workers
@options.shared("resume", "out", "system", "paper", "kernel", "scheduler")
def demo(workers: int, resume: bool, out: Path, scheduler: str, **chosen: Any) -> int:
    """Do the whole job on the demo, then say where to look."""
    from stripdown import resources
    from stripdown.batch.fleet import run as run_fleet
    from stripdown.batch.results import renamed, written
    from stripdown.batch.settings import Settings

    reach(scheduler)
    scenario = resources.demo()
    settings = Settings(limits=scenario / "limits", **chosen)
    with nursery_of(settings, scheduler, many=True) as nursery:
        from stripdown.batch.run import Batch

        records = [renamed(r, f"{scenario}/", "") for r in settings.read([str(scenario / "returns")])]
        how: dict[str, Any] = {"workers": workers, "resume": resume, "scheduler": scheduler, "nursery": nursery}
        tally = run_batch(records, Batch(out=out, settings=settings, base=scenario, **how))
    click.echo("now the fleet", err=True)
    run_fleet(written(records, out), out, settings, population=scenario / "units.csv", named="units.csv")
    click.echo(plain(f"{summary(tally)} (the one rejected is meant to be, to show what a faulty record is told)"))
    for what, place in _LOOK.items():
        click.echo(plain(f"{what}: open {out / place}"))
    return 0 if tally.states["done"] + tally.states["rejected"] + tally.skipped == len(records) else 1
