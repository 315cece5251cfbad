"""Sheets of a workbook that a person fills in: rows, drop-down lists, hints, cautions across the width."""

import io
import re
import zipfile
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from math import ceil, isfinite
from typing import TYPE_CHECKING, Any

from stripdown.pages.show import Paper
from stripdown.record.schema import FIRST_YEAR, LAST_YEAR, Field
from stripdown.record.text import figure, seen

if TYPE_CHECKING:
    from openpyxl.styles import NamedStyle
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

_LISTS = "lists"
_LONGEST_RULE = 255  # characters of a list that stands in the rule itself
_LINE = 15.0  # points
_WIDEST = 350  # characters that can be read when they share the width of a page
_SAVED = datetime(2000, 1, 1)
"""What the file says of when it was made, so that equal sheets are equal bytes."""
_STAMP = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
_FORMATS = {"date": "yyyy-mm-dd", "moment": "yyyy-mm-dd hh:mm:ss"}
_TEXT = "@"
_DAY_0 = date(1899, 12, 30)
"""From which a workbook counts its days."""
_INK, _FILL, _EDGE = "FF17202A", "FFE8EDF1", "FFC4CCD4"


_TITLE, _HEAD, _CAUTION, _CELL, _PLAIN = "Bench title", "Bench names", "Bench caution", "Bench cell", "Bench text"


def _styles() -> "list[NamedStyle]":
    """How cells look: paper and ink, what matters bold and ruled as well as shaded."""
    from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side

    thin, thick = Side("thin", color=_EDGE), Side("thick", color=_INK)
    lined, barred = Border(left=thin, bottom=thin), Border(left=thick)
    shade, at_top = PatternFill("solid", fgColor=_FILL), Alignment(horizontal="left", vertical="top", wrap_text=True)
    bold, text = Font(bold=True, color=_INK), Font(color=_INK)
    return [
        NamedStyle(_TITLE, font=Font(bold=True, size=14, color=_INK), alignment=at_top),
        NamedStyle(_HEAD, font=bold, fill=shade, border=lined, alignment=at_top),
        NamedStyle(_CAUTION, font=bold, fill=shade, border=barred, alignment=at_top),
        NamedStyle(_CELL, font=text, border=lined, alignment=at_top),
        NamedStyle(_PLAIN, font=text, alignment=at_top),
    ]


class Cells:
    """A workbook in the making."""

    def __init__(self, lists: Mapping[str, Sequence[str]], paper: Paper) -> None:
        from openpyxl import Workbook

        self.book = Workbook()
        del self.book[self.book.sheetnames[0]]
        for style in _styles():
            self.book.add_named_style(style)
        self.lists = lists
        self.paper = paper

    def page(self, name: str, columns: Sequence[tuple[str, float]], hints: Mapping[str, str] | None = None) -> "Page":
        """A new sheet; a column is its name and width in characters, 0 = hidden; without names, no first row."""
        return Page(self, name, columns, hints or {})

    def made(self) -> bytes:
        """The file, its lists at the end and hidden; equal content gives equal bytes."""
        sheet = self.book.create_sheet(_LISTS)
        sheet.sheet_state = "hidden"
        for at, (name, words) in enumerate(self.lists.items(), start=1):
            for row, word in enumerate((name, *words), start=1):
                sheet.cell(row, at, word)
        self.book.properties.creator = "stripdown"
        self.book.properties.created = _SAVED
        raw, out = io.BytesIO(), io.BytesIO()
        self.book.save(raw)
        with zipfile.ZipFile(raw) as made, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as kept:
            for part in sorted(made.namelist()):
                content = made.read(part)
                if part == "docProps/core.xml":  # saving stamps the time of day
                    content = _STAMP.sub(_SAVED.strftime("%Y-%m-%dT%H:%M:%SZ").encode(), content)
                kept.writestr(zipfile.ZipInfo(part, _SAVED.timetuple()[:6]), content, zipfile.ZIP_DEFLATED)
        return out.getvalue()


