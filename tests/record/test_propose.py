"""A columns file is proposed for own tables, and what it proposes reads them."""

import tomllib
from datetime import date
from pathlib import Path

import pytest

from stripdown.record import Columns, Record, read_all, read_columns
from stripdown.record import propose as module
from stripdown.record.propose import propose
from stripdown.record.schema import TABLE_COLUMNS

from .made_tables import write_workbook

OWN = (
    "RMA No.;Compressor S/N;Type;Date of manufacture;Commissioned;Failure date;Customer;Hours run;Colour;Complaint\n"
    "A1;0012;K4-150;03.02.2019;04.05.2019;25.12.2023;Farm;21000;red;does not start\n"
)
MEASURED = "Ref,Measurement,Between,Reading,Units,Temp.\nA1,winding_resistance,U-V,0.86,ohm,24\n"


@pytest.fixture
def own(tmp_path: Path) -> Path:
    (tmp_path / "returns.csv").write_text(OWN, encoding="utf-8")
    (tmp_path / "readings.csv").write_text(MEASURED, encoding="utf-8")
    return tmp_path


def test_what_people_call_their_columns(own: Path) -> None:
    proposal = propose([own], Columns())
    assert proposal.own == {
        "returns": {
            "claim": "RMA No.",
            "serial": "Compressor S/N",
            "model": "Type",
            "built": "Date of manufacture",
            "installed": "Commissioned",
            "failed": "Failure date",
            "site": "Customer",
            "run_hours": "Hours run",
            "reported": "Complaint",
        },
        "readings": {
            "claim": "Ref",
            "quantity": "Measurement",
            "value": "Reading",
            "unit": "Units",
            "temperature": "Temp.",
        },
    }
    assert proposal.unplaced == [("returns", "Colour")]
    assert proposal.orders == {"dmy"}  # there is no month 25


def test_the_proposal_as_it_is_printed_reads_the_tables(own: Path) -> None:
    (own / "columns.toml").write_text(propose([own], Columns()).toml(), encoding="utf-8")
    columns = read_columns(own / "columns.toml")
    (record,) = read_all([own / "returns.csv"], columns=columns)
    assert isinstance(record, Record)
    assert (record.claim, record.unit.serial, record.unit.run_hours) == ("A1", "0012", 21000)
    assert (record.history.installed, record.history.failed) == (date(2019, 5, 4), date(2023, 12, 25))
    assert record.readings[0].temperature == 24
    assert not propose([own], columns).news


def test_what_is_known_already_stays_and_the_rest_is_added(own: Path) -> None:
    columns = Columns(own={"returns": {"rma_no.": "claim", "colour": "contractor"}}, dates="dmy")
    proposal = propose([own], columns)
    assert proposal.own["returns"]["contractor"] == "Colour"
    assert proposal.own["returns"]["claim"] == "RMA No."
    assert 'dates = "dmy"' in proposal.toml().splitlines()


def test_columns_in_round_brackets_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "returns.csv").write_text("(serial),Ticket,serial,model\n1,A,S,M\n")
    proposal = propose([tmp_path], Columns())
    assert (proposal.own, proposal.unplaced) == ({"returns": {"claim": "Ticket"}}, [])


def test_our_own_names_need_no_proposal(tmp_path: Path) -> None:
    (tmp_path / "returns.csv").write_text("claim,serial,model,installed\nA,S,M,2020-02-03\n")
    assert not propose([tmp_path], Columns()).news


@pytest.mark.parametrize(
    ("installed", "failed", "said"),
    [
        ("03.02.2020", "04.02.2021", '# dates = "dmy"'),  # either way
        ("02/25/2020", "04/02/2021", 'dates = "mdy"'),  # no month 25
        ("25/02/2020", "02/25/2021", "# dates: some stand day first"),
    ],
)
def test_the_order_of_day_and_month_is_told_by_the_dates_alone(
    tmp_path: Path, installed: str, failed: str, said: str
) -> None:
    (tmp_path / "returns.csv").write_text(f"claim,serial,model,installed,failed\nA,S,M,{installed},{failed}\n")
    told = propose([tmp_path], Columns()).toml()
    assert any(line.startswith(said) for line in told.splitlines()), told
    tomllib.loads(told)


