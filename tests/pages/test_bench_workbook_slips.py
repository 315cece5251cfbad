"""What a slip of the pen in the bench workbook does."""

from collections.abc import Mapping
from pathlib import Path

import openpyxl
import pytest

from stripdown.record import Record, Rejected, read_all
from tests.pages.workbooks import UNIT, WHOLE, faults, filled, read_back, rows, write


def spoilt(tmp_path: Path, sheet: str, wanted: Mapping[str, str], **cells: object) -> Record | Rejected:
    """The blank with claim and serial, and these cells in the first row of `sheet` that holds `wanted`."""
    book = filled({"claim": "A-1", "unit": UNIT})
    row = next(row for _, row in rows(book[sheet]) if all(row[k].value == v for k, v in wanted.items()))
    write(row, cells)
    return read_back(book, tmp_path)


def test_a_note_without_an_answer_is_a_fault_and_no_heavy_finding(tmp_path: Path) -> None:
    lifted = {"part": "relief_valve", "condition": "lifted"}
    (said,) = faults(spoilt(tmp_path, "observations", lifted, note="seat clean"))
    assert said.startswith("observations row ")
    assert "column extent" in said


@pytest.mark.parametrize(
    ("wanted", "typed", "what", "words"),
    [
        ({"part": "oil", "condition": "low"}, {"note": "some"}, "is empty", "sound, slight, heavy or cannot read"),
        ({"part": "oil", "condition": "low"}, {"extent": "bad"}, '"bad"', "sound, slight, heavy or cannot read"),
        ({"part": "oil", "condition": "wrong_type"}, {"extent": "bad"}, '"bad"', "sound, yes or cannot read"),
        ({"part": "crank", "condition": "turns_freely"}, {"extent": "stiff"}, '"stiff"', "yes or cannot read"),
    ],
)
def test_a_fault_names_the_words_of_the_list(
    tmp_path: Path, wanted: dict[str, str], typed: dict[str, str], what: str, words: str
) -> None:
    result = spoilt(tmp_path, "observations", wanted, **typed)
    assert isinstance(result, Rejected)
    (fault,) = result.faults
    assert fault.what.startswith(what)
    assert fault.fix == f"choose from its list: {words}"


def test_a_temperature_without_a_value_is_a_fault(tmp_path: Path) -> None:
    (said,) = faults(spoilt(tmp_path, "readings", {"quantity": "winding_resistance"}, temperature=24))
    assert "column value: is missing" in said


@pytest.mark.parametrize(
    ("word", "extent"),
    [("sound", "none"), ("Sound", "none"), ("slight", "slight"), ("cannot read", "unreadable"), ("none", "none")],
)
def test_words_of_the_sheet_are_extents(tmp_path: Path, word: str, extent: str) -> None:
    record = spoilt(tmp_path, "observations", {"part": "oil", "condition": "low"}, extent=word)
    assert isinstance(record, Record)
    assert [(o.finding, o.extent) for o in record.observations] == [("oil.low", extent)]


def test_not_looked_at_is_no_entry(tmp_path: Path) -> None:
    record = spoilt(tmp_path, "observations", {"part": "relief_valve"}, extent="not looked at", note="no key")
    assert isinstance(record, Record)
    assert record.observations == ()


def test_a_crank_that_turns_is_yes_and_never_sound(tmp_path: Path) -> None:
    turns = {"part": "crank", "condition": "turns_freely"}
    record = spoilt(tmp_path, "observations", turns, extent="yes")
    assert isinstance(record, Record)
    assert record.observations[0].finding == "crank.turns_freely"
    assert "none says nothing of crank" in faults(spoilt(tmp_path, "observations", turns, extent="sound"))[0]


def test_a_second_compressor_needs_its_claim_in_every_row(tmp_path: Path) -> None:
    book = filled({"claim": "A-1", "unit": UNIT} | {"observations": [WHOLE["observations"][2]]})
    names = [c.value for c in book["returns"][1]]
    write(
        {n: book["returns"].cell(3, i) for i, n in enumerate(names, 1)}, {"claim": "A-2", "serial": "9", "model": "M"}
    )
    book.save(tmp_path / "two.xlsx")
    results = read_all([tmp_path / "two.xlsx"])
    assert [r.claim for r in results] == ["A-1", "A-2", None]
    assert "has no claim" in faults(results[2])[0]


def test_an_ordinary_table_is_as_strict_as_ever(tmp_path: Path) -> None:
    """Without the column (step) an empty value is a fault, and so is a row without a claim."""
    book = openpyxl.Workbook()
    del book[book.sheetnames[0]]
    for name, header, row in (
        ("returns", ("claim", "serial", "model"), ("A", "S", "M")),
        ("readings", ("claim", "quantity", "value", "unit"), ("A", "oil_moisture", None, "ppm")),
        ("observations", ("claim", "part", "condition", "extent"), (None, "oil", "low", "none")),
    ):
        sheet = book.create_sheet(name)
        sheet.append(header)
        sheet.append(row)
    book.save(tmp_path / "t.xlsx")
    said = [faults(r) for r in read_all([tmp_path / "t.xlsx"])]
    assert said == [["readings row 2, column value: is missing"], ["observations row 2: has no claim"]]
