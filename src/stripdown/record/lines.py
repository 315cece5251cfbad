"""JSON as scripts hand it over: whole, or one record a line, in a `.jsonl` file or on standard input."""

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, Literal

from stripdown.record import load
from stripdown.record.found import Found, rejection, renamed
from stripdown.record.load import UnreadableError
from stripdown.record.parse import parse


def is_record(raw: object) -> bool:
    """Whether a mapping says of itself that it is a record."""
    return isinstance(raw, dict) and "format" in raw


def kind_of_line(raw: object) -> Literal["record", "result", "other"]:
    """What a parsed JSON line is: a record (`format`), a line that `judge --json` wrote (`status`), or neither."""
    if is_record(raw):
        return "record"
    return "result" if isinstance(raw, dict) and "status" in raw else "other"


def holds_results(path: str | Path) -> bool:
    """Whether the first line of a file is one that `judge --json` wrote; False also where it cannot be read."""
    if not Path(path).is_file():  # never open a pipe: it would wait for ever
        return False
    try:
        with Path(path).open("rb") as file:
            first = next((line for line in iter(lambda: file.readline(load.MOST_BYTES), b"") if line.strip()), b"")
        return first.lstrip().startswith(b"{") and kind_of_line(json.loads(first)) == "result"
    except (OSError, ValueError, RecursionError):
        return False


def from_stream(stream: BinaryIO, file: str, folder: str) -> Iterator[Found]:
    """One JSON table or JSON lines: lines where the first is whole, else one table, else lines that are broken."""
    data = stream.read().lstrip()
    if not data:
        yield Found(rejection(file, UnreadableError("is empty", "send records as JSON, whole or one a line")))
        return
    first = data.partition(b"\n")[0]
    try:
        if len(first) <= load.MOST_BYTES:
            load.from_json(load.decode(first))
    except UnreadableError:
        whole = _whole(data)
        if not isinstance(whole, UnreadableError):
            yield Found(parse(whole, file=file, folder=folder))
            return
        if not any(is_record(value) for _, value in load.json_lines(io.BytesIO(data))):
            yield Found(rejection(file, whole))
            return
    yield from from_lines(load.json_lines(io.BytesIO(data)), file, folder)


def _whole(data: bytes) -> Any:
    try:
        if len(data) > load.MOST_BYTES:
            raise load.too_large()
        return load.from_json(load.decode(data))
    except UnreadableError as error:
        return error


def from_lines(lines: Iterator[tuple[int, Any]], file: str, folder: str) -> Iterator[Found]:
    """A result for each numbered line."""
    for number, value in lines:
        yield _of_line(number, value, file, folder)


def _of_line(number: int, value: object, file: str, folder: str) -> Found:
    def call(entry: str) -> str:
        return f"line {number}: {entry}" if entry else f"line {number}"

    if isinstance(value, UnreadableError):
        return Found(rejection(file, value, call("")), call)
    return renamed(parse(value, file=file, folder=folder), call)
