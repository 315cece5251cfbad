"""`stripdown page`: the teardown notebook and root-cause page of one record."""

from pathlib import Path
from typing import Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain

_IN_A_BATCH = (
    "it stands where the batch had its page for the warranty: batch --resume makes that again, another --out keeps both"
)


@click.command(cls=Job, example="stripdown page data/demo/returns/tw-2025-016.toml --for site")
@click.argument("record", metavar="RECORD", type=click.Path(exists=True, dir_okay=False, readable=False))
@click.option(
    "--for",
    "purpose",
    type=click.Choice(["warranty", "site"]),
    default="warranty",
    show_default=True,
    help="Whom the page is for: that for the site has no proposal on liability and no prices.",
)
@options.shared("out", *options.TABLES, "system", "paper", "parts_kept", "kernel")
def page(record: str, purpose: str, out: Path, **chosen: Any) -> int:
    """Write the root-cause page of one record.

    Runs the teardown notebook on it; below --out appear CLAIM/teardown.ipynb, page.html, page.pdf and result.json. The
    page for the site has the same names: give it an --out of its own to keep both.
    """
    from stripdown.batch.ledger import NAME
    from stripdown.batch.run import Batch, run_one
    from stripdown.batch.settings import Settings
    from stripdown.record import Fault, Record, RecordError, Rejected, folder_name

    settings = Settings(purpose=purpose, **chosen)
    settings.check()
    found = settings.read([record])
    faults = [f for item in found if isinstance(item, Rejected) for f in item.faults]
    if len(found) > 1:
        raise RecordError([Fault(record, "", f"holds {len(found)} records", f"type: stripdown batch {record}")])
    outcome = None
    for item in found:
        if isinstance(item, Record):
            outcome = run_one(item, Batch(out=out, settings=settings, workers=1))
            faults += outcome.faults
            if outcome.state == "done":
                click.echo(plain(str(out / folder_name(item.claim) / "page.html")))
                if purpose == "site" and (out / NAME).is_file():
                    click.echo(_IN_A_BATCH, err=True)
    for fault in faults:
        click.echo(plain(str(fault)), err=True)
    return 1 if faults else 0
