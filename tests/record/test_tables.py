"""Workbooks and CSV folders: cells, rows that belong together, and faults with sheet, row and column."""

import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from stripdown.record import Columns, Record, RecordError, Rejected, read, read_all, read_columns

from .made_tables import write_csv, write_workbook

RETURN: dict[str, Any] = {"claim": "NB-1", "serial": "00123", "model": "12E4"}


def rejected(path: Path, **kwargs: Any) -> list[str]:
    """'entry: what' of every fault."""
    return [f"{f.entry}: {f.what}" for r in read_all([path], **kwargs) if isinstance(r, Rejected) for f in r.faults]


def csv_folder(tmp_path: Path, **texts: str) -> Path:
    for name, text in texts.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("column", "typed", "fix"),
    [
        ("run_hours", "9,500 h", "write digits with a decimal point, without unit"),
        ("cylinders", "four", "write it without decimal point"),
        ("inverter", "maybe", "write true or false"),
    ],
)
def test_what_would_be_right_is_said_of_a_cell(tmp_path: Path, column: str, typed: str, fix: str) -> None:
    (result,) = read_all([write_csv(tmp_path, {"returns": [RETURN | {column: typed}]})])
    assert isinstance(result, Rejected)
    assert [f.fix for f in result.faults] == [fix]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_serials_stay_text(tmp_path: Path, form: str) -> None:
    sheets = {"returns": [RETURN]}
    path = write_csv(tmp_path, sheets) if form == "csv" else write_workbook(tmp_path / "b.xlsx", sheets)
    record = read(path)
    assert (record.unit.serial, record.unit.model, record.notices) == ("00123", "12E4", ())


def test_a_serial_that_a_workbook_made_a_number_is_noticed(tmp_path: Path) -> None:
    record = read(write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN | {"serial": 123, "claim": 117}]}))
    assert (record.claim, record.unit.serial) == ("117", "123")
    assert [(n.entry, n.what) for n in record.notices] == [
        ("returns row 2, column serial", "stands as a number: zeros in front of it are lost")
    ]


def test_rows_are_tied_by_claim_whatever_its_case_and_place(tmp_path: Path) -> None:
    sheets = {
        "returns": [RETURN, RETURN | {"claim": "NB-2", "serial": "S2"}],
        "observations": [
            {
                "claim": "nb-2",
                "part": "oil",
                "condition": "low",
                "extent": "none",
                "cylinder": None,
                "photo": "a.jpg;b.jpg",
            },
            {"claim": "NB-1", "part": "suction_reed", "condition": "broken", "extent": "heavy", "cylinder": [1, 4]},
            {"claim": "NB-2", "part": "crank", "condition": "turns_freely"},
        ],
    }
    first, second = read_all([write_csv(tmp_path, sheets)])
    assert isinstance(first, Record)
    assert isinstance(second, Record)
    assert [o.cylinders for o in first.observations] == [(1, 4)]
    assert [o.finding for o in second.observations] == ["oil.low", "crank.turns_freely"]
    assert second.observations[0].photos == ("a.jpg", "b.jpg")


@pytest.mark.parametrize(
    ("cell", "built"),
    [
        (date(2019, 4, 11), date(2019, 4, 11)),
        (datetime(2019, 4, 11), date(2019, 4, 11)),
        ("2019-04-11", date(2019, 4, 11)),
    ],
)
def test_real_and_iso_dates_of_a_workbook(tmp_path: Path, cell: object, built: date) -> None:
    assert read(write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN | {"built": cell}]})).unit.built == built


@pytest.mark.parametrize(
    "cell", ["11/04/2019", "11.04.2019", 43566, 43566.5, datetime(2019, 4, 11, 8, 30), "11 April", True]
)
def test_a_date_that_is_none_or_ambiguous(tmp_path: Path, cell: object) -> None:
    (fault,) = rejected(write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN | {"built": cell}]}))
    assert fault.startswith("returns row 2, column built: must be a date")


