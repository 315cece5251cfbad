"""The demo's workbook: five returns as the Brackmoor bench keeps them, one sheet for each table in `demo_workbook/`."""

import csv
import io
import re
import zipfile
from datetime import date, datetime
from pathlib import Path

from openpyxl import Workbook

TABLES = Path(__file__).with_suffix("")
SHEETS = ("returns", "readings", "observations", "statements", "confirmed")
AS_TEXT = {"accuracy"}  # "0.05" of the reading's unit; a number cell could also be a per cent one
STAMP = (2026, 1, 31, 12, 0, 0)


def write(target: Path) -> None:
    """Write the workbook; the times that its format wants are fixed, so that the bytes are the same every time."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name in SHEETS:
        sheet = book.create_sheet(name)
        with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            rows = csv.reader(file)
            header = next(rows)
            sheet.append(header)
            for row in rows:
                cells = zip(header, row, strict=True)
                sheet.append([text if column in AS_TEXT else _cell(text) for column, text in cells])
    book.properties.creator = "Brackmoor bench"
    book.properties.created = datetime(*STAMP)
    raw = io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as made, zipfile.ZipFile(target, "w") as kept:
        for name in sorted(made.namelist()):
            content = made.read(name)
            if name == "docProps/core.xml":  # saving stamps the time of day
                content = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2026-01-31T12:00:00Z", content)
            kept.writestr(zipfile.ZipInfo(name, STAMP), content, zipfile.ZIP_DEFLATED)


def _cell(text: str) -> str | int | float | date | None:
    """What a spreadsheet would make of it: dates real dates, numbers numbers."""
    if not text:
        return None
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return date.fromisoformat(text)
    if re.fullmatch(r"\d+", text):
        return int(text)
    return float(text) if re.fullmatch(r"\d+\.\d+", text) else text
