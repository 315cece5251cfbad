"""A mapping, from whatever form, → a checked `Record`, or everything that is wrong with it."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from stripdown import vocabulary
from stripdown.record import consistency, readings, schema
from stripdown.record.fault import Fault
from stripdown.record.fields import check_table
from stripdown.record.model import (
    Alarms,
    Confirmed,
    History,
    Observation,
    Plate,
    Reading,
    Record,
    Rejected,
    Statement,
    Unit,
)
from stripdown.record.notes import Notes
from stripdown.record.text import either, near, shown
from stripdown.record.values import claim_fault
from stripdown.record.write import digest

_SECTION = re.compile(r"(\w*)(?:\[([0-9]{1,9})\])?")


def parse(raw: object, *, file: str, folder: str, faults: Sequence[Fault] = ()) -> Record | Rejected:
    """The record that `raw` holds, checked; `faults` were found on the way here and stand first.

    `file` is what messages name, `folder` where photos and the log are looked for.
    """
    notes = Notes(file, folder)
    notes.faults.extend(faults)
    claim = claim_of(raw)
    if not _format_known(raw, notes):
        return Rejected(claim=claim, file=file, faults=tuple(notes.faults))
    assert isinstance(raw, Mapping)
    top = check_table(raw, "", "", notes)
    unit, history = top.get("unit", {}), top.get("history", {})
    measured = tuple(_readings(top.get("readings", ()), unit.get("motor"), notes))
    seen = tuple(_observations(top.get("observations", ()), notes))
    consistency.dates(top, unit, history, notes)
    consistency.cylinders(top, unit, notes)
    consistency.doubled_readings(top.get("readings", ()), notes)
    consistency.doubled_observations(top.get("observations", ()), notes)
    if unit.get("serial") is not None and history.get("replaces") == unit["serial"]:
        notes.fault(
            "history.replaces",
            "a compressor cannot replace itself",
            "write the serial of the one that stood there before",
        )
    if notes.faults:
        return Rejected(claim=claim, file=file, faults=tuple(sorted(notes.faults, key=_place)))
    consistency.run_hours(top, unit, history, notes)
    consistency.files_beside(seen, history, notes)
    record = _built(top, file, folder, measured, seen, notes)
    return replace(record, digest=digest(record))


def _place(fault: Fault) -> tuple[int, int]:
    """Faults in the order of the form: sections as they stand in it, entries by number."""
    section, number = _SECTION.match(fault.entry).groups("0")  # type: ignore[union-attr]  # it matches any text
    order = [*schema.SECTIONS[""]]
    return (order.index(section) if section in order else -1, int(number))


def _built(
    top: dict[str, Any],
    file: str,
    folder: str,
    measured: tuple[Reading, ...],
    seen: tuple[Observation, ...],
    notes: Notes,
) -> Record:
    unit, history = top["unit"], top.get("history", {})
    return Record(
        claim=top["claim"],
        file=file,
        folder=folder,
        unit=Unit(**unit | {"plate": Plate(**unit.get("plate", {}))}),
        history=History(**history | {"alarms": Alarms(**history.get("alarms", {}))}),
        readings=measured,
        observations=seen,
        statements=tuple(Statement(by=s.get("by"), text=s["text"]) for s in top.get("statements", ())),
        confirmed=tuple(Confirmed(**c) for c in top.get("confirmed", ())),
        revision=top.get("revision"),
        examined_by=top.get("examined_by"),
        examined_on=top.get("examined_on"),
        instruments=top.get("instruments", ()),
        notices=tuple(notes.notices),
    )


def claim_of(raw: object) -> str | None:
    """The claim that a mapping states, where it is one that may stand."""
    claim = raw.get("claim") if isinstance(raw, Mapping) else None
    return claim if isinstance(claim, str) and claim_fault(claim) is None else None


def _format_known(raw: object, notes: Notes) -> bool:
    if not isinstance(raw, Mapping):
        notes.fault(
            "", f"a record is a table of fields; this is {shown(raw)}", "one record a file, or one a line in .jsonl"
        )
        return False
    if "format" not in raw:
        notes.fault("format", "is missing: this is not a record", f"write format = {schema.FORMAT} at the top")
        return False
    given = raw["format"]
    if type(given) is int and given == schema.FORMAT:
        return True
    notes.fault("format", f"format {shown(given)} is not known here", f"this version reads format = {schema.FORMAT}")
    return False


def _readings(tables: Sequence[dict[str, Any]], motor: str | None, notes: Notes) -> Iterator[Reading]:
    for i, got in enumerate(tables, start=1):
        reading = readings.build(got, f"readings[{i}]", motor, notes)
        if reading is not None:
            yield reading
    zones = {got["time"].tzinfo is None for got in tables if "time" in got}
    if len(zones) > 1:
        notes.fault("readings", "some times carry an offset from UTC and some do not", "write all of them one way")


def _observations(tables: Sequence[dict[str, Any]], notes: Notes) -> Iterator[Observation]:
    for i, got in enumerate(tables, start=1):
        entry = f"observations[{i}]"
        part, condition = got.get("part"), got.get("condition")
        if part is None or condition is None:
            continue
        if condition not in schema.conditions()[part]:
            _unknown_condition(part, condition, entry, notes)
            continue
        extent = got.get("extent")
        if extent is None and vocabulary.presence_only(part, condition):
            extent = "heavy"
        if extent is None:
            if not notes.blames(f"{entry}.extent"):
                notes.fault(f"{entry}.extent", "is missing", "write none, slight, heavy or unreadable")
            continue
        if extent == "none" and part in schema.EXCLUSIVE:
            fix = f"write what is true: {either(schema.conditions()[part][:2])}"
            notes.fault(f"{entry}.extent", f"none says nothing of {part}", fix)
        yield Observation(
            entry=entry,
            part=part,
            condition=condition,
            extent=extent,
            cylinders=got.get("cylinder", ()),
            where=got.get("where"),
            photos=got.get("photo", ()),
            note=got.get("note"),
        )


def _unknown_condition(part: str, condition: str, entry: str, notes: Notes) -> None:
    options = schema.conditions()[part]
    meant = near(condition, options)
    fix = f"did you mean {meant}?" if meant else f"write {either(options)}"
    notes.fault(f"{entry}.condition", f"{shown(condition)} is no condition of {part}", fix)
