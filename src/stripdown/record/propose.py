"""A columns file proposed for tables with names of their own: by what people call such columns, and by their dates."""

import json
import os
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from typing import Literal

from stripdown.record import own, schema, sheets
from stripdown.record.columns import Columns, plain_name
from stripdown.record.load import UnreadableError
from stripdown.record.schema import TABLE_COLUMNS
from stripdown.record.sheets import Sheet
from stripdown.record.text import printable

_NO_WEIGHT = frozenset(
    ("a", "the", "of", "on", "in", "at", "for", "to", "and", "no", "nr", "num", "number", "date", "day")
)
_THE_MACHINE = frozenset(("compressor", "comp", "unit", "machine"))
"""Words without weight in the sheet that has one row a machine."""
_TELLING = {
    "returns": {"claim", "serial"},
    "readings": {"claim", "quantity", "value"},
    "observations": {"claim", "part", "condition"},
    "confirmed": {"claim", "first"},
    "statements": {"claim", "text"},
}
"""Sheet → the columns that tell a table of any title to be that sheet."""
_DAY_MONTH = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2\d{4}", re.ASCII)
_ALIKE = 0.86
"""Least likeness of a misspelt name: one wrong letter in seven."""


@dataclass(slots=True)
class Proposal:
    """`own`: sheet → our column → the name it has there; `sheets`: sheet → the title it has; `unplaced`: sheet and
    name that no guess is made for.

    `orders`: the orders of day and month that all dates read so far can have, None where every date is plain.
    """

    own: dict[str, dict[str, str]] = field(default_factory=dict)
    sheets: dict[str, str] = field(default_factory=dict)
    unplaced: list[tuple[str, str]] = field(default_factory=list)
    orders: frozenset[str] | None = None
    files: list[str] = field(default_factory=list)
    news: bool = False
    """Whether there is anything in it that was not known before."""

    def toml(self) -> str:
        """The file to save, with a comment where a person has to decide."""
        lines = [f"# proposed for {', '.join(self.files)}: look at every line before you use it", *self._dates()]
        for sheet, names in ((("sheets", self.sheets),) if self.sheets else ()) + tuple(self.own.items()):
            lines += ["", f"[{sheet}]", *(f"{ours} = {_quoted(own)}" for ours, own in names.items())]
        if self.unplaced:
            lines += ["", "# no guess for:", *(f"#   {sheet}: {printable(own)}" for sheet, own in self.unplaced)]
        return "\n".join(lines) + "\n"

    def _dates(self) -> Iterator[str]:
        if self.orders is None:
            return
        if len(self.orders) == 1:
            yield f'dates = "{next(iter(self.orders))}"'
        elif self.orders:
            yield '# dates = "dmy"   # or "mdy": no date in these tables tells which; take one'
        else:
            yield "# dates: some stand day first, some month first, and no setting reads both; write them as 2026-01-31"


def propose(paths: Sequence[str | Path], columns: Columns) -> Proposal:
    """What a columns file could say on the tables below `paths`; empty where every sheet and column is known.

    What `columns` says already stays, so that the proposal can replace that file.
    """
    out = Proposal()
    if columns.dates != "iso":
        out.orders = frozenset({columns.dates})
    for path, titles in _books(paths, columns):
        told = [_name(out, title, sheet, columns) for title, (sheet, _) in titles.items()]
        told += [_add(out, sheet, table, columns) for sheet, table in titles.values()]
        if any(told):
            out.files.append(printable(path.name))
    out.news = bool(out.files)
    return out


Titles = dict[str, tuple[str, Sheet]]
"""Title of a sheet, or name of a `.csv` without its ending → our name of it, and what it holds."""


def _books(paths: Sequence[str | Path], columns: Columns) -> Iterator[tuple[Path, Titles]]:
    """The workbooks and files of returns below the paths, each with its tables; the unreadable have been told of."""
    for path in dict.fromkeys(p for given in map(Path, paths) for p in _below(given)):
        try:
            titles = _folder(path, columns) if path.is_dir() else _workbook(path, columns)
        except (OSError, UnreadableError):
            continue
        returns = next((title for title, (sheet, _) in titles.items() if sheet == "returns"), None)
        if returns is not None:
            yield path / f"{returns}.csv" if path.is_dir() else path, titles


def _below(given: Path) -> Iterator[Path]:
    """Workbooks, and folders with a `.csv` in them."""
    if not given.is_dir():
        kind = _kind_of(given.name)
        if given.is_file():  # never open a pipe: it would wait for ever
            yield from [given] if kind == "book" else [given.parent] if kind == "table" else []
        return
    for folder, inner, files in os.walk(given):
        inner[:] = sorted(n for n in inner if not n.startswith("."))
        if any(_kind_of(n) == "table" for n in files):
            yield Path(folder)
        yield from (p for n in sorted(files) if _kind_of(n) == "book" and (p := Path(folder) / n).is_file())


def _kind_of(name: str) -> Literal["book", "table", ""]:
    name = name.casefold()
    if name.startswith((".", "~$")):
        return ""
    return "table" if name.endswith(".csv") else "book" if name.endswith((".xlsx", ".xlsm")) else ""


def _folder(folder: Path, columns: Columns) -> Titles:
    tables = {p.stem: p for p in sorted(folder.iterdir()) if _kind_of(p.name) == "table" and p.is_file()}
    first = {title: sheets.first_row(path) for title, path in tables.items()}
    placed = _placed({title: row for title, row in first.items() if not own.written_table(row)}, columns)
    return {title: (sheet, sheets.read_csv(tables[title])) for title, sheet in placed.items()}


