"""`stripdown sheet`: a blank bench sheet to print."""

import re
from pathlib import Path
from typing import Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain


@click.command(cls=Job, example="stripdown sheet K4-150 --paper letter")
@click.argument("model", required=False)
@options.shared("out", "limits", "system", "paper")
def sheet(model: str | None, out: Path, limits: Path | None, **view: Any) -> int:
    """Print a blank bench sheet for a model, in teardown order.

    Each step with its caution first and the limits of that model; without MODEL those of the class.
    """
    from stripdown.knowledge import load
    from stripdown.limits import load_sheets
    from stripdown.pages.bench_sheet import sheet_pdf

    named = model or "any model"
    chosen = load_sheets(limits).for_model(named)
    if model and not chosen.known:
        click.echo(plain(f"{model}: no limit sheet, so the limits of the class stand on it"), err=True)
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"sheet-{re.sub(r'[^A-Za-z0-9.-]+', '-', named)}.pdf"
    path.write_bytes(sheet_pdf(chosen, load(), **view))
    click.echo(plain(str(path)))
    return 0
