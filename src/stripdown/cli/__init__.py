"""Arguments in, exit code out. Each command imports what is heavy only once it runs."""

import sys
from collections.abc import Sequence
from typing import NoReturn

import click

from stripdown.batch.error import BatchError
from stripdown.cli.batch import batch
from stripdown.cli.check import check
from stripdown.cli.demo import demo
from stripdown.cli.fleet import fleet
from stripdown.cli.judge import judge
from stripdown.cli.learn import learn
from stripdown.cli.lesson import lesson
from stripdown.cli.open import open_
from stripdown.cli.page import page
from stripdown.cli.program import Program, Wrong, plain_lines
from stripdown.cli.sheet import sheet
from stripdown.version import __version__

NOT_ALL_DONE = 1
CALL_WRONG = 2
STOPPED = 130


@click.group(cls=Program, no_args_is_help=False)
@click.version_option(__version__, prog_name="stripdown", message="%(prog)s %(version)s")
def program() -> None:
    """Failure analysis of refrigeration compressors: from teardown record to root cause, page and fleet report."""


for _command in (demo, check, judge, page, batch, fleet, lesson, learn, open_, sheet):
    program.add_command(_command)


def run(arguments: Sequence[str] | None = None) -> int:
    """Do what the arguments say and return the exit code; never a traceback for what a user can cause."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # the same bytes whatever the locale
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    try:
        code = program.main(args=arguments, prog_name="stripdown", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.ClickException as wrong:
        return _say(Wrong.line(wrong))
    except (click.Abort, KeyboardInterrupt):
        _say("stripdown: stopped")
        return STOPPED
    except BatchError as ended:
        _say(f"stripdown: {ended}")
        return NOT_ALL_DONE
    except OSError as failed:
        return _say(
            f"stripdown: {failed.filename or 'output'}: {failed.strerror or failed}; choose another file or folder"
        )
    except ExceptionGroup as several:
        return _say("\n".join(map(str, several.exceptions)))
    except ValueError as faulty:  # files beside the records, such as costs or limit sheets, list what to mend in them
        from stripdown.knowledge import KnowledgeError
        from stripdown.record import RecordError

        if isinstance(faulty, RecordError | KnowledgeError):
            return _say(str(faulty))
        raise


def _say(lines: str) -> int:
    click.echo(plain_lines(lines), err=True)
    return CALL_WRONG


def main() -> NoReturn:
    """The command `stripdown`."""
    sys.exit(run())