def _workbook(path: Path, columns: Columns) -> Titles:
    book = sheets.read_workbook(path, None, str.strip)
    placed = _placed({title: table.header for title, table in book.items()}, columns)
    return {title: (sheet, book[title]) for title, sheet in placed.items()}


def _placed(headers: Mapping[str, Sequence[str]], columns: Columns) -> dict[str, str]:
    """Title → our sheet: what is known, and the likeliest of the others for each sheet that is not there."""
    placed = {title: columns.sheet(title) for title in headers if columns.sheet(title) in TABLE_COLUMNS}
    likely = [
        (score, title, sheet)
        for title, header in headers.items()
        for sheet in TABLE_COLUMNS
        if title not in placed and sheet not in placed.values() and (score := _likely(title, sheet, header, columns))
    ]
    for _, title, sheet in sorted(likely, key=lambda each: -each[0]):
        if title not in placed and sheet not in placed.values():
            placed[title] = sheet
    return {title: sheet for sheet in TABLE_COLUMNS for title, found in placed.items() if found == sheet}


def _likely(title: str, sheet: str, header: Sequence[str], columns: Columns) -> float:
    """How likely a table is this sheet of ours: 0 where its columns do not tell, more where its title does too."""
    known = columns.known(sheet)
    found = {known.get(plain_name(h)) or _guess(sheet, h)[1] for h in header if h.strip()}
    if not found.issuperset(_TELLING[sheet]):
        return 0.0
    return len(found - {None}) / len(header) + (_guess("sheets", title)[1] == sheet)


def _name(out: Proposal, title: str, sheet: str, columns: Columns) -> bool:
    """Note what a sheet is called; whether that was not known."""
    if plain_name(title) == sheet:
        return False
    if plain_name(out.sheets.get(sheet, title)) != plain_name(title):
        out.unplaced.append(("sheets", title))
        return False
    out.sheets[sheet] = title
    return columns.sheet(title) != sheet


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace(
        "\x7f", "\\u007f"
    )  # the one character where JSON and TOML differ


def _add(out: Proposal, sheet: str, table: Sheet, columns: Columns) -> bool:
    """Whether the sheet told anything new."""
    known = columns.known(sheet)
    headers = [h.strip() for h in table.header]
    taken = {known[plain_name(h)] for h in headers if plain_name(h) in known}
    placed = {h: known[plain_name(h)] for h in headers if plain_name(h) in known}
    guesses = {h: _guess(sheet, h) for h in headers if h and h not in placed and not h.startswith("(")}
    orders = out.orders
    for h, (_, ours) in sorted(guesses.items(), key=lambda item: -item[1][0]):
        if ours and ours not in taken:
            taken.add(ours)
            placed[h] = ours
    if named := {placed[h]: h for h in headers if h in placed and plain_name(h) != placed[h]}:
        out.own.setdefault(sheet, {}).update(named)
    out.unplaced += [(sheet, h) for h in guesses if h not in placed]
    if columns.dates == "iso":
        dated = [at for at, h in enumerate(headers) if h in placed and _kind(sheet, placed[h]) == "date"]
        for cell in (row[at] for _, row in table.rows for at in dated if at < len(row)):
            out.orders = _left(out.orders, cell)
    return any(h in placed for h in guesses) or out.orders != orders


def _left(orders: frozenset[str] | None, cell: object) -> frozenset[str] | None:
    """The orders that are still possible after one more date."""
    match = _DAY_MONTH.fullmatch(cell) if isinstance(cell, str) else None
    if not match:
        return orders
    orders = frozenset({"dmy", "mdy"}) if orders is None else orders
    return orders - ({"mdy"} if int(match[1]) > 12 else {"dmy"} if int(match[3]) > 12 else set())


def _kind(sheet: str, column: str) -> str:
    path = TABLE_COLUMNS[sheet][column]
    section = sheet if sheet != "returns" else ".".join(path[:-1])
    return "claim" if column == "claim" else schema.SECTIONS[section][path[-1]].kind


def _guess(sheet: str, header: str) -> tuple[float, str | None]:
    """Likeness 0..1 and our column; None where nothing is like it."""
    words = _words(header, sheet)
    if not words:
        return 0.0, None
    told = " ".join(words)
    best = max(((SequenceMatcher(None, told, name).ratio(), ours) for name, ours in _names()[sheet].items()))
    return best if best[0] >= _ALIKE else (best[0], None)


@cache
def _names() -> dict[str, dict[str, str]]:
    """Sheet → words in order → our column."""
    raw = tomllib.loads(Path(__file__).with_name("column_names.toml").read_text(encoding="utf-8"))
    return {
        sheet: {" ".join(_words(name, sheet)): ours for ours, names in columns.items() for name in (ours, *names)}
        for sheet, columns in raw.items()
    }


def _words(name: str, sheet: str) -> list[str]:
    """The words that tell, in the order of the alphabet."""
    plain = re.sub(r"\bs[/.\s]*n\b\.?", "serial", name.casefold())
    words = re.findall(r"[^\W_]+", re.sub(r"[()\[\]#.:]", " ", plain))
    idle = _NO_WEIGHT | _THE_MACHINE if sheet == "returns" else _NO_WEIGHT
    telling = [w for w in words if w not in idle]
    return sorted(telling or words)
