"""The bench workbook before anything was looked at, its words for faults, and a refrigerant without a table."""

from pathlib import Path

import pytest

from stripdown.widgets import intake_words
from stripdown.widgets.intake import Intake
from stripdown.widgets.intake_readings import Readings
from tests.widgets.test_intake import group, opened, question, unit

FILE_WORDS = ("table", "quotes", "write claim", '"…"', "`unit`")


@pytest.fixture
def intake(tmp_path: Path) -> Intake:
    return Intake.open(tmp_path / "NB-1.toml")


def test_before_anything_is_looked_at_there_is_no_finding(intake: Intake) -> None:
    for _ in range(2):
        assert "Nothing was looked at or measured yet" in intake_words.headline(intake)
        assert "%" not in intake_words.headline(intake)
        assert "nothing wrong" not in intake_words.headline(intake) + intake_words.live(intake)
        assert "expected cost" not in intake_words.live(intake)
        assert "Next check" in intake_words.live(intake)
        unit(intake)
    opened(intake, "turn_crank")
    intake.answer(question(intake, "crank."), "will_not_turn")
    assert "%" in intake_words.headline(intake)
    assert "expected cost" in intake_words.live(intake)
    intake.answer(question(intake, "crank."), None)
    assert "Nothing was looked at" in intake_words.headline(intake)


def test_a_reading_alone_gives_a_finding(intake: Intake) -> None:
    opened(unit(intake), "winding_resistance")
    measured = group(intake, "winding_resistance")
    intake.reading(measured, measured.slots[0], "open")
    assert "%" in intake_words.headline(intake)


def test_what_is_missing_is_told_by_the_fields_of_the_form(intake: Intake) -> None:
    intake.field("", "claim", "")
    assert [f.entry for f in intake.faults] == ["claim", "unit.serial", "unit.model"]
    said = intake_words.faults(intake.faults)
    for told in ("Claim</b>: is missing; fill in the number of the claim", "Serial</b>: is missing; fill in the field"):
        assert told in said
    assert not [w for w in FILE_WORDS if w in said]


@pytest.mark.parametrize(
    ("section", "name", "text", "says"),
    [
        ("unit", "run_hours", "many", "Run hours, h</b>: must be a number; got &quot;many&quot;; write digits alone"),
        ("", "revision", "1.5", "Revision</b>: must be a whole number"),
        ("history.alarms", "oil", "some", "Oil (alarms)</b>: must be a whole number"),
        ("history", "failed", "soon", "Failed</b>: must be a date"),
    ],
)
def test_faults_of_fields_are_told_in_words_of_a_form(
    intake: Intake, section: str, name: str, text: str, says: str
) -> None:
    unit(intake).field(section, name, text)
    said = intake_words.faults(intake.faults)
    assert says in said
    assert not [w for w in FILE_WORDS if w in said]


def test_a_fault_of_a_reading_too(intake: Intake) -> None:
    opened(unit(intake), "winding_resistance")
    measured = group(intake, "winding_resistance")
    slot = measured.slots[0]
    for text in ("0.86 ohms or so", "some"):
        intake.reading(measured, slot, text)
        said = intake_words.reading([], intake.faults_of(slot), "si")
        assert said.startswith("<div class='sd-bad'>")
        assert not [w for w in FILE_WORDS if w in said]


@pytest.mark.parametrize(("typed", "meant"), [("R449", "R449A"), ("R-404", "R404A"), ("R-134", "R134a")])
def test_a_refrigerant_without_a_table_is_told_with_the_nearest(intake: Intake, typed: str, meant: str) -> None:
    unit(intake).field("unit", "refrigerant", typed)
    assert f"{typed}: no table of this refrigerant" in intake_words.live(intake)
    assert f"did you mean {meant}?" in intake_words.live(intake)
    intake.field("unit", "refrigerant", meant)
    assert "no table" not in intake_words.live(intake)


def test_gases_are_chosen_and_what_a_record_says_besides_is_shown(intake: Intake) -> None:
    opened(unit(intake), "insulation")
    measured = group(intake, "insulation_resistance")
    intake.reading(measured, measured.slots[0], "620")
    shown = Readings(intake, intake.groups("insulation"), lambda: None)
    (field,) = [f for g, name, f in shown._commons if (g.quantity, name) == ("insulation_resistance", "gas")]
    assert [value for _, value in field.options] == ["", "air", "nitrogen", "refrigerant"]
    assert "never under vacuum" in field.description
    field.value = "nitrogen"
    assert intake.content["readings"][0]["gas"] == "nitrogen"
    intake.common(measured, "gas", "argon")  # as a record may say that was begun elsewhere
    shown.refresh(intake.groups("insulation"))
    assert field.value == "argon"
