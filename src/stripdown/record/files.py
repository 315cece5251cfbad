"""Paths as the user gave them → records in that order; folders are walked, doubled claims rejected."""

import io
import os
import stat
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

from stripdown.record import load
from stripdown.record.fault import Fault, RecordError
from stripdown.record.load import UnreadableError
from stripdown.record.model import Record, Rejected
from stripdown.record.parse import parse
from stripdown.record.text import printable

STDIN = "-"
_NOT_A_RECORD = ("has no `format` at its top: it is not a record", "a record begins with format = 1")
_MOST_NAMED = 5


def _as_it_is(entry: str) -> str:
    return entry


@dataclass(frozen=True, slots=True)
class Found:
    """A result, and how an entry of its record is called in the file it came from."""

    result: Record | Rejected
    call: Callable[[str], str] = _as_it_is

    @property
    def place(self) -> str:
        """File and, where it holds several records, the line or row."""
        return ": ".join(filter(None, (self.result.file, self.call(""))))


def read(path: str | Path) -> Record:
    """The one record that a file holds; raises `RecordError` with every fault, whatever the file is."""
    results = read_all([path])
    if len(results) != 1:
        fix = "give a file with one record, or use a command that takes many"
        raise RecordError([Fault(_label(path), "", f"holds {len(results)} records, one is wanted", fix)])
    result = results[0]
    if isinstance(result, Rejected):
        raise RecordError(result.faults)
    return result


def read_all(paths: Sequence[str | Path], *, passed_over: list[Fault] | None = None) -> list[Record | Rejected]:
    """All records below `paths` ("-" = standard input), in input order; never raises for what a file holds.

    `passed_over`, where given, takes a notice for each file of a folder that could have been a record and is none.
    A file that is named twice is read once.
    """
    aside: list[Fault] = [] if passed_over is None else passed_over
    found: list[Found] = []
    met: set[str] = set()
    for path in paths:
        if str(path) == STDIN:
            found.extend(_stream(sys.stdin.buffer, STDIN, "."))
        else:
            found.extend(_path(Path(path), met, aside))
    return _unique(found)


def read_text(text: str | bytes, *, file: str = STDIN, folder: str = ".") -> list[Record | Rejected]:
    """Records as they come on standard input: one JSON table, or one a line."""
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    return _unique(list(_stream(io.BytesIO(data), file, folder)))


def _path(path: Path, met: set[str], aside: list[Fault]) -> Iterator[Found]:
    try:
        mode = path.stat().st_mode
        if not stat.S_ISDIR(mode):
            yield from _file(path, mode, met, aside, direct=True)
            return
    except (OSError, ValueError) as error:
        yield _cannot_be_read(path, error)
        return
    count = len(met)
    some = False
    for entry in _walk(path, aside):
        if isinstance(entry, Found):
            yield entry
            continue
        for found in _file(entry, entry.stat().st_mode, met, aside, direct=False):
            some = True
            yield found
    if not some and len(met) == count:
        yield _rejected(
            path, UnreadableError("holds no record", "give a folder with .toml, .json, .jsonl, .xlsx or returns.csv")
        )


def _walk(top: Path, aside: list[Fault]) -> Iterator[Path | Found]:
    """Regular files below `top` in the order of the names; hidden ones, links to folders and pipes are left out."""
    waiting = [top]
    while waiting:
        path = waiting.pop()
        try:
            if path.is_dir():
                inside = sorted(p.name for p in path.iterdir() if not p.name.startswith((".", "~$")))
                waiting.extend(path / name for name in reversed(inside) if not _linked_folder(path / name, aside))
            elif path.is_file():
                yield path
        except OSError as error:
            yield _cannot_be_read(path, error)


def _linked_folder(path: Path, aside: list[Fault]) -> bool:
    linked = path.is_symlink() and path.is_dir()
    if linked:
        aside.append(
            Fault(_label(path), "", "is a link to a folder and was passed over", "name the folder itself to read it")
        )
    return linked


def _file(path: Path, mode: int, met: set[str], aside: list[Fault], *, direct: bool) -> Iterator[Found]:
    reader = _READERS.get(path.suffix.casefold())
    if reader is None:
        if direct:
            yield _rejected(
                path, UnreadableError("is no kind of file that is read here", "give .toml, .json, .jsonl or a folder")
            )
        return
    if not stat.S_ISREG(mode):
        yield _rejected(path, UnreadableError("is no ordinary file", "give a file or a folder"))
        return
    real = os.path.realpath(path)
    if real in met:
        return
    met.add(real)
    try:
        yield from reader(path, aside, direct)
    except OSError as error:
        yield _cannot_be_read(path, error)
    except UnreadableError as error:
        yield _rejected(path, error)


