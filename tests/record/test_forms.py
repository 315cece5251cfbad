"""All forms load to the same record."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from stripdown.record import Record, read, read_all, read_text

from .made import CASES, EXAMPLE, as_tables
from .made_tables import write_csv, write_workbook


def _json(raw: dict[str, Any]) -> str:
    return json.dumps(raw, default=lambda d: d.isoformat())


def _anywhere(record: object) -> Record:
    """A record without the place it came from, and without what depends on the place."""
    assert isinstance(record, Record), record
    return replace(record, file="", folder="", notices=())


TEXTS = {"example": EXAMPLE} | {p.stem: p.read_text(encoding="utf-8") for p in sorted(CASES.glob("C*.toml"))}


@pytest.mark.parametrize("name", TEXTS)
def test_every_form_holds_the_same_record(tmp_path: Path, name: str) -> None:
    raw = tomllib.loads(TEXTS[name])
    (tmp_path / "r.toml").write_text(TEXTS[name], encoding="utf-8")
    (tmp_path / "r.json").write_text(_json(raw), encoding="utf-8")
    (tmp_path / "bom.json").write_text(_json(raw), encoding="utf-8-sig")
    (tmp_path / "r.jsonl").write_text(_json(raw) + "\n\n", encoding="utf-8")
    sheets = as_tables(raw)
    forms = {
        "toml": read(tmp_path / "r.toml"),
        "json": read(tmp_path / "r.json"),
        "with byte order mark": read(tmp_path / "bom.json"),
        "jsonl": read(tmp_path / "r.jsonl"),
        "standard input, lines": read_text(_json(raw))[0],
        "standard input, whole": read_text(json.dumps(json.loads(_json(raw)), indent=2))[0],
        "csv": read(write_csv(tmp_path / "csv", sheets)),
        "csv with decimal comma": read(write_csv(tmp_path / "komma", sheets, comma=True)),
        "csv with byte order mark": read(write_csv(tmp_path / "bom", sheets, encoding="utf-8-sig")),
        "workbook": read(write_workbook(tmp_path / "r.xlsx", sheets)),
    }
    expected = _anywhere(forms["toml"])
    assert expected.readings or expected.observations
    for form, record in forms.items():
        assert _anywhere(record) == expected, form


def test_the_case_records_read_without_fault() -> None:
    results = read_all([CASES])
    assert len(results) == 16
    assert [r.claim for r in results if isinstance(r, Record) and not r.notices] == [r.claim for r in results]


def test_the_example_says_what_stands_in_it(tmp_path: Path) -> None:
    path = tmp_path / "nb-0117.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    record = read(path)
    assert (record.claim, record.revision, record.file) == ("NB-2026-0117", 1, str(path))
    assert (record.unit.serial, record.unit.plate.voltage, record.unit.inverter) == ("K4-7719-0312", 400.0, False)
    assert (record.history.alarms.oil, record.history.alarms.phase, record.history.hours_off) == (3, 0, 0.0)
    winding, insulation, pin = record.readings
    assert (winding.between, winding.value, winding.base, winding.temperature) == ("U-V", 0.86, 0.86, 24.0)
    assert (insulation.value, insulation.base, insulation.gas) == (620.0, 620e6, "air")
    assert (pin.base, pin.base_unit, pin.cylinder, pin.entry) == (0.09, "mm", 2, "readings[3]")
    (bolts,) = record.observations
    assert (bolts.finding, bolts.extent, bolts.cylinders) == ("backer_bolts.backed_out", "heavy", (2,))
    assert record.statements[0].text == "unit was never opened"
    assert record.confirmed[0].causes == ("low_load",)
    assert [n.entry for n in record.notices] == ["observations[1].photo"]
