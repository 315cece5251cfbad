"""Paths as the user gave them → records in that order: files by their kind, folders with all that is below."""

import io
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import Any

from stripdown.record import lines, load, own, tables
from stripdown.record.columns import Columns
from stripdown.record.fault import Fault, RecordError
from stripdown.record.found import Found, rejection, unique
from stripdown.record.load import UnreadableError
from stripdown.record.model import Record, Rejected
from stripdown.record.parse import parse
from stripdown.record.text import invisible, named, printable

STDIN = "-"
_MOST_NAMED = 3
_KINDS = "a .toml, .json, .jsonl or .xlsx file, or a folder"


def read(path: str | Path, *, claim: str = "", columns: Columns | None = None) -> Record:
    """The one record that a file holds, or of many the one with that claim; raises `RecordError` with every fault."""
    return only(read_all([path], columns=columns), path, claim)


def only(results: Sequence[Record | Rejected], path: str | Path, claim: str = "") -> Record:
    """The record that is meant among all of a path; raises `RecordError`, with its faults or because it is not one.

    Where none has the claim that is asked for, it may be one of those whose claim could not be read.
    """
    meant = [r for r in results if not claim or r.claim == claim] or [r for r in results if r.claim is None]
    faults = [f for r in meant if isinstance(r, Rejected) for f in r.faults]
    if faults:
        raise RecordError(faults)
    records = [r for r in meant if isinstance(r, Record)]
    if len(records) != 1:
        what = f"holds {len(records)} records" + (f" with the claim {claim}" if claim else "")
        raise RecordError([Fault(_label(path), "", what, "say which claim is meant")])
    return records[0]


def read_all(
    paths: Sequence[str | Path], *, columns: Columns | None = None, passed_over: list[Fault] | None = None
) -> list[Record | Rejected]:
    """All records below `paths` ("-" = standard input), in input order; never raises for what a file holds.

    `columns`: own column names of tables. `passed_over`, where given, takes a notice for each file of a folder that
    could have been a record and is none. A file that is named twice is read once.
    """
    batch = _Batch(columns or Columns(), [] if passed_over is None else passed_over)
    found: list[Found] = []
    for path in paths:
        if str(path) == STDIN:
            found.extend(lines.from_stream(sys.stdin.buffer, STDIN, "."))
        else:
            found.extend(batch.path(Path(path)))
    return unique(found)


def read_text(text: str | bytes, *, file: str = STDIN, folder: str = ".") -> list[Record | Rejected]:
    """Records as they come on standard input: one JSON table, or one a line."""
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    return unique(list(lines.from_stream(io.BytesIO(data), file, folder)))


