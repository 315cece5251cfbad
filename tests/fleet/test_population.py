"""The units table: both forms, both files, every fault at once."""

from datetime import date
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from stripdown.fleet import read_population
from stripdown.record.fault import RecordError
from tests.fleet.made import population


def test_one_row_a_unit(tmp_path: Path) -> None:
    p = population(
        tmp_path, ["00123,K4-150,north,crew 7,2019-01-02,2020-02-03,", "12E4,K4-150,,,,2020-02-03,2021-01-01"]
    )
    assert list(p.units["serial"]) == ["00123", "12E4"]
    assert p.units["installed"].iloc[0] == pd.Timestamp(2020, 2, 3)
    assert p.units["removed"].notna().tolist() == [False, True]
    assert p.stated == {"site", "contractor", "built", "removed"}
    assert not p.monthly


def test_semicolons_and_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "units.csv"
    path.write_text("\ufeffserial;model;installed\nA;K4-150;2020-02-03\n", encoding="utf-8")
    assert list(read_population(path).units["serial"]) == ["A"]


def test_counts_a_month(tmp_path: Path) -> None:
    p = population(tmp_path, ["K4-150,2020-02,120", "K4-150,2020-03-01,80"], head="model,month,installed")
    assert p.monthly
    assert p.units["count"].tolist() == [120, 80]
    assert p.units["installed"].dt.strftime("%Y-%m").tolist() == ["2020-02", "2020-03"]


def test_sheet_of_a_workbook(tmp_path: Path) -> None:
    """Dates are cells, and a serial that looks like a number keeps its digits."""
    book = openpyxl.Workbook()
    sheet = book.create_sheet("units")
    sheet.append(["serial", "model", "installed", "removed"])
    sheet.append([41234567, "K4-150", date(2020, 2, 3), None])
    book.save(tmp_path / "fleet.xlsx")
    p = read_population(tmp_path / "fleet.xlsx")
    assert list(p.units["serial"]) == ["41234567"]
    assert p.units["installed"].iloc[0] == pd.Timestamp(2020, 2, 3)


def test_a_filled_cell_far_away_is_a_fault_not_the_end(tmp_path: Path) -> None:
    """A sheet laid out whole up to its last cell, XFD1048576, would take more memory than any machine has."""
    book = openpyxl.Workbook()
    sheet = book.create_sheet("units")
    sheet.append(["serial", "model", "installed"])
    sheet["XFD1048576"] = "x"
    book.save(tmp_path / "fleet.xlsx")
    with pytest.raises(RecordError, match="far away from the table"):
        read_population(tmp_path / "fleet.xlsx")


@pytest.mark.parametrize(("title", "what"), [("units", "the table is empty"), ("population", "has no sheet units")])
def test_workbook_without_a_table(tmp_path: Path, title: str, what: str) -> None:
    book = openpyxl.Workbook()
    book.create_sheet(title)
    book.save(tmp_path / "fleet.xlsx")
    with pytest.raises(RecordError, match=what):
        read_population(tmp_path / "fleet.xlsx")


def test_own_column_names(tmp_path: Path) -> None:
    path = tmp_path / "units.csv"
    path.write_text("S/N,model,installed\nA,K4-150,2020-02-03\n", encoding="utf-8")
    assert list(read_population(path, columns={"S/N": "serial"}).units["serial"]) == ["A"]


@pytest.mark.parametrize("head", ["Serial,MODEL, Installed ,Removed", "s/n,Model,installed,Out-of use"])
def test_case_blanks_and_dashes_of_column_names_do_not_matter(tmp_path: Path, head: str) -> None:
    path = tmp_path / "units.csv"
    path.write_text(f"{head}\nA,K4-150,2020-02-03,2021-02-03\n", encoding="utf-8")
    read = read_population(path, columns={"S/N": "serial", "out of use": "removed"})
    assert (list(read.units["serial"]), read.notices, read.stated) == (["A"], (), frozenset({"removed"}))


def test_unasked_column_is_a_notice(tmp_path: Path) -> None:
    p = population(tmp_path, ["A,K4-150,2020-02-03,red"], head="serial,model,installed,colour")
    assert [n.what for n in p.notices] == ["a column nobody asked for"]


def test_every_fault_at_once_with_its_row(tmp_path: Path) -> None:
    rows = ["A,K4-150,,,,03/04/2020,", ",K4-150,,,,2020-02-03,", "C,,,,,2020-02-03,never"]
    with pytest.raises(RecordError) as caught:
        population(tmp_path, rows)
    entries = [f.entry for f in caught.value.faults]
    assert sorted(entries) == ["units[2].installed", "units[3].serial", "units[4].model", "units[4].removed"]


def test_many_faults_of_a_kind_are_counted(tmp_path: Path) -> None:
    with pytest.raises(RecordError) as caught:
        population(tmp_path, [f"{i},K4-150,,,,soon," for i in range(100)])
    assert len(caught.value.faults) == 21
    assert "80 more rows" in caught.value.faults[-1].what


@pytest.mark.parametrize(
    "text", ["", "\n", "serial,model\nA,B\n", "month,model\n2020-01,K4\n", "serial,model,installed,model\n"]
)
def test_headings_that_will_not_do(tmp_path: Path, text: str) -> None:
    path = tmp_path / "units.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RecordError):
        read_population(path)


@pytest.mark.parametrize("count", ["-1", "1.5", "many", "inf", ""])
def test_counts_that_will_not_do(tmp_path: Path, count: str) -> None:
    with pytest.raises(RecordError, match="is no count of units"):
        population(tmp_path, [f"K4-150,2020-02,{count}"], head="model,month,installed")


@pytest.mark.parametrize("name", ["units.csv", "units.xlsx"])
def test_broken_file_is_a_fault(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(b"\xff\xfe\x00PK\x03\x04 no table at all \x81")
    with pytest.raises(RecordError):
        read_population(path)


def test_missing_file_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="no such file"):
        read_population(tmp_path / "nothing.csv")