@pytest.mark.parametrize(("order", "built"), [("dmy", date(2019, 4, 11)), ("mdy", date(2019, 11, 4))])
def test_the_columns_file_tells_day_from_month(tmp_path: Path, order: str, built: date) -> None:
    path = write_csv(tmp_path, {"returns": [RETURN | {"built": "11/04/2019"}]})
    (record,) = read_all([path], columns=Columns(dates=order))
    assert isinstance(record, Record)
    assert record.unit.built == built


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("claim,serial,model,run_hours\nA,S,M,21.400.5", 'must be a number; got "21.400.5"'),
        ("claim;serial;model;run_hours\nA;S;M;21.4", 'must be a number; got "21.4"'),
        ("claim,serial,model,run_hours\nA,S,M,=1+1", 'must be a number; got "=1+1"'),
        ("claim,serial,model,cylinders\nA,S,M,4.5", 'must be a whole number; got "4.5"'),
        ("claim,serial,model,inverter\nA,S,M,perhaps", 'must be true or false; got "perhaps"'),
        ("claim,serial,model,run_hours\nA,S,M,1e400", "must be a finite number; got inf"),
        ("claim,serial,model,cylinders\nA,S,M," + "9" * 5000, "must be a whole number"),
    ],
)
def test_a_cell_that_is_no_value(tmp_path: Path, text: str, what: str) -> None:
    (fault,) = rejected(csv_folder(tmp_path, returns=text))
    assert what in fault
    assert fault.startswith("returns row 2, column ")


@pytest.mark.parametrize(("cell", "value"), [("true", True), ("No", False), ("1", True), ("0", False)])
def test_truths(tmp_path: Path, cell: str, value: bool) -> None:
    record = read(csv_folder(tmp_path, returns=f"claim,serial,model,inverter\nA,S,M,{cell}"))
    assert record.unit.inverter is value


def test_decimal_comma(tmp_path: Path) -> None:
    readings = "claim;quantity;value;unit;accuracy\nA;main_bearing_play;0,44;mm;0,5% + 0,02\n"
    record = read(csv_folder(tmp_path, returns="claim;serial;model\nA;S;M\n", readings=readings))
    assert record.readings[0].value == 0.44
    assert record.readings[0].accuracy is not None
    assert record.readings[0].accuracy.absolute == 0.02


def test_faults_name_sheet_row_and_own_column(tmp_path: Path) -> None:
    folder = csv_folder(
        tmp_path,
        returns="claim,S/N,model,failed,installed\n\nA,S,M,2020-01-01,2021-01-01\n",
        readings="claim,quantity,value,unit\nA,oil_moisture,20,ppm\nA,oil_acid_number,x,kPa\n",
        observations="claim,part,condition,extent\nA,oil,low,bad\n",
    )
    columns = Columns(own={"returns": {"s/n": "serial"}})
    assert [f.split(":")[0] for f in rejected(folder, columns=columns)] == [
        "returns row 3, column failed",
        "readings row 3, column value",
        "readings row 3, column unit",
        "observations row 2, column extent",
    ]
    (missing, *_) = rejected(folder)
    assert missing == "returns row 3, column serial: is missing"


def test_what_is_missing_is_told_as_a_cell_or_a_column_to_fill_in(tmp_path: Path) -> None:
    folder = csv_folder(tmp_path, returns="claim,serial\nA,\n,S\n")
    told = [(f.entry, f.fix) for r in read_all([folder]) if isinstance(r, Rejected) for f in r.faults]
    assert told == [
        ("returns row 2, column serial", "fill the cell in"),
        ("returns row 2, column model", "add a column model"),
        ("returns row 3, column claim", "fill the cell in with the number of the claim"),
        ("returns row 3, column model", "add a column model"),
    ]


def test_of_many_columns_nobody_asked_for_the_first_are_named(tmp_path: Path) -> None:
    strange = [f"zz{i}" for i in range(500)]
    folder = csv_folder(tmp_path, returns=",".join(["claim", "serial", "model", *strange]) + "\nA,S,M\n")
    told = [n.what for n in read(folder).notices]
    assert len(told) == 21
    assert told[-1] == "480 more columns are not known here"


def test_unknown_columns_and_near_misses_of_sheets_are_notices(tmp_path: Path) -> None:
    folder = csv_folder(tmp_path, returns="claim,serial,model,colour,instaled\nA,S,M,grey,2020-01-01\n")
    record = read(folder)
    assert [(n.entry, n.what, n.fix) for n in record.notices] == [
        ("returns", 'column "colour" is not known here', "it was passed over; a columns file can give it a meaning"),
        ("returns", 'column "instaled" is not known here', "did you mean installed?"),
    ]
    book = write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN], "reading": [{"claim": "A"}], "Help": [{"a": 1}]})
    assert [n.fix for n in read(book).notices] == ["did you mean readings?"]


