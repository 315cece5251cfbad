"""`stripdown sheet`: a blank bench sheet to print, or a workbook to fill in."""

import re
from pathlib import Path
from typing import Any

import click

from stripdown.cli import options
from stripdown.cli.program import Job, plain
from stripdown.cli.writing import write_whole


@click.command(cls=Job, example="stripdown sheet K4-150 --paper letter")
@click.argument("model", required=False)
@click.option(
    "--form",
    type=click.Choice(["pdf", "workbook"]),
    default="pdf",
    show_default=True,
    help="A sheet to print, or a workbook to fill in that judge reads back.",
)
@options.shared("out", "limits", "system", "paper")
def sheet(model: str | None, form: str, out: Path, limits: Path | None, **view: Any) -> int:
    """Write a blank bench sheet for a model, in teardown order.

    Each step with its caution first and the limits of that model; without MODEL those of the class.
    """
    from stripdown.knowledge import load
    from stripdown.limits import load_sheets
    from stripdown.pages.bench_sheet import sheet_pdf
    from stripdown.pages.bench_workbook import sheet_workbook

    named = model or "any model"
    chosen = load_sheets(limits).for_model(named)
    if model and not chosen.known:
        click.echo(plain(f"{model}: no limit sheet, so the limits of the class stand on it"), err=True)
    out.mkdir(parents=True, exist_ok=True)
    make, ending = (sheet_pdf, "pdf") if form == "pdf" else (sheet_workbook, "xlsx")
    path = out / f"sheet-{re.sub(r'[^A-Za-z0-9.-]+', '-', named)}.{ending}"
    write_whole(path, make(chosen, load(), **view))
    click.echo(plain(str(path)))
    return 0