class _Batch:
    """The files of one call: which were read already, and which were passed over."""

    def __init__(self, columns: Columns, passed_over: list[Fault]) -> None:
        self.columns = columns
        self.passed_over = passed_over
        self.met: set[str] = set()
        self.written: list[Path] = []
        self.readers: dict[str, Callable[[Path, bool], Iterator[Found]]] = {
            ".toml": self._one,
            ".json": self._one,
            ".jsonl": self._lines,
            ".xlsx": self._workbook,
            ".xlsm": self._workbook,
            ".csv": self._csv,
        }

    def path(self, path: Path) -> Iterator[Found]:
        """The records of a file or folder that the user named."""
        try:
            folder = path.is_dir()
            if not folder:
                path.stat()
        except (OSError, ValueError) as error:
            yield _unreadable(path, error)
            return
        if not folder:
            yield from self._file(path, direct=True)
            return
        some = False
        for entry in self._walk(path):
            some = some or isinstance(entry, Found) or os.path.realpath(entry) in self.met
            for found in [entry] if isinstance(entry, Found) else self._file(entry, direct=False):
                some = True
                yield found
        self._tell_of_own(path)
        if not some:
            yield _rejected(
                path, "holds no record", "give a folder with .toml, .json, .jsonl, .xlsx or returns.csv files"
            )

    def _walk(self, top: Path) -> Iterator[Path | Found]:
        """Files below `top` in the order of the names; hidden ones, links to folders and pipes are left out."""
        waiting = [top]
        while waiting:
            path = waiting.pop()
            try:
                if path.is_dir():
                    inside = sorted(p.name for p in path.iterdir() if not p.name.startswith((".", "~$")))
                    waiting.extend(path / name for name in reversed(inside) if not self._linked_folder(path / name))
                elif path.is_file():
                    yield path
            except OSError as error:
                yield _unreadable(path, error)

    def _linked_folder(self, path: Path) -> bool:
        linked = path.is_symlink() and path.is_dir()
        if linked:
            self._pass_over(path, "is a link to a folder", "name the folder itself to read it")
        return linked

    def _file(self, path: Path, *, direct: bool) -> Iterator[Found]:
        reader = self.readers.get(path.suffix.casefold())
        if not path.is_file():
            if direct:
                wrong = load.no_file()
                yield _rejected(path, wrong.what, f"{wrong.fix}, or send records to standard input and give {STDIN}")
            return
        if reader is None:
            if direct:
                yield _rejected(path, "is no kind of file that is read here", f"give {_KINDS}")
            return
        real = os.path.realpath(path)
        if real in self.met:
            return
        if (hidden := invisible(str(path))) is not None:
            yield _rejected(path, f"has {hidden} in its path, which cannot be seen", "give it a name without")
            return
        self.met.add(real)
        try:
            if not direct and own.by_place(path):
                self._written(path)
                return
            yield from reader(path, direct)
        except OSError as error:
            yield _unreadable(path, error)
        except UnreadableError as error:
            yield _rejected(path, error.what, error.fix)

    def _one(self, path: Path, direct: bool) -> Iterator[Found]:
        """A `.toml` or `.json` file."""
        with path.open("rb") as file:
            data = file.read(load.MOST_BYTES + 1)
        if len(data) > load.MOST_BYTES:
            raise load.too_large()
        text = load.decode(data)
        toml = path.suffix.casefold() == ".toml"
        if not text.strip():
            empty = "is empty" if toml else "is empty, which is not JSON"
            if direct:
                raise UnreadableError(empty, "write a record into it")
            self._pass_over(path, empty, "write a record into it")
            return
        raw = load.from_toml(text) if toml else load.from_json(text)
        if not direct and own.written_json(raw):
            self._written(path)
        elif lines.is_record(raw) or direct:
            yield Found(parse(raw, file=_label(path), folder=str(path.parent)))
        else:
            self._no_record(path)

    def _lines(self, path: Path, direct: bool) -> Iterator[Found]:
        """A `.jsonl` file; in a folder it is passed over where it is whole and no line is a record."""
        with path.open("rb") as file:
            numbered = load.json_lines(file)
            before: list[tuple[int, Any]] = []
            for line in numbered:
                if not (direct or before) and own.written_json(line[1]):
                    self._written(path)
                    return
                before.append(line)
                if direct or lines.is_record(line[1]) or isinstance(line[1], UnreadableError):
                    yield from lines.from_lines(chain(before, numbered), _label(path), str(path.parent))
                    return
        if direct:
            raise UnreadableError("is empty", "write one record a line")
        self._no_record(path)

    def _workbook(self, path: Path, direct: bool) -> Iterator[Found]:
        found = list(tables.from_workbook(path, self.columns, _label(path)))
        yield from found
        if not found and direct:
            fix = "fill the sheet returns, one row a compressor, or say in a columns file which sheet is the returns"
            raise UnreadableError("has no row in a sheet returns", fix)
        if not found:
            self._pass_over(path, "has no row in a sheet returns", "fill it, one row a compressor, to have it read")

    def _csv(self, path: Path, direct: bool) -> Iterator[Found]:
        """A folder of tables is read where its `returns.csv` stands; other `.csv` are logs or populations."""
        if not direct and own.own_csv(path):
            self._written(path)
        elif self.columns.sheet(path.stem) == tables.RETURNS:
            found = list(tables.from_folder(path.parent, self.columns, _label(path if direct else path.parent)))
            yield from found
            if not found:
                raise UnreadableError("has no rows", "write one row a compressor")
        elif direct:
            fix = (
                f"give the folder with {tables.RETURNS}.csv in it, or say in a columns file which table is the returns"
            )
            raise UnreadableError("is not read on its own", fix)

    def _written(self, path: Path) -> None:
        """The program wrote it: no record, unless the user names it as well."""
        self.written.append(path)
        self.met.discard(os.path.realpath(path))

    def _tell_of_own(self, top: Path) -> None:
        """One line for all that the program wrote itself below a folder."""
        if self.written:
            names = ", ".join(str(p.relative_to(top)) for p in self.written[:_MOST_NAMED])
            more = f" and {len(self.written) - _MOST_NAMED} more" if len(self.written) > _MOST_NAMED else ""
            one = len(self.written) == 1
            what = f"what stripdown wrote itself: {printable(names)}{more}"
            self._pass_over(top, what, f"name {'it' if one else 'one of them'} to have it read")
            self.written = []

    def _no_record(self, path: Path) -> None:
        self._pass_over(path, "has no `format` at its top: it is not a record", "a record begins with format = 1")

    def _pass_over(self, path: Path, what: str, fix: str) -> None:
        self.passed_over.append(Fault(_label(path), "", f"passed over: {what}", fix))


def _rejected(path: Path, what: str, fix: str) -> Found:
    return Found(rejection(_label(path), UnreadableError(what, fix)))


def _unreadable(path: Path, error: OSError | ValueError) -> Found:
    why = (error.strerror if isinstance(error, OSError) else None) or str(error)
    return _rejected(path, f"cannot be read: {why}", "look at its name and at who may read it")


def _label(path: str | Path) -> str:
    """A path as the user gave it, with nothing in it that a terminal would act on."""
    return named(path)
