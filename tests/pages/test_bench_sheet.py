"""The bench sheet: every part, condition and quantity once, cautions first, limits of the model."""

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from stripdown import vocabulary
from stripdown.knowledge import load
from stripdown.limits.load import load_sheets
from stripdown.pages import sheet_pdf
from stripdown.pages.bench_sheet import content
from stripdown.pages.show import Show
from stripdown.record.schema import QUANTITIES

SHEET = """
model = "T-9"
source = "written for this test"
issue = "2"

[machine]
motor = "part_winding"
cylinders = 6
oil_charge = {value = 4.0, unit = "l"}

[limits.main_bearing_play]
unit = "mm"
limit = {high = 0.254}
"""


@pytest.fixture
def sheets(tmp_path: Path):  # type: ignore[no-untyped-def]
    (tmp_path / "t-9.toml").write_text(SHEET)
    return load_sheets(tmp_path)


def _rows(made: dict, caption: str) -> list[list[str]]:  # type: ignore[type-arg]
    tables = [b for s in made["sections"] for b in s["blocks"] if b["kind"] == "table" and b["caption"] == caption]
    return [[c["text"] for c in row] for t in tables for row in t["rows"]]


def test_every_part_and_condition_stands_once(sheets) -> None:  # type: ignore[no-untyped-def]
    rows = _rows(content(sheets.for_model("T-9"), load(None), Show()), "Look")
    expected = [
        (vocabulary.label(part), vocabulary.label(c))
        for part, conditions in vocabulary.parts().items()
        for c in conditions
        if c not in ("missing", "wrong_part")
    ]
    assert sorted((r[0], r[1]) for r in rows) == sorted(expected)


def test_every_quantity_has_a_row(sheets) -> None:  # type: ignore[no-untyped-def]
    rows = _rows(content(sheets.for_model("T-9"), load(None), Show()), "Measure")
    assert {r[0] for r in rows} == {vocabulary.label(q) for q in QUANTITIES}


def test_caution_is_the_first_thing_of_every_step(sheets) -> None:  # type: ignore[no-untyped-def]
    made = content(sheets.for_model("T-9"), load(None), Show())
    assert [s["blocks"][0]["kind"] for s in made["sections"]] == ["caution"] * len(made["sections"])
    assert len(made["sections"]) == len(load(None).steps) + 1


def test_rows_follow_motor_and_cylinders(sheets) -> None:  # type: ignore[no-untyped-def]
    rows = _rows(content(sheets.for_model("T-9"), load(None), Show()), "Measure")
    assert [r[1] for r in rows if r[0] == "wrist pin drop"] == [f"cyl. {n}" for n in range(1, 7)]
    assert [r[1] for r in rows if r[0] == "insulation resistance"] == ["1-frame", "2-frame"] * 2
    assert sum(r[0] == "winding resistance" for r in rows) == 12


def test_limits_in_both_systems_name_the_class(sheets) -> None:  # type: ignore[no-untyped-def]
    si = _rows(content(sheets.for_model("T-9"), load(None), Show()), "Measure")
    us = _rows(content(sheets.for_model("T-9"), load(None), Show(system="us")), "Measure")
    assert next(r[2] for r in si if r[0] == "main bearing play") == "at most 0.254 mm"
    assert next(r[2] for r in us if r[0] == "main bearing play") == "at most 10 thou"
    # common practice: discharge line 107 degC = 224.6 degF, vacuum 24 inHg; IEEE 43-2013: insulation 5 Mohm at 40 degC
    said = next(r[2] for r in us if r[0] == "discharge line temperature")
    assert said == "at most 225 °F (class, single-stage halocarbon)"
    assert next(r[2] for r in us if r[0] == "vacuum pull down") == "at least 24 inHg (class)"
    assert next(r[2] for r in si if r[0] == "insulation resistance") == "at least 5 Mohm at 40 °C (class)"


def test_limits_that_follow_from_the_machine_stand_on_the_sheet() -> None:
    """K4-150: 230 V, 100 W heater, so 529 ohm within 10 %; 0.86 ohm at 20 degC within 10 %; ester oil, 50 ppm."""
    rows = _rows(content(load_sheets().for_model("K4-150"), load(None), Show()), "Measure")
    told = {r[0]: r[2] for r in rows}
    assert told["heater resistance"] == "476 to 582 ohm"
    assert told["winding resistance"] == "−2 to 2 % from the mean; 0.774 to 0.946 ohm at 20 °C"
    assert told["oil moisture"] == "at most 50 ppm (class)"
    assert told["discharge pressure"].startswith("absolute ratio at most 10 (class")


def test_class_figures_of_single_stage_machines_stand_on_no_other_sheet(tmp_path: Path) -> None:
    (tmp_path / "two.toml").write_text('model = "TWO"\nsource = "a"\nissue = "1"\n[machine]\nstages = 2\n')
    rows = _rows(content(load_sheets(tmp_path).for_model("TWO"), load(None), Show()), "Measure")
    told = {r[0]: r[2] for r in rows}
    assert told["discharge line temperature"] == told["superheat"] == "–"


def test_bolts_have_a_row_each(sheets) -> None:  # type: ignore[no-untyped-def]
    rows = _rows(content(sheets.for_model("T-9"), load(None), Show()), "Measure")
    assert sum(r[0] == "head bolt torque" for r in rows) == 4


def test_graded_conditions_have_a_box_for_slight(sheets) -> None:  # type: ignore[no-untyped-def]
    rows = {(r[0], r[1]): r for r in _rows(content(sheets.for_model("T-9"), load(None), Show()), "Look")}
    assert rows["main bearing", "worn"][2:7] == ["☐"] * 5
    assert rows["cover gasket", "reversed"][2:7] == ["☐", "–", "☐", "☐", "☐"]
    assert rows["crank", "turns freely"][2:7] == ["–", "–", "☐", "☐", "☐"]


def test_prints_for_a_model_nobody_knows(sheets) -> None:  # type: ignore[no-untyped-def]
    raw = sheet_pdf(sheets.for_model("#x *y*"), load(None), paper="letter")
    assert raw == sheet_pdf(sheets.for_model("#x *y*"), load(None), paper="letter")
    text = " ".join(PdfReader(BytesIO(raw)).pages[0].extract_text().split())
    assert "#x *y* (no limit sheet: limits of the class)" in text
