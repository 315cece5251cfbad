"""What the fields of one record say together: dates, cylinder numbers, doubled entries, files beside it."""

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

from stripdown.record import schema
from stripdown.record.model import Observation
from stripdown.record.notes import Notes
from stripdown.record.readings import ends
from stripdown.record.text import shown

_IMAGE_BEGINNINGS = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"GIF8", b"RIFF", b"II*\x00", b"MM\x00*", b"BM")


def dates(top: dict[str, Any], unit: dict[str, Any], history: dict[str, Any], notes: Notes) -> None:
    life = {
        "unit.built": unit.get("built"),
        "history.installed": history.get("installed"),
        "history.failed": history.get("failed"),
        "history.returned": history.get("returned"),
        "examined_on": top.get("examined_on"),
    }
    known = [(entry, day) for entry, day in life.items() if day is not None]
    for (before, early), (after, late) in pairwise(known):
        _in_order(before, early, after, late, notes)
    if history.get("warranty_until") and unit.get("built"):
        _in_order("unit.built", unit["built"], "history.warranty_until", history["warranty_until"], notes)


def _in_order(before: str, early: date, after: str, late: date, notes: Notes) -> None:
    if late < early:
        what = f"{late.isoformat()} is before {before} {early.isoformat()}"
        notes.fault(after, what, "one of the two is wrong: dates cannot go backwards")


def cylinders(top: dict[str, Any], unit: dict[str, Any], notes: Notes) -> None:
    """Cylinder numbers above the machine's, where the record says how many it has."""
    if (most := unit.get("cylinders")) is None:
        return
    for name in ("readings", "observations"):
        for i, got in enumerate(top.get(name, ()), start=1):
            given = got.get("cylinder", ())
            for number in (given,) if isinstance(given, int) else given:
                if number > most:
                    what = f"cylinder {number} of a machine with {most}"
                    notes.fault(f"{name}[{i}].cylinder", what, "count from the pump end, or mend unit.cylinders")


_SAME_READING = ("quantity", "between", "at", "cylinder", "site", "time", "temperature", "test_voltage", "gas")


def doubled_readings(tables: Sequence[dict[str, Any]], notes: Notes) -> None:
    first: dict[tuple[object, ...], int] = {}
    for i, got in enumerate(tables, start=1):
        quantity = schema.QUANTITIES.get(got.get("quantity", ""))
        if quantity is None or quantity.repeats:
            continue
        between = got.get("between")
        key = tuple(ends(between) if k == "between" and between else got.get(k) or None for k in _SAME_READING)
        if key in first:
            what = f"{got['quantity']} stands already in readings[{first[key]}]"
            notes.fault(f"readings[{i}]", what, "take one out, or give each its time")
        first.setdefault(key, i)


def doubled_observations(tables: Sequence[dict[str, Any]], notes: Notes) -> None:
    first: dict[tuple[str, str, int | None], int] = {}
    stated: dict[str, tuple[str, int]] = {}
    for i, got in enumerate(tables, start=1):
        part, condition = got.get("part"), got.get("condition")
        if part is None or condition is None:
            continue
        for number in got.get("cylinder") or (None,):
            key = (part, condition, number)
            if key in first:
                where = f" on cylinder {number}" if number else ""
                what = f"{part} {condition}{where} stands already in observations[{first[key]}]"
                notes.fault(f"observations[{i}]", what, "keep one of them, or number the cylinders")
            first.setdefault(key, i)
        if part in schema.EXCLUSIVE and condition in schema.conditions()[part][:2]:
            other, j = stated.setdefault(part, (condition, i))
            if other != condition:
                what = f"{part} {condition} contradicts observations[{j}], {other}"
                notes.fault(f"observations[{i}]", what, "keep what is true")


def run_hours(top: dict[str, Any], unit: dict[str, Any], history: dict[str, Any], notes: Notes) -> None:
    hours = unit.get("run_hours")
    start = history.get("installed") or unit.get("built")
    end = history.get("failed") or history.get("returned") or top.get("examined_on")
    if hours is None or start is None or end is None:
        return
    calendar = ((end - start).days + 1) * 24
    if hours > calendar:
        what = f"{hours:g} h is more than the {calendar} h from {start.isoformat()} to {end.isoformat()}"
        notes.notice("unit.run_hours", what, "look at the hour counter and at the dates")


def files_beside(seen: Sequence[Observation], history: dict[str, Any], notes: Notes) -> None:
    """Photos and the log that the record names: there, and of the right kind?"""
    for observation in seen:
        for photo in observation.photos:
            begins = _first_bytes(Path(notes.folder) / photo)
            if begins is None:
                notes.notice(f"{observation.entry}.photo", f"{shown(photo)} is not there", "the page goes without it")
            elif not begins.startswith(_IMAGE_BEGINNINGS) and begins[4:8] != b"ftyp":
                notes.notice(
                    f"{observation.entry}.photo", f"{shown(photo)} is not an image", "the page goes without it"
                )
    if (log := history.get("log")) is not None:
        if _first_bytes(Path(notes.folder) / log) is None:
            notes.notice("history.log", f"{shown(log)} is not there", "the record is judged without it")
        else:
            notes.notice("history.log", "the site log is kept but not yet used", "write what it shows as readings")


def _first_bytes(path: Path) -> bytes | None:
    try:
        if not path.is_file():  # never open a pipe: it would wait for ever
            return None
        with path.open("rb") as file:
            return file.read(16)
    except (OSError, ValueError):
        return None