def test_two_columns_for_one_meaning_the_likelier_is_taken(tmp_path: Path) -> None:
    (tmp_path / "returns.csv").write_text("Claim no,Ticket,Serial,Mdoel\nA,B,S,M\n")
    proposal = propose([tmp_path], Columns())
    assert proposal.own["returns"] in ({"claim": "Claim no"}, {"claim": "Ticket"})
    assert len([1 for _, name in proposal.unplaced if name in ("Claim no", "Ticket")]) == 1


def test_a_workbook_is_looked_at_too(tmp_path: Path) -> None:
    path = write_workbook(tmp_path / "own.xlsx", {"returns": [{"Case": "A", "Serial no": "S", "Model": "M"}]})
    assert propose([path], Columns()).own["returns"] == {"claim": "Case", "serial": "Serial no"}


def test_a_workbook_whose_sheets_are_called_otherwise(tmp_path: Path) -> None:
    rows = {
        "Legend": [{"Colour": "red", "Meaning": "urgent"}],
        "RMA list 2025": [{"Case": "A", "Serial no": "S", "Model": "M"}],
        "Teardown findings": [{"Case": "A", "Part": "main_bearing", "Condition": "worn", "Extent": "heavy"}],
        "Tab 3": [{"Case": "A", "Quantity": "superheat", "Reading": 8, "Unit": "K"}],
    }
    path = write_workbook(tmp_path / "own.xlsx", rows)
    proposal = propose([tmp_path], Columns())
    assert proposal.sheets == {
        "returns": "RMA list 2025",
        "readings": "Tab 3",
        "observations": "Teardown findings",
    }
    (tmp_path / "columns.toml").write_text(proposal.toml(), encoding="utf-8")
    columns = read_columns(tmp_path / "columns.toml")
    (record,) = read_all([path], columns=columns)
    assert isinstance(record, Record)
    assert (len(record.observations), len(record.readings)) == (1, 1)
    assert not propose([path], columns).news
    assert propose([path], columns).sheets == proposal.sheets


def test_tables_whose_files_are_called_otherwise(tmp_path: Path) -> None:
    """A log beside them is none, though it has values; of two lists of returns one columns file reads one."""
    (tmp_path / "RMA 2025.csv").write_text("RMA;Serial;Model\nA;S;M\n")
    (tmp_path / "Messwerte.csv").write_text("RMA;Measurement;Reading;Unit\nA;superheat;8,5;K\n")
    (tmp_path / "log.csv").write_text("time;value\n1;2\n")
    proposal = propose([tmp_path], Columns())
    assert proposal.sheets == {"returns": "RMA 2025", "readings": "Messwerte"}
    assert "RMA 2025.csv" in proposal.toml().splitlines()[0]
    (tmp_path / "columns.toml").write_text(proposal.toml(), encoding="utf-8")
    columns = read_columns(tmp_path / "columns.toml")
    for given in (tmp_path, tmp_path / "RMA 2025.csv"):
        (record,) = read_all([given], columns=columns)
        assert isinstance(record, Record)
        assert record.readings[0].value == 8.5


def test_tables_without_returns_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "units.csv").write_text("serial,model,site\nS,M,here\n")
    (tmp_path / "log.csv").write_text("time,value\n1,2\n")
    (tmp_path / "broken.csv").write_bytes(b"\xff\xfe claim\n")
    assert not propose([tmp_path], Columns()).news


def test_a_hostile_name_stays_text(tmp_path: Path) -> None:
    (tmp_path / "returns.csv").write_text('Claim "]\nA\n'.replace('Claim "]', '"Serial ""\x7f\\ = [x]"'), "utf-8")
    told = propose([tmp_path], Columns()).toml()
    assert tomllib.loads(told) in ({}, {"returns": {"serial": 'Serial "\x7f\\ = [x]'}})
    assert "\x7f" not in told


def test_each_word_means_one_column_and_each_column_has_a_word() -> None:
    names = tomllib.loads(Path(module.__file__).with_name("column_names.toml").read_text(encoding="utf-8"))
    assert set(names["sheets"]) == set(TABLE_COLUMNS)
    for sheet in ("sheets", *TABLE_COLUMNS):
        columns = TABLE_COLUMNS.get(sheet, TABLE_COLUMNS)
        assert set(names[sheet]) == set(columns) - {"format"}, sheet
        told = [(" ".join(module._words(w, sheet)), ours) for ours, ws in names[sheet].items() for w in {ours, *ws}]
        meaning: dict[str, set[str]] = {}
        for word, ours in told:
            meaning.setdefault(word, set()).add(ours)
        assert {w: m for w, m in meaning.items() if len(m) > 1} == {}
