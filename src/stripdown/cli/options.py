"""The options that several commands share."""

import os
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import click

_ISO = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


class _File(click.Path):
    """A file that is there and is read whole: no named pipe, which would wait for ever."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path."""
        from stripdown.record.load import no_file, ordinary

        path: Any = super().convert(value, param, ctx)
        if not ordinary(path):
            wrong = no_file()
            self.fail(f"{value} {wrong.what}; {wrong.fix}", param, ctx)
        return path


class _Day(click.DateTime):
    """A day of the calendar, as 2026-01-31, told of in words that anybody reads."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The day, a `date`."""
        if isinstance(value, date):
            return value
        try:
            if not _ISO.fullmatch(value.strip()):
                self.fail(f"{value} is no date: write it as 2026-01-31", param, ctx)
            return date.fromisoformat(value.strip())
        except ValueError:
            self.fail(f"{value} is not in the calendar: write a day as 2026-01-31", param, ctx)


DAY = _Day()
FILE = _File(exists=True, dir_okay=False, path_type=Path)
_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)

_SHARED: dict[str, Decorator] = {
    "out": click.option(
        "--out",
        type=click.Path(file_okay=False, path_type=Path),
        default=Path("reports"),
        show_default=True,
        metavar="DIR",
        help="Where the pages go.",
    ),
    "costs": click.option("--costs", type=FILE, metavar="FILE", help="Your own cost table instead of ours."),
    "limits": click.option("--limits", type=_FOLDER, metavar="DIR", help="Your own limit sheets, used before ours."),
    "knowledge": click.option("--knowledge", type=FILE, metavar="FILE", help="Knowledge to use instead of ours."),
    "columns": click.option(
        "--columns", type=FILE, metavar="FILE", help='Own names of sheets and columns, as: returns.serial = "S/N"'
    ),
    "system": click.option(
        "--system", type=click.Choice(["si", "us"]), default="si", show_default=True, help="Units on the pages."
    ),
    "paper": click.option(
        "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of the PDF."
    ),
    "parts_kept": click.option(
        "--parts-kept",
        type=click.IntRange(1, 3650),
        metavar="DAYS",
        help="Say on the page that parts are kept so many days from the examination; without it nothing is said.",
    ),
    "kernel": click.option(
        "--kernel",
        type=click.Choice(["fast", "stock"]),
        help="fast: forked (Linux); stock: started anew. Without it the quicker one.",
    ),
    "resume": click.option("--resume", is_flag=True, help="Leave out what is done and has not changed."),
    "scheduler": click.option(
        "--scheduler", default="", metavar="ADDRESS", help="Dask scheduler whose workers are to do it (extra cluster)."
    ),
}


TABLES = ("costs", "limits", "knowledge", "columns")
"""What a record is read and judged with."""


def paths(*, required: bool = True) -> Decorator:
    """The argument PATH…: records, workbooks, folders, or `-`."""
    kind = click.Path(exists=True, readable=False, allow_dash=True)
    return click.argument("paths", nargs=-1, required=required, metavar="PATH...", type=kind)


def workers(run: Callable[..., Any]) -> Callable[..., Any]:
    """The option --workers."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return click.option(
        "--workers",
        type=click.IntRange(min=1),
        default=cores,
        show_default="cores of this machine",
        metavar="N",
        help="Records done side by side.",
    )(run)


def shared(*names: str) -> Decorator:
    """The options of these names, in this order."""

    def decorate(run: Callable[..., Any]) -> Callable[..., Any]:
        for name in reversed(names):
            run = _SHARED[name](run)
        return run

    return decorate