def test_rows_that_belong_to_nobody_are_faults_and_the_rest_is_read(tmp_path: Path) -> None:
    folder = csv_folder(
        tmp_path,
        returns="claim,serial,model\nA-1,S,M\n",
        observations="claim,part,condition,extent\nA-2,oil,low,none\n,oil,low,none\n,,,\nA-1,oil,low,none\n",
    )
    results = read_all([folder])
    assert [r.claim for r in results if isinstance(r, Record)] == ["A-1"]
    assert rejected(folder) == [
        'observations row 2, column claim: "A-2" has no row in returns',
        "observations row 3: has no claim",
    ]


@pytest.mark.parametrize(
    ("texts", "what"),
    [
        ({"returns": ""}, "sheet returns has no column claim: it is empty"),
        ({"returns": "serial,model\nS,M\n"}, "has no column claim"),
        ({"returns": "claim,serial,Serial\nA,S,S\n"}, "two columns for serial"),
        ({"returns": "claim,serial,model\n"}, "has no rows"),
        ({"returns": 'claim,serial,model\nA,"S"x,M\n'}, "returns.csv is no table: line 2"),
        ({"returns": "claim,serial,model\nA,S,M\n", "readings": "quantity\nx\n"}, "sheet readings has no column claim"),
        ({"returns": "claim,serial,model\nA,0,86,M\n"}, "has more cells than the first row has names"),
    ],
)
def test_tables_that_cannot_be_read(tmp_path: Path, texts: dict[str, str], what: str) -> None:
    assert any(what in fault for fault in rejected(csv_folder(tmp_path, **texts)))


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16"])
def test_another_encoding_is_one_clear_fault(tmp_path: Path, encoding: str) -> None:
    write_csv(tmp_path, {"returns": [RETURN | {"site": "Kühlhaus"}]}, encoding=encoding)
    (fault,) = rejected(tmp_path)
    assert "not UTF-8" in fault


def test_a_doubled_claim_names_the_other_row(tmp_path: Path) -> None:
    folder = csv_folder(tmp_path, returns="claim,serial,model\nA,S,M\na,S2,M\n")
    assert rejected(folder) == [
        f"returns row 2, column claim: A stands again: a in {folder}: returns row 3",
        f"returns row 3, column claim: a stands again: A in {folder}: returns row 2",
    ]


def test_of_a_workbook_the_stored_values_are_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Returns"
    sheet.append(["Claim", "Serial", "Model", "Run hours"])
    sheet.append(["A", "=1+1", "M", 5])
    book.save(tmp_path / "b.xlsx")
    assert rejected(tmp_path / "b.xlsx") == ["returns row 2, column Serial: is missing"]  # nothing was stored for it


def test_a_cell_far_away_is_refused_before_it_takes_the_memory(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active["XFD1048576"] = 1
    book.save(tmp_path / "far.xlsx")
    (fault,) = rejected(tmp_path / "far.xlsx")
    assert "far away from the table" in fault


def test_a_format_far_away_is_no_cell(tmp_path: Path) -> None:
    path = write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN]})
    book = openpyxl.load_workbook(path)
    book["returns"]["XFD1048576"].number_format = "0.0"
    book.save(path)
    assert read(path).claim == "NB-1"


def test_a_workbook_that_expands_without_end(tmp_path: Path) -> None:
    path = write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN]})
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as book, book.open("xl/bomb.xml", "w") as part:
        for _ in range(201):
            part.write(b" " * 1_000_000)
    assert path.stat().st_size < 1_000_000
    (fault,) = rejected(path)
    assert "is larger than 200 MB" in fault


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04", b"not a zip", b"\xd0\xcf\x11\xe0" + b"\0" * 600])
def test_a_broken_workbook_is_one_clear_fault(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "b.xlsx").write_bytes(data)
    (fault,) = rejected(tmp_path / "b.xlsx")
    assert "is no .xlsx workbook" in fault


