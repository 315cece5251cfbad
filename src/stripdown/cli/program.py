"""How every command behaves: an example in its help, one line for a wrong call, quiet when the reader leaves."""

import os
import sys
import unicodedata
from typing import Any

import click


class Job(click.Command):
    """A command that carries an example, which a test runs as it stands."""

    def __init__(self, *args: Any, example: str, **rest: Any) -> None:
        super().__init__(*args, **rest)
        self.example = example

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Print the example below the options."""
        with formatter.section("Example"):
            formatter.write_text(self.example)


class Program(click.Group):
    """The group of all commands."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order of a day's work."""
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; a reader that leaves early (`| head`) is no fault."""
        try:
            result = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(0)
        return result


class Wrong:
    """The one line that answers a wrong call."""

    @staticmethod
    def line(wrong: click.ClickException) -> str:
        """What is wrong, and what a right call looks like."""
        context = wrong.ctx if isinstance(wrong, click.UsageError) else None
        name = context.command_path if context else "stripdown"
        what = " ".join(wrong.format_message().split()).rstrip(".")
        command = context.command if context else None
        todo = f"for example: {command.example}" if isinstance(command, Job) else f"type: {name} --help"
        return f"{name}: {plain(what)}; {todo}"


def plain(text: str) -> str:
    """Text from a file made safe for a terminal: one line, control and direction marks spelt out."""
    return "".join(
        c if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Zl", "Zp") else c.encode("unicode_escape").decode()
        for c in text
    )


def plain_lines(text: str) -> str:
    """Text of several lines made safe for a terminal."""
    return "\n".join(plain(line) for line in text.splitlines())
