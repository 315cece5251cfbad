"""Ids in tables as pages print them and people type them: case, blanks and dashes do not matter; in TOML they do."""

from pathlib import Path
from typing import Any

import pytest

from stripdown.record import read

from .made import faults, good
from .made_tables import write_csv, write_workbook
from .test_tables import RETURN, rejected


def _sheets(**values: str) -> dict[str, list[dict[str, Any]]]:
    observation = {"part": "connecting_rod", "condition": "broken", "extent": "heavy"}
    reading = {"quantity": "winding_resistance", "between": "U-V", "at": "leads", "value": 0.86, "unit": "ohm"}
    confirmed = {"first": "floodback", "causes": "low_load", "outcome": "replace_compressor"}
    kept = {"observations": observation, "confirmed": confirmed, "returns": dict(RETURN)}
    if not values.keys() & {"motor"}:
        kept["readings"] = reading
    for name, value in values.items():
        sheet = next((s for s, row in kept.items() if name in row), "returns")
        kept[sheet][name] = value
    return {sheet: [{"claim": "NB-1"} | row] for sheet, row in kept.items()}


@pytest.mark.parametrize("form", ["csv", "xlsx"])
@pytest.mark.parametrize(
    ("column", "typed", "meant"),
    [
        ("part", "Connecting rod", "connecting_rod"),
        ("part", "connecting-rod", "connecting_rod"),
        ("part", " CONNECTING  ROD ", "connecting_rod"),
        ("condition", "Broken", "broken"),
        ("extent", "Slight", "slight"),
        ("quantity", "winding resistance", "winding_resistance"),
        ("at", "Terminals", "terminals"),
        ("motor", "part winding", "part_winding"),
        ("motor", "part\u2013winding", "part_winding"),
        ("failed_when", "after defrost", "after_defrost"),
        ("duty", "Low", "low"),
        ("first", "Oil starvation", "oil_starvation"),
        ("causes", "low load; Liquid overfeed", "low_load;liquid_overfeed"),
        ("outcome", "replace compressor", "replace_compressor"),
    ],
)
def test_an_id_is_read_whatever_its_case_blanks_and_dashes(
    tmp_path: Path, form: str, column: str, typed: str, meant: str
) -> None:
    records = []
    for name, value in (("typed", typed), ("meant", meant)):
        sheets = _sheets(**{column: value})
        path = tmp_path / name
        table = write_csv(path, sheets) if form == "csv" else write_workbook(path.with_suffix(".xlsx"), sheets)
        records.append(read(table))
    assert records[0].digest == records[1].digest


@pytest.mark.parametrize(
    ("column", "typed"), [("part", "connecting rods"), ("condition", "worn out"), ("motor", "partial winding")]
)
def test_what_is_no_id_stays_a_fault_as_it_was_typed(tmp_path: Path, column: str, typed: str) -> None:
    told = rejected(write_csv(tmp_path, _sheets(**{column: typed})))
    assert len(told) == 1
    assert f'"{typed}"' in told[0]


def test_a_condition_of_another_part_stays_a_fault(tmp_path: Path) -> None:
    told = rejected(write_csv(tmp_path, _sheets(condition="Washed bright")))
    assert told == ['observations row 2, column condition: "washed_bright" is no condition of connecting_rod']


def test_a_record_by_hand_is_told_the_id(tmp_path: Path) -> None:
    raw = good()
    raw["observations"] = [{"part": "connecting rod", "condition": "broken", "extent": "heavy"}]
    raw["unit"] |= {"motor": "part winding"}
    assert {"did you mean connecting_rod?", "did you mean part_winding?"} <= {fix for _, _, fix in faults(raw)}