def test_parts_of_a_workbook_that_are_damaged(tmp_path: Path) -> None:
    path = write_workbook(tmp_path / "b.xlsx", {"returns": [RETURN]})
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    for name in parts:
        for data in (b"", parts[name][: len(parts[name]) // 2], b"\xff\xfe" + parts[name], b"<a/>"):
            with zipfile.ZipFile(path, "w") as book:
                for other, whole in parts.items():
                    book.writestr(other, data if other == name else whole)
            results = read_all([path])
            assert len(results) == 1, name


def test_a_workbook_without_returns(tmp_path: Path) -> None:
    units = write_workbook(
        tmp_path / "units.xlsx", {"units": [{"serial": "S", "model": "M", "installed": "2020-01-01"}]}
    )
    assert rejected(units) == [": has no row in a sheet returns"]
    write_csv(tmp_path, {"returns": [RETURN], "units": [{"serial": "S"}]})
    assert [r.claim for r in read_all([tmp_path])] == ["NB-1"]


def test_own_column_names(tmp_path: Path) -> None:
    path = tmp_path / "columns.toml"
    path.write_text(
        'dates = "dmy"\nreturns.serial = "S/N"\nreturns.installed = "Start Up"\n'
        'readings.claim = "No"\nunits.removed = "Out"\n'
    )
    folder = csv_folder(
        tmp_path,
        returns="claim,s/n,model,start-up\nA,S,M,03.02.2020\n",
        readings="NO,quantity,value,unit\nA,superheat,8,K\n",
    )
    columns = read_columns(path)
    (record,) = read_all([folder / "returns.csv"], columns=columns)
    assert isinstance(record, Record)
    assert (record.unit.serial, record.history.installed, len(record.readings)) == ("S", date(2020, 2, 3), 1)
    assert (columns.known("units")["out"], columns.known("units")["serial"]) == ("removed", "serial")


def test_own_names_of_files_with_or_without_their_ending(tmp_path: Path) -> None:
    (tmp_path / "columns.toml").write_text('[sheets]\nreturns = "RMA-List.csv"\nreadings = "our values"\n')
    columns = read_columns(tmp_path / "columns.toml")
    (tmp_path / "RMA list.csv").write_text("claim,serial,model\nA,S,M\n")
    (tmp_path / "Our_Values.csv").write_text("claim,quantity,value,unit\nA,superheat,8,K\n")
    (record,) = read_all([tmp_path], columns=columns)
    assert isinstance(record, Record)
    assert len(record.readings) == 1
    (tmp_path / "readings.csv").write_text("claim,quantity,value,unit\nA,superheat,8,K\n")
    assert rejected(tmp_path, columns=columns) == [": holds two tables readings: Our_Values.csv and readings.csv"]


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ('readings = "Messwerte"', "write readings below [sheets] where this is the name of your sheet or file"),
        ('readings = "Messwerte"', 'readings.value = "…"'),
        ('serial = "S/N"', "write returns.serial, the sheet before the column"),
        ('sheets = "RMA"', "write [sheets] and below it a line for each"),
        ('sheets.retruns = "RMA"', "did you mean returns?"),
        ('sheets.units = "U"', "the sheets are returns, readings, observations, confirmed, statements"),
        ("sheets.returns = 5", "write the name of your sheet in quotes"),
        ('sheets.returns = "x"\nsheets.readings = "X.csv"', "give each sheet one meaning"),
    ],
)
def test_a_wrong_entry_of_a_columns_file_says_what_would_be_right(tmp_path: Path, text: str, fix: str) -> None:
    (tmp_path / "c.toml").write_text(text, encoding="utf-8")
    with pytest.raises(RecordError) as caught:
        read_columns(tmp_path / "c.toml")
    (fault,) = caught.value.faults
    assert fix in fault.fix


@pytest.mark.parametrize(
    ("text", "entry", "what"),
    [
        ('returns.serail = "S/N"', "returns.serail", "is no column of returns"),
        ('retuns.serial = "S/N"', "retuns", "is no sheet"),
        ('serial = "S/N"', "serial", "is no sheet"),
        ("returns.serial = 5", "returns.serial", "got 5"),
        ('returns.serial = "x"\nreturns.model = "X"', "returns.model", "is named twice"),
        ('dates = "ymd"', "dates", 'got "ymd"'),
        ("dates =", "", "is not TOML"),
    ],
)
def test_a_columns_file_with_faults(tmp_path: Path, text: str, entry: str, what: str) -> None:
    (tmp_path / "c.toml").write_text(text)
    with pytest.raises(RecordError) as caught:
        read_columns(tmp_path / "c.toml")
    (fault,) = caught.value.faults
    assert fault.entry == entry
    assert what in fault.what


def test_a_columns_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="cannot be read"):
        read_columns(tmp_path / "none.toml")