class Page:
    """A sheet in the making; rules and hints are for the row that was written last."""

    def __init__(self, cells: Cells, name: str, columns: Sequence[tuple[str, float]], hints: Mapping[str, str]) -> None:
        from openpyxl.utils import get_column_letter

        self.cells = cells
        self.sheet: Worksheet = cells.book.create_sheet(name)
        self.names = [c for c, _ in columns]
        self.widths = [w for _, w in columns]
        self.hints = hints
        self.at = 0
        self._rules: dict[tuple[str, str], DataValidation] = {}
        for n, width in enumerate(self.widths, start=1):
            dimension = self.sheet.column_dimensions[get_column_letter(n)]
            dimension.width, dimension.hidden = max(width, 4), width == 0
        if any(self.names):
            self.row(self.names, head=True)
            self.sheet.freeze_panes = "A2"
            self.sheet.print_title_rows = "1:1"
        self._print()

    def _print(self) -> None:
        from openpyxl.worksheet.properties import PageSetupProperties

        setup = self.sheet.page_setup
        setup.orientation = "landscape"
        setup.paperSize = 9 if self.cells.paper == "a4" else 1
        setup.fitToWidth, setup.fitToHeight = 1, 0
        legible = sum(self.widths) < _WIDEST
        self.sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=legible)
        self.sheet.oddFooter.center.text = "&A, page &P of &N"  # type: ignore[union-attr]  # a new sheet has one

    def row(self, values: Sequence[str | float | None], *, head: bool = False) -> None:
        """A row of cells; text stays text, whatever it begins with."""
        self.at += 1
        for n, value in enumerate(values, start=1):
            cell = self.sheet.cell(self.at, n, seen(value) if isinstance(value, str) else value)
            if isinstance(value, str):
                cell.data_type = "s"
            cell.style = _HEAD if head else _CELL

    def line(self, text: str, *, large: bool = False, fill: bool = False) -> None:
        """A line across the sheet, from the first column that shows."""
        self.at += 1
        first = next(n for n, w in enumerate(self.widths, start=1) if w)
        last = min(len(self.widths), first + 7)
        cell = self.sheet.cell(self.at, first, seen(text))
        cell.data_type = "s"
        cell.style = _TITLE if large else _CAUTION if fill else _PLAIN
        self.sheet.merge_cells(start_row=self.at, end_row=self.at, start_column=first, end_column=last)
        room = sum(self.widths[first - 1 : last])
        lines = sum(max(1, ceil(1.15 * len(part) / room)) for part in text.split("\n"))
        self.sheet.row_dimensions[self.at].height = _LINE * lines * (1.3 if large else 1.0)

    def choose(self, column: str, choices: str | Collection[str], *, must: bool = True) -> None:
        """A drop-down list: some words, or the name of a list of the workbook. `must`: nothing else will do."""
        if isinstance(choices, str):
            n = list(self.cells.lists).index(choices)
            rule = f"'{_LISTS}'!${chr(65 + n)}$2:${chr(65 + n)}${len(self.cells.lists[choices]) + 1}"
        else:
            rule = f'"{",".join(choices)}"'
            if len(rule) > _LONGEST_RULE:
                raise ValueError(f"{column}: a list of {len(rule)} characters does not fit into a cell's rule")
        self._add(column, rule, "", type="list", formula1=rule, showErrorMessage=must, error="Choose from the list.")

    def rule(self, column: str, field: Field, *, hint: str = "") -> None:
        """What the record format says of a field: its choices, its bounds, or that it is text."""
        if field.kind == "choice" and field.choices is not None:
            self.choose(column, tuple(field.choices()))
        elif field.kind == "truth":
            self.choose(column, ("yes", "no"))
        elif field.kind in ("number", "count") and isfinite(field.high):
            said = f"A number from {figure(field.low)} to {figure(field.high)} {field.unit}".strip()
            kind = "decimal" if field.kind == "number" else "whole"
            ends = {"operator": "between", "formula1": f"{field.low:.12g}", "formula2": f"{field.high:.12g}"}
            self._add(column, said, hint or said, type=kind, error=said, **ends)
        elif field.kind == "date":
            first, last = ((date(year, 1, 1) - _DAY_0).days for year in (FIRST_YEAR, LAST_YEAR + 1))
            how = {"type": "date", "operator": "between", "formula1": str(first), "formula2": str(last)}
            self._add(column, "date", "A date, as 2026-01-31", error="A date, as 2026-01-31", **how)
            self._format(column, _FORMATS["date"])
        else:
            if hint or column in self.hints:
                self._add(column, hint, hint, type=None)
            if field.kind not in ("number", "count", "value"):
                self._format(column, _FORMATS.get(field.kind, _TEXT))

    def _format(self, column: str, how: str) -> None:
        self.sheet.cell(self.at, self.names.index(column) + 1).number_format = how

    def _add(self, column: str, key: str, hint: str, **how: Any) -> None:
        """One rule for all cells of a column that share it, and the hint that shows beside such a cell."""
        from openpyxl.worksheet.datavalidation import DataValidation

        rule = self._rules.get((column, key))
        if rule is None:
            said = self.hints.get(column, hint) if column != "value" else hint or self.hints.get(column, "")
            told = {"promptTitle": column, "prompt": said} if said else {}
            how = {"allow_blank": True, "showErrorMessage": True, "showInputMessage": bool(said), **how, **told}
            rule = self._rules[column, key] = DataValidation(**how)
            self.sheet.add_data_validation(rule)
        rule.add(self.sheet.cell(self.at, self.names.index(column) + 1))
