"""The fleet notebook run by `batch.fleet.run`: its files, and parameters that narrow what it counts."""

import csv
import json
from datetime import date
from pathlib import Path

import pytest

from stripdown.batch import fleet
from stripdown.batch.settings import Settings
from stripdown.batch.workbook import write_fleet
from stripdown.fleet import report
from tests.fleet.made import line, population


@pytest.mark.slow
def test_parameters_narrow_the_fleet_and_ask_about_a_change(tmp_path: Path) -> None:
    """Two of three returns are of the model; before and after the change one of them each."""
    sites = ("north", "south", "north")
    lines = [
        line(f"A{i}", serial=str(i), age=200 + 300 * i, site=site, model="K6-220" if i == 1 else "K4-150")
        for i, site in enumerate(sites)
    ]
    rows = [f"{i},{'K6-220' if i % 4 == 1 else 'K4-150'},{sites[i % 3]},crew,,2020-01-01," for i in range(12)]
    units = population(tmp_path, rows).file
    groups = {"model": ("K4-150",), "site": (), "contractor": (), "changed_sites": ("north",)}
    answer = fleet.run(
        lines, tmp_path / "out", Settings(), population=Path(units), change=date(2021, 1, 1), groups=groups
    )
    assert answer["returns"] == 2
    assert [m["model"] for m in answer["life"]] == ["K4-150"]
    changes = [c["what"] for c in answer["comparisons"] if c["dimension"] == "date"]
    assert changes == [
        "after 2021-01-01 against before at north",
        "after 2021-01-01 against before elsewhere than at north",
    ]
    folder = tmp_path / "out" / "fleet"
    assert json.loads((folder / "fleet.json").read_text(encoding="utf-8")) == answer
    assert {"fleet.html", "fleet.pdf", "returns.csv", "columns.csv", "notices.csv"} <= {
        f.name for f in folder.iterdir()
    }
    assert "Only model" in (folder / "fleet.html").read_text(encoding="utf-8")


@pytest.mark.slow
def test_own_names_of_the_units_table_reach_the_report(tmp_path: Path) -> None:
    units, columns = tmp_path / "u.csv", tmp_path / "columns.toml"
    units.write_text("S/N,Type,Start of use\n" + "".join(f"{i},K4-150,2020-01-01\n" for i in range(9)))
    columns.write_text('[units]\nserial = "S/N"\nmodel = "Type"\ninstalled = "Start of use"\n')
    lines = [line("A1", serial="1", age=300, model="K4-150")]
    answer = fleet.run(lines, tmp_path / "out", Settings(columns=columns), population=units)
    assert [(m["model"], m["failures"], m["running"]) for m in answer["life"]] == [("K4-150", 1, 8)]


def test_no_cell_of_a_table_is_taken_for_a_formula(tmp_path: Path) -> None:
    """Spreadsheets run what begins with = + - @ (OWASP, CSV injection); a ' in front makes it text."""
    hostile = ('=HYPERLINK("x")', "+A1", "-A1", "@SUM(1)")
    lines = [line(f"A{i}", site=name, contractor=name, model=name) for i, name in enumerate(hostile)]
    write_fleet(report(lines), tmp_path)
    texts = [path.read_text(encoding="utf-8") for path in tmp_path.glob("*.csv")]
    cells = {c for text in texts for row in csv.reader(text.splitlines()) for c in row}
    assert not set(hostile) & cells
    assert {f"'{name}" for name in hostile} <= cells
