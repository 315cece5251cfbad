"""Result lines: from files that `judge --json` wrote, or judged now from records."""

import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import Any

import orjson

from stripdown.batch import ledger
from stripdown.batch.settings import Settings
from stripdown.record import Fault, Record, Rejected, folder_name, read_text


def json_line(result: Mapping[str, Any]) -> str:
    """One result as it stands on a line of `judge --json`; raises ValueError for a number that is none."""
    return orjson.dumps(_rounded("", result)).decode()


_MONEY = ("expected_cost", "saving")
"""Keys whose numbers are amounts of money, written to the cent."""


def _rounded(key: str, value: Any) -> Any:
    """Twelve significant digits: the last ones of a float differ from processor to processor."""
    kind = type(value)
    if kind is dict:
        return {k: v if type(v) is str else _rounded(k, v) for k, v in value.items()}
    if kind is list or kind is tuple:
        return [v if type(v) is str else _rounded("", v) for v in value]
    if isinstance(value, float):
        if not isfinite(value):
            raise ValueError(f"{key} = {value} is no number")
        return round(value, 2) if key in _MONEY else float(f"{value:.12g}")
    return value


def write_text(path: Path, text: str) -> None:
    """The same bytes on every system."""
    path.write_text(text, encoding="utf-8", newline="\n")


def gather(
    paths: Sequence[str], settings: Settings, passed_over: list[Fault] | None = None
) -> Iterator[dict[str, Any]]:
    """The result line of every record below `paths`; lines that a file holds, or a batch left in its folder, stand, but
    for a new cost table.

    `passed_over` is that of `read_all`.
    """
    records: list[str] = []
    for path in paths:
        data = _content(path)
        if left := _left_by_batch(Path(path)):
            yield from (_by_costs(_parsed(file.read_bytes()) or _unreadable(str(file)), settings) for file in left)
        elif data and _holds_results(data):
            given = (_parsed(line) or _unreadable(path) for line in _lines(data))
            yield from (_by_costs(line, settings) for line in given)
        elif path == "-":
            yield from (_for_fleet(r, settings) for r in read_text(data))
        else:
            records.append(path)
    yield from (_for_fleet(r, settings) for r in settings.read(records, passed_over))


def _left_by_batch(folder: Path) -> list[Path]:
    """The results in a folder that `batch` wrote to, by claim."""
    return sorted(folder.glob("*/result.json")) if (folder / ledger.NAME).is_file() else []


def _unreadable(file: str) -> dict[str, Any]:
    return {"claim": "", "file": file, "status": "unreadable"}


def _by_costs(line: dict[str, Any], settings: Settings) -> dict[str, Any]:
    """The line as it is, or by the user's own cost table where one was chosen."""
    if settings.costs is None:
        return line
    from stripdown.fleet import repriced

    tables = settings.tables()
    return repriced(line, tables["costs"], tables["knowledge"])


def _for_fleet(item: Record | Rejected, settings: Settings) -> dict[str, Any]:
    """The result without its explanation, unless it is not established: then the fleet asks which check would help."""
    brief = result(item, settings, brief=True)
    return brief if brief["status"] in ("established", "rejected") else result(item, settings, brief=False)


def result(item: Record | Rejected, settings: Settings, *, brief: bool) -> dict[str, Any]:
    """The result line of one record."""
    if isinstance(item, Rejected):
        return dict(item.as_json())
    return settings.judge(item, brief=brief).as_json(brief=brief)


def brief_results(items: Sequence[Record | Rejected], settings: Settings) -> list[dict[str, Any]]:
    """The brief result lines of many records; they are judged together."""
    cases = iter(settings.judge_many([item for item in items if isinstance(item, Record)]))
    return [next(cases).as_json(brief=True) if isinstance(i, Record) else dict(i.as_json()) for i in items]


def written(records: Sequence[Record | Rejected], out: Path) -> Iterator[dict[str, Any]]:
    """The result lines of a batch that has been run, from the folders of the records."""
    for item in records:
        if isinstance(item, Rejected):
            yield dict(item.as_json())
        elif (path := out / folder_name(item.claim) / "result.json").is_file():
            yield json.loads(path.read_text(encoding="utf-8"))


def renamed(item: Record | Rejected, path: str, named: str) -> Record | Rejected:
    """The record as the user calls its file, so that no result depends on where that lies."""

    def told(file: str) -> str:
        return named + file.removeprefix(path) if file.startswith(path) else file

    if isinstance(item, Rejected):
        return replace(item, file=told(item.file), faults=tuple(replace(f, file=told(f.file)) for f in item.faults))
    return replace(item, file=told(item.file), notices=tuple(replace(n, file=told(n.file)) for n in item.notices))


def _content(path: str) -> bytes:
    if path == "-":
        return sys.stdin.buffer.read()
    file = Path(path)
    return file.read_bytes() if file.suffix in (".jsonl", ".json") and file.is_file() else b""


def _holds_results(data: bytes) -> bool:
    """Whether the first line that can be read is a result: it has a status, which no record has."""
    first = next((value for value in map(_parsed, _lines(data)) if value), {})
    return "status" in first and "claim" in first


def _lines(data: bytes) -> Iterator[bytes]:
    return (line for line in data.splitlines() if line.strip())


def _parsed(line: bytes) -> dict[str, Any] | None:
    """The object of a line, None where it holds none."""
    try:
        value = orjson.loads(line)
    except ValueError:
        return None
    return value if isinstance(value, dict) else None
