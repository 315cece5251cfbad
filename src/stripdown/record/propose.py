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

from stripdown.record import schema, sheets
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
_DAY_MONTH = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2\d{4}", re.ASCII)
_ALIKE = 0.86
"""Least likeness of a misspelt name: one wrong letter in seven."""


@dataclass(slots=True)
class Proposal:
    """`own`: sheet → our column → the name it has there; `unplaced`: sheet and name that no guess is made for.

    `orders`: the orders of day and month that all dates read so far can have, None where every date is plain.
    """

    own: dict[str, dict[str, str]] = field(default_factory=dict)
    unplaced: list[tuple[str, str]] = field(default_factory=list)
    orders: frozenset[str] | None = None
    files: list[str] = field(default_factory=list)
    news: bool = False
    """Whether there is anything in it that was not known before."""

    def toml(self) -> str:
        """The file to save, with a comment where a person has to decide."""
        lines = [f"# proposed for {', '.join(self.files)}: look at every line before you use it", *self._dates()]
        for sheet, names in self.own.items():
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
    """What a columns file could say on the tables below `paths`; empty where every column is known.

    What `columns` says already stays, so that the proposal can replace that file.
    """
    out = Proposal()
    if columns.dates != "iso":
        out.orders = frozenset({columns.dates})
    for path, book in _books(paths):
        told = [_add(out, name, book[name], columns) for name in TABLE_COLUMNS if name in book]
        if any(told):
            out.files.append(printable(path.name))
    out.news = bool(out.files)
    return out


def _books(paths: Sequence[str | Path]) -> Iterator[tuple[Path, Mapping[str, Sheet]]]:
    """The workbooks and folders of tables below the paths; those that cannot be read have been told of."""
    for given in map(Path, paths):
        for path in _below(given):
            try:
                if path.suffix.casefold() == ".csv":
                    beside = {p.stem.casefold(): p for p in path.parent.glob("*.[cC][sS][vV]")}
                    yield path, {n: sheets.read_csv(p) for n, p in beside.items() if n in TABLE_COLUMNS}
                else:
                    yield path, sheets.read_workbook(path, frozenset(TABLE_COLUMNS))
            except (OSError, UnreadableError):
                continue


def _below(given: Path) -> Iterator[Path]:
    if not given.is_dir():
        yield from [given] if _is_table(given.name) else []
        return
    for folder, inner, files in os.walk(given):
        inner[:] = sorted(n for n in inner if not n.startswith("."))
        yield from (Path(folder) / n for n in sorted(files) if _is_table(n))


def _is_table(name: str) -> bool:
    name = name.casefold()
    return not name.startswith((".", "~$")) and (name == "returns.csv" or name.endswith((".xlsx", ".xlsm")))


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
