"""A workbook or a `.csv` file → sheets of plain cells. Nothing is computed: the stored values are read."""

import csv
import io
import lzma
import re
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from stripdown.record import load
from stripdown.record.load import UnreadableError

MOST_BYTES = 200_000_000
"""Largest table, unpacked."""
MOST_CELLS = 10_000_000
"""Largest sheet, gaps included: the reader lays it out whole."""
_LONGEST_ROW = 1 << 16

_NEEDED = (".xml", ".rels")
_NOT_NEEDED = ("xl/drawings/", "xl/charts/", "xl/media/", "xl/theme/", "docProps/")
_SAVE_ANEW = "open it and save it again as .xlsx"
# What `zipfile` raises on files that are none, truncated, locked, or packed in a way it does not know.
_BROKEN = (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, RuntimeError, ValueError)
_CELL = re.compile(rb"<(?:\w+:)?c(?=[\s>])([^>]*)(?<!/)>")
_CELL_NAME = re.compile(rb"""\br\s*=\s*["']([A-Za-z]{1,3})(\d{1,7})["']""")


@dataclass(frozen=True, slots=True)
class Sheet:
    """Cells below a first row of names; `rows` pairs the row number a person sees with its cells.

    `as_text`: all cells are text, as in a `.csv`; then `comma` says that its decimal sign is the comma.
    """

    header: tuple[str, ...]
    rows: list[tuple[int, list[object]]] = field(default_factory=list)
    as_text: bool = False
    comma: bool = False


def read_csv(path: Path) -> Sheet:
    """UTF-8: comma and decimal point, or semicolon and decimal comma, by the first line; raises `UnreadableError`."""
    with path.open("rb") as file:
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise _too_large(path.name)
    try:
        text = load.decode(data)
    except UnreadableError as error:
        raise UnreadableError(f"{path.name} {error.what}", error.fix) from None
    separator = _separator(text.partition("\n")[0])
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        header = tuple(next(lines, ()))
        rows: list[tuple[int, list[object]]] = [
            (i, [c.strip() for c in cells]) for i, cells in enumerate(lines, start=2)
        ]
    except csv.Error as error:
        what = f"{path.name} is no table: line {lines.line_num}, {error}"
        raise UnreadableError(what, "write one row a line, text with a comma in double quotes") from None
    return Sheet(header, rows, as_text=True, comma=separator == ";")


def first_row(path: Path) -> tuple[str, ...]:
    """The names in the first row of a `.csv`, empty where it has none that can be read."""
    with path.open("rb") as file:
        line = file.readline(_LONGEST_ROW)
    try:
        text = load.decode(line)
        cells = next(csv.reader([text], delimiter=_separator(text), strict=True), [])
    except (UnreadableError, csv.Error):
        return ()
    return tuple(cells)


def _separator(first: str) -> str:
    return ";" if first.count(";") > first.count(",") else ","


def called(title: str) -> str:
    """The name of a sheet that has none of its own."""
    return title.strip().casefold()


def read_workbook(
    path: Path, names: frozenset[str] | None, our_name: Callable[[str], str] = called
) -> dict[str, Sheet]:
    """The sheets of an `.xlsx` among `names` (None: all), the others with an empty sheet; raises `UnreadableError`.

    `our_name`: title of a sheet → what it is called here.
    """
    import python_calamine as calamine

    safe = _unpacked(path)
    sheets: dict[str, Sheet] = {}
    try:
        with calamine.load_workbook(safe) as book:
            for title in book.sheet_names:
                name = our_name(title)
                if name in sheets:
                    raise UnreadableError(f"holds two sheets {name}", "keep one of them")
                cells = (
                    book.get_sheet_by_name(title).to_python(skip_empty_area=False)
                    if names is None or name in names
                    else []
                )
                sheets[name] = _sheet(cells)  # type: ignore[arg-type]  # a list of lists of cells
    except UnreadableError:
        raise
    except calamine.CalamineError as error:
        raise UnreadableError(f"is no workbook that can be read: {str(error)[:160]}", _SAVE_ANEW) from None
    except BaseException as error:  # the reader panics outside of Exception on some broken files
        if type(error).__name__ != "PanicException":
            raise
        raise UnreadableError("is a broken workbook", _SAVE_ANEW) from None
    return sheets


def _sheet(cells: list[list[object]]) -> Sheet:
    trimmed = [[c.strip() if isinstance(c, str) else c for c in row] for row in cells]
    return Sheet(tuple(str(c) for c in trimmed[0]) if trimmed else (), list(enumerate(trimmed[1:], start=2)))


def _unpacked(path: Path) -> io.BytesIO:
    """The parts of a workbook that hold cells, unpacked under a limit and stored anew.

    The reader itself trusts the sizes that a file states and takes memory for every cell up to the last one, so a small
    hostile file could end the whole program.
    """
    out = io.BytesIO()
    left = MOST_BYTES
    try:
        with zipfile.ZipFile(path) as book, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as stored:
            for part in book.infolist():
                if not part.filename.endswith(_NEEDED) or part.filename.startswith(_NOT_NEEDED):
                    continue
                with book.open(part) as packed:
                    data = packed.read(left + 1)
                if (left := left - len(data)) < 0:
                    raise _too_large("its content")
                _check_extent(data)
                stored.writestr(zipfile.ZipInfo(part.filename), data)
    except UnreadableError:
        raise
    except _BROKEN:
        raise UnreadableError("is no .xlsx workbook, or a broken or locked one", _SAVE_ANEW) from None
    out.seek(0)
    return out


def _check_extent(part: bytes) -> None:
    """Raises `UnreadableError` where the filled cells of a sheet lie so far apart that it cannot be laid out."""
    if b"\0" in part:
        raise UnreadableError("is a workbook in an encoding not read here", _SAVE_ANEW)
    columns = rows = 1
    for cell in _CELL.finditer(part):
        name = _CELL_NAME.search(cell[1])
        if name is None:
            raise UnreadableError("is a workbook with cells that have no place", _SAVE_ANEW)
        rows = max(rows, int(name[2]))
        columns = max(columns, _column(name[1]))
    if rows * columns > MOST_CELLS:
        raise UnreadableError(
            "has a filled cell far away from the table", "delete what stands below and beside the table"
        )


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number


def _too_large(what: str) -> UnreadableError:
    return UnreadableError(f"{what} is larger than {MOST_BYTES // 1_000_000} MB", "split it into several")