def _one(path: Path, aside: list[Fault], direct: bool) -> Iterator[Found]:
    """A `.toml` or `.json` file."""
    with path.open("rb") as file:
        data = file.read(load.MOST_BYTES + 1)
    if len(data) > load.MOST_BYTES:
        raise load.too_large()
    text = load.decode(data)
    raw = load.from_toml(text) if path.suffix.casefold() == ".toml" else load.from_json(text)
    if _is_record(raw) or direct:
        yield Found(parse(raw, file=_label(path), folder=str(path.parent)))
    else:
        aside.append(Fault(_label(path), "", *_NOT_A_RECORD))


def _lines(path: Path, aside: list[Fault], direct: bool) -> Iterator[Found]:
    """A `.jsonl` file: passed over where no line is a record."""
    held: list[tuple[int, Any]] = []
    with path.open("rb") as file:
        lines = load.json_lines(file)
        for line in lines:  # hold back what stands before the first record: it may be another kind of file
            held.append(line)
            if _is_record(line[1]):
                break
        else:
            if not direct and not any(isinstance(value, UnreadableError) for _, value in held):
                aside.append(Fault(_label(path), "", *_NOT_A_RECORD))
                return
        for number, value in held:
            yield _of_line(number, value, _label(path), str(path.parent))
        for number, value in lines:
            yield _of_line(number, value, _label(path), str(path.parent))
    if not held:
        raise UnreadableError("is empty", "write one record a line")


_READERS: dict[str, Callable[[Path, list[Fault], bool], Iterator[Found]]] = {
    ".toml": _one,
    ".json": _one,
    ".jsonl": _lines,
}


def _stream(stream: BinaryIO, file: str, folder: str) -> Iterator[Found]:
    """JSON or JSON lines: lines where the first one is whole, else one table; then lines again, where it is none."""
    beginning = stream.readline(load.MOST_BYTES + 1)
    while beginning and not beginning.strip():
        beginning = stream.readline(load.MOST_BYTES + 1)
    data = beginning + stream.read()
    lines = load.json_lines(io.BytesIO(data))
    if not data:
        yield Found(_rejection(file, UnreadableError("is empty", "send records as JSON, whole or one a line")))
        return
    try:
        load.from_json(load.decode(beginning))
    except UnreadableError:
        try:
            if len(data) > load.MOST_BYTES:
                raise load.too_large() from None
            yield Found(parse(load.from_json(load.decode(data)), file=file, folder=folder))
            return
        except UnreadableError as error:
            if not any(_is_record(value) for _, value in load.json_lines(io.BytesIO(data))):
                yield Found(_rejection(file, error))
                return
    for number, value in lines:
        yield _of_line(number, value, file, folder)


def _of_line(number: int, value: object, file: str, folder: str) -> Found:
    def call(entry: str) -> str:
        return f"line {number}: {entry}" if entry else f"line {number}"

    if isinstance(value, UnreadableError):
        return Found(_rejection(file, value, call("")), call)
    return renamed(parse(value, file=file, folder=folder), call)


def renamed(result: Record | Rejected, call: Callable[[str], str]) -> Found:
    """A result whose faults and notices name entries as the user's file has them."""

    def anew(faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
        return tuple(replace(f, entry=call(f.entry)) for f in faults)

    if isinstance(result, Rejected):
        return Found(replace(result, faults=anew(result.faults)), call)
    return Found(replace(result, notices=anew(result.notices)) if result.notices else result, call)


def _is_record(raw: object) -> bool:
    return isinstance(raw, dict) and "format" in raw


def _unique(found: list[Found]) -> list[Record | Rejected]:
    """All results; every record whose claim stands more than once, case ignored, rejected with the others named."""
    together: defaultdict[str, list[Found]] = defaultdict(list)
    for one in found:
        if one.result.claim is not None:
            together[one.result.claim.casefold()].append(one)
    return [
        _doubled(one, others)
        if one.result.claim and len(others := together[one.result.claim.casefold()]) > 1
        else one.result
        for one in found
    ]


def _doubled(one: Found, together: list[Found]) -> Rejected:
    others = [o for o in together if o is not one]
    named = ", ".join(f"{o.result.claim} in {o.place}" for o in others[:_MOST_NAMED])
    if len(others) > _MOST_NAMED:
        named += f" and {len(others) - _MOST_NAMED} more"
    result = one.result
    fault = Fault(
        result.file, one.call("claim"), f"{result.claim} stands again: {named}", "give each record a claim of its own"
    )
    faults = result.faults if isinstance(result, Rejected) else ()
    return Rejected(claim=result.claim, file=result.file, faults=(*faults, fault))


def _rejected(path: Path, error: UnreadableError) -> Found:
    return Found(_rejection(_label(path), error))


def _rejection(file: str, error: UnreadableError, entry: str = "") -> Rejected:
    return Rejected(claim=None, file=file, faults=(Fault(file, entry, error.what, error.fix),))


def _cannot_be_read(path: Path, error: OSError | ValueError) -> Found:
    why = (error.strerror if isinstance(error, OSError) else None) or str(error)
    return _rejected(path, UnreadableError(f"cannot be read: {why}", "look at its name and at who may read it"))


def _label(path: str | Path) -> str:
    """A path as the user gave it, with nothing in it that a terminal would act on."""
    return printable(str(path))
