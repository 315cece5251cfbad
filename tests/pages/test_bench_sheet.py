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
    # common practice: discharge line 107 degC = 224.6 degF, insulation 5 Mohm
    assert next(r[2] for r in us if r[0] == "discharge line temperature") == "at most 225 °F (class)"
    assert next(r[2] for r in si if r[0] == "insulation resistance") == "at least 5 Mohm (class)"


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
