"""The bench workbook without a browser: caution first, only what the machine has, saved at once, taken up again."""

import os
import shutil
import tomllib
from pathlib import Path

import pytest

from stripdown.case import judge
from stripdown.record import RecordError, read, read_all
from stripdown.record.schema import QUANTITIES
from stripdown.resources import demo
from stripdown.widgets import intake_words
from stripdown.widgets.intake import GENERAL, Intake
from stripdown.widgets.intake_draft import Key, Slot, typed
from stripdown.widgets.intake_plan import Group, Question, step_of_label
from stripdown.widgets.intake_view import workbook
from tests.small_record import small_record

RETURNS = demo() / "returns"
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20


@pytest.fixture
def intake(tmp_path: Path) -> Intake:
    return unit(Intake.open(tmp_path / "NB-1.toml"))


def unit(intake: Intake, model: str = "K4-150") -> Intake:
    intake.field("unit", "serial", "00123")
    intake.field("unit", "model", model)
    return intake


def opened(intake: Intake, step: str) -> Intake:
    """At a step, its cautions confirmed."""
    intake.go(step)
    for caution in intake.to_confirm(step):
        intake.confirm_caution(caution)
    return intake


def question(intake: Intake, finding: str) -> Question:
    part, _, condition = finding.partition(".")
    step = intake.place.step
    return next(q for q in intake.questions(step) if (q.part, q.condition) == (part, condition))


def key(intake: Intake, question: Question) -> Key:
    found = intake.key(question)
    assert found is not None
    return found


def group(intake: Intake, quantity: str) -> Group:
    return next(g for g in intake.groups(intake.place.step) if g.quantity == quantity)


def test_a_new_record_is_named_after_its_file_and_says_what_it_lacks(tmp_path: Path) -> None:
    intake = Intake.open(tmp_path / "NB-1.toml")
    assert not intake.path.exists()
    intake.field("unit", "serial", "00123")
    assert [f.entry for f in intake.faults] == ["unit.model"]
    intake.field("unit", "model", "K4-150")
    assert not intake.faults
    record = read(intake.path)
    assert (record.claim, record.unit.serial) == ("NB-1", "00123")


def test_no_question_before_the_caution_is_confirmed(intake: Intake) -> None:
    intake.go("valve_plate")
    assert intake.questions("valve_plate") == []
    assert intake.groups("valve_plate") == []
    # the heads come off before the valve plate: their caution stands first too
    assert intake.to_confirm("valve_plate") == [GENERAL, "heads", "valve_plate"]
    before = intake.content
    intake.answer(Question("suction_reed", "broken", ("none", "slight", "heavy", "unreadable"), True), "heavy")
    assert intake.content == before
    assert intake.refused == "confirm the caution first"
    for caution in (GENERAL, "heads", "valve_plate"):
        intake.confirm_caution(caution)
    intake.answer(question(intake, "suction_reed.broken"), "heavy")
    assert read(intake.path).observations[0].finding == "suction_reed.broken"


def test_a_splash_machine_is_not_asked_for_its_oil_pump(tmp_path: Path) -> None:
    splash = opened(unit(Intake.open(tmp_path / "A.toml"), "T3-075"), "pump_end")
    assert {q.part for q in splash.questions("pump_end")} == {"cover_gasket"}
    splash.field("unit", "oil_feed", "pump")  # the plate of this one says otherwise: the record counts
    assert {q.part for q in splash.questions("pump_end")} == {"cover_gasket", "oil_pump"}


def test_an_answer_that_a_machine_should_not_have_is_still_shown(tmp_path: Path) -> None:
    intake = opened(unit(Intake.open(tmp_path / "A.toml"), "K4-150"), "pump_end")
    intake.answer(question(intake, "oil_pump.gouged"), "slight")
    intake.field("unit", "oil_feed", "splash")
    assert [q.condition for q in intake.questions("pump_end") if q.part == "oil_pump"] == ["gouged"]


def test_answers_differ_from_cylinder_to_cylinder(intake: Intake) -> None:
    opened(intake, "valve_plate")
    intake.look_at(2)
    intake.answer(question(intake, "backer_bolts.backed_out"), "heavy")
    intake.look_at(1)
    intake.answer(question(intake, "backer_bolts.backed_out"), "none")
    seen = {o.cylinders: o.extent for o in read(intake.path).observations}
    assert seen == {(2,): "heavy", (1,): "none"}
    intake.look_at(9)  # the machine has four
    assert intake.place.cylinder == 1


def test_an_entry_for_several_cylinders_is_split_where_one_differs(tmp_path: Path) -> None:
    path = tmp_path / "A.toml"
    path.write_text(
        'format = 1\nclaim = "A"\n[unit]\nserial = "1"\nmodel = "K4-150"\n[[observations]]\npart = "piston"\n'
        'condition = "worn"\nextent = "heavy"\ncylinder = [1, 2, 3]\nnote = "skirt"\n'
    )
    intake = opened(Intake.open(path), "cylinders")
    intake.look_at(2)
    assert intake.answer_of(question(intake, "piston.worn")) == "heavy"
    intake.answer(question(intake, "piston.worn"), "slight")
    seen = {o.cylinders: (o.extent, o.note) for o in read(path).observations}
    assert seen == {(1, 3): ("heavy", "skirt"), (2,): ("slight", "skirt")}


def test_a_crank_is_one_thing_or_the_other(intake: Intake) -> None:
    opened(intake, "turn_crank")
    crank = question(intake, "crank.")
    assert crank.answers == ("turns_freely", "will_not_turn", "unreadable")
    for answer, finding, extent in (
        ("turns_freely", "crank.turns_freely", "heavy"),
        ("will_not_turn", "crank.will_not_turn", "heavy"),
        ("unreadable", "crank.turns_freely", "unreadable"),
    ):
        intake.answer(crank, answer)
        assert [(o.finding, o.extent) for o in read(intake.path).observations] == [(finding, extent)]
        assert intake.answer_of(crank) == answer
    intake.answer(crank, None)
    assert read(intake.path).observations == ()


def test_not_looked_at_leaves_the_record_silent_and_a_note_comes_back(intake: Intake) -> None:
    opened(intake, "oil_drain")
    oil = question(intake, "oil.metal_debris")
    intake.answer(oil, "slight")
    intake.detail(key(intake, oil), "note", "bright, sticks to the magnet")
    intake.answer(oil, None)
    assert read(intake.path).observations == ()
    intake.answer(oil, "heavy")
    assert read(intake.path).observations[0].note == "bright, sticks to the magnet"


def test_readings_are_judged_as_they_are_typed(intake: Intake) -> None:
    opened(intake, "insulation")
    insulation = group(intake, "insulation_resistance")
    assert (insulation.units[0], intake.common_of(insulation, "test_voltage")) == ("Mohm", "500")
    slot = insulation.slots[0]
    intake.reading(insulation, slot, "0.2")
    (judged,) = intake.judged(slot)
    assert (judged.verdict, judged.limits()) == ("outside", (5.0, None))  # common practice: 5 Mohm
    intake.reading(insulation, slot, "0.2x")
    assert [f.entry for f in intake.faults_of(slot)] == ["readings[1].value"]
    assert intake.judged(slot) == []
    intake.reading(insulation, slot, "620")
    assert [j.verdict for j in intake.judged(slot)] == ["within"]
    intake.common(insulation, "unit", "V")
    assert [f.entry for f in intake.faults_of(slot)] == ["readings[1].unit"]
    intake.common(insulation, "unit", "Mohm")
    intake.reading(insulation, slot, "")
    assert read(intake.path).readings == ()


def test_a_reading_is_judged_beside_others_that_have_faults(intake: Intake) -> None:
    opened(intake, "winding_resistance")
    windings = group(intake, "winding_resistance")
    for slot, value in zip(windings.slots, ("x", "0.86", "0.86"), strict=True):
        intake.reading(windings, slot, value)
    assert intake.judged(windings.slots[0]) == []
    assert {j.between for s in windings.slots[1:] for j in intake.judged(s)} == {"V-W", "W-U"}
    assert all(j.between == s.between for s in windings.slots[1:] for j in intake.judged(s))


def test_unit_and_temperature_are_typed_once_for_all_windings(intake: Intake) -> None:
    opened(intake, "winding_resistance")
    windings = group(intake, "winding_resistance")
    intake.common(windings, "temperature", "75 F")
    for slot, value in zip(windings.slots, ("0,86", "0.87", "open"), strict=True):
        intake.reading(windings, slot, value)
    found = read(intake.path).readings
    assert [r.value for r in found] == [0.86, 0.87, "open"]
    # (75 - 32) / 1.8 = 23.888… degC
    assert [round(r.temperature or 0.0, 3) for r in found] == [23.889] * 3
    again = Intake.open(intake.path)
    assert again.common_of(windings, "temperature") == "75 F"


def test_a_second_torque_finds_its_place(intake: Intake) -> None:
    opened(intake, "heads")
    torque = group(intake, "head_bolt_torque")
    intake.reading(torque, torque.slots[0], "40")
    torque = group(intake, "head_bolt_torque")
    assert [s.nth for s in torque.slots] == [0, 1]
    intake.reading(torque, torque.slots[1], "12")
    assert [r.value for r in read(intake.path).readings] == [40, 12]


def test_readings_of_a_record_that_the_plan_does_not_ask_for_are_there_too(tmp_path: Path) -> None:
    path = tmp_path / "A.toml"
    path.write_text(
        'format = 1\nclaim = "A"\n[unit]\nserial = "1"\nmodel = "K4-150"\n[[readings]]\n'
        'quantity = "insulation_resistance"\nbetween = "U-frame"\nvalue = 3\nunit = "Mohm"\n'
    )
    intake = opened(Intake.open(path), "insulation")
    slots = group(intake, "insulation_resistance").slots
    assert slots == (
        Slot("insulation_resistance", "all-frame", "terminals"),
        Slot("insulation_resistance", "U-frame", "terminals"),
    )
    assert intake.value_of(slots[1]) == "3"


def test_a_photo_lies_beside_the_record(intake: Intake) -> None:
    opened(intake, "oil_drain")
    oil = question(intake, "oil.sludge")
    intake.photo(("oil", "sludge", None), PNG)
    assert intake.refused == "answer first, then add the photo"
    intake.answer(oil, "heavy")
    for _ in range(2):
        intake.photo(key(intake, oil), PNG)
    record = read(intake.path)
    assert record.observations[0].photos == ("photos/NB-1-oil-sludge-1.png", "photos/NB-1-oil-sludge-2.png")
    assert record.notices == ()
    intake.photo(key(intake, oil), b"<svg onload=alert(1)>")
    assert intake.refused is not None
    intake.forget_photo(key(intake, oil), "photos/NB-1-oil-sludge-1.png")
    assert read(intake.path).observations[0].photos == ("photos/NB-1-oil-sludge-2.png",)
    assert len(list((intake.path.parent / "photos").iterdir())) == 2  # no picture is ever thrown away


def test_a_photo_of_a_file_that_has_the_name_of_a_device_has_none(tmp_path: Path) -> None:
    intake = opened(unit(Intake.open(tmp_path / "nul.2026.toml")), "oil_drain")
    oil = question(intake, "oil.sludge")
    intake.answer(oil, "heavy")
    intake.photo(key(intake, oil), PNG)
    assert read(intake.path).observations[0].photos == ("photos/nul+.2026-oil-sludge-1.png",)


def test_it_is_taken_up_where_it_stood(intake: Intake) -> None:
    opened(intake, "valve_plate")
    intake.look_at(3)
    intake.order("gain")
    intake.answer(question(intake, "suction_reed.broken"), "heavy")
    again = Intake.open(intake.path)
    assert (again.place, again.content) == (intake.place, intake.content)
    assert again.answer_of(question(again, "suction_reed.broken")) == "heavy"


def test_a_record_that_is_only_looked_at_is_not_changed(tmp_path: Path) -> None:
    path = tmp_path / "A.toml"
    said = 'format = 1 # written by hand\nclaim = "A"\n[unit]\nserial = "1"\nmodel = "K4-150"\n'
    path.write_text(said)
    intake = opened(Intake.open(path), "heads")
    assert path.read_text() == said
    intake.field("history", "site", "shed")
    assert read(path).history.site == "shed"
    assert (tmp_path / "A.toml.bak").read_text() == said


def test_what_another_program_wrote_is_not_lost(intake: Intake) -> None:
    intake.path.write_text(intake.path.read_text().replace("00123", "00124"))
    intake.field("history", "site", "shed")
    assert intake.unsaved is not None
    assert read(intake.path).unit.serial == "00124"
    intake.write_over()
    assert intake.unsaved is None
    assert (read(intake.path).unit.serial, read(intake.path).history.site) == ("00123", "shed")
    intake.path.write_text(intake.path.read_text().replace("00123", "00125"))
    intake.field("history", "site", "barn")
    intake.take_up_again()
    assert intake.content["unit"]["serial"] == "00125"


def test_a_full_or_closed_folder_is_said_and_the_entry_stays(intake: Intake, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    before = intake.path.read_bytes()
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        intake.field("history", "site", "shed")
        assert "No space left on device" in (intake.unsaved or "")
        assert intake.path.read_bytes() == before
        assert [p.name for p in intake.path.parent.iterdir()] == ["NB-1.toml"]
    intake.field("history", "contractor", "crew 7")
    assert intake.unsaved is None
    assert read(intake.path).history.site == "shed"


def test_faults_are_saved_and_shown_and_come_back(intake: Intake) -> None:
    intake.field("history", "failed", "31.12.2026")
    intake.field("history", "installed", "2026-02-30")
    intake.field("unit", "run_hours", "many")
    again = Intake.open(intake.path)
    assert [f.entry for f in again.faults] == [f.entry for f in intake.faults]
    assert {f.entry for f in again.faults} == {"history.failed", "history.installed", "unit.run_hours"}
    assert again.case.finding.first  # what the rest points to
    with pytest.raises(RecordError):
        read(intake.path)


def test_every_form_of_a_record_is_taken_up(tmp_path: Path) -> None:
    demo = Path(__file__).parents[2] / "data/demo/returns"
    for name in ("tw-2023-017.json", "tw-2023-003.toml"):
        copy = tmp_path / name
        copy.write_bytes((demo / name).read_bytes())
        intake = Intake.open(copy)
        record = read(copy)
        intake.field("", "examined_by", "bench 9")
        assert intake.path.suffix == ".toml"
        assert read(intake.path).observations == record.observations
        assert read(intake.path).readings == record.readings
    book = tmp_path / "returns.xlsx"
    book.write_bytes((demo / "returns.xlsx").read_bytes())
    claims = [r.claim for r in read_all([book]) if r.claim]
    with pytest.raises(RecordError, match="records"):
        Intake.open(book)
    assert Intake.open(book, claims[0]).content["claim"] == claims[0]


def test_a_sheet_with_columns_of_its_own_is_taken_up_and_found_again(tmp_path: Path) -> None:
    (tmp_path / "returns.csv").write_text("RMA No.,Compressor S/N,Type\nA1,0012,K4-150\nA2,0013,K4-150\n")
    columns = tmp_path / "columns.toml"
    columns.write_text('[returns]\nclaim = "RMA No."\nserial = "Compressor S/N"\nmodel = "Type"\n')
    intake = workbook(str(tmp_path), claim="A2", columns=str(columns)).intake
    assert (intake.content["unit"]["serial"], intake.path) == ("0013", tmp_path / "A2.toml")
    intake.field("history", "site", "shed")
    again = workbook(str(tmp_path), claim="A2", columns=str(columns)).intake  # as after a kernel that died
    assert again.content == intake.content
    assert "taken up before" in again.told[0]


def test_a_file_that_another_wrote_is_not_taken_for_the_one_that_was_taken_up_before(tmp_path: Path) -> None:
    (tmp_path / "returns.csv").write_text("claim,serial,model\nA1,0012,K4-150\n")
    other = tmp_path / "A1.toml"
    other.write_text('format = 1\nclaim = "A1"\n[unit]\nserial = "9"\nmodel = "K4-150"\n')
    with pytest.raises(RecordError, match="did not write"):
        Intake.open(tmp_path / "returns.csv")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "format = 2",
        "format = 1\nwhat = 3",
        "format = 1\n[unit]\nserial = {a = 1}",
        "not toml",
        "format = 1\nreadings = 3",
    ],
)
def test_a_file_of_another_shape_is_refused_with_its_faults(tmp_path: Path, text: str) -> None:
    path = tmp_path / "A.toml"
    path.write_text(text)
    with pytest.raises(RecordError) as refused:
        Intake.open(path)
    assert refused.value.faults
    assert path.read_text() == text


def test_hostile_text_stays_text(intake: Intake) -> None:
    nasty = '"\n[unit]\nserial = "x" # bench workbook: {"step": "finish"}\x7f\x00\u2028<script>'
    intake.field("history", "reported", nasty)
    intake.field("unit", "refrigerant", "R449A\x7f")
    raw = tomllib.loads(intake.path.read_text(encoding="utf-8"))
    assert raw["unit"]["serial"] == "00123"
    assert raw["history"]["reported"] == '"\n[unit]\nserial = "x" # bench workbook: {"step": "finish"}\n<script>'
    assert Intake.open(intake.path).place.step == "unit"


def test_a_person_confirms_or_corrects(intake: Intake) -> None:
    said = {"first": "floodback", "causes": ["low_load"], "outcome": "rebuild", "liability": "system"}
    intake.confirm(by="", **said)
    assert intake.refused
    assert read(intake.path).confirmed == ()
    intake.confirm(by="analyst 2", **said)
    intake.confirm(by="analyst 3", **said)
    intake.confirm(by="analyst 2", **said | {"first": "liquid_slug"})
    assert [(c.by, c.first) for c in read(intake.path).confirmed] == [
        ("analyst 2", "liquid_slug"),
        ("analyst 3", "floodback"),
    ]


def test_the_order_of_the_teardown_passes_over_what_was_spoiled(intake: Intake) -> None:
    opened(intake, "leads")
    assert intake.next_step == "pump_test"
    opened(intake, "oil_drain")
    intake.answer(question(intake, "oil.sludge"), "none")  # the oil is out: it is not run any more
    intake.go("leads")
    assert intake.next_step == "oil_drain"
    stands = {s.id: s for s in intake.stands()}
    assert stands["pump_test"].barred == ("Drain and sample the oil",)
    assert stands["oil_drain"].answered == 1


def test_the_order_of_most_gain_turns_to_the_first_check_or_what_must_come_before_it(intake: Intake) -> None:
    intake.order("gain")
    checks = intake.case.finding.next_checks
    assert checks
    first = next(
        s for s in intake.way.knowledge.steps if checks[0].id in s.readings or checks[0].id.split(".")[0] in s.parts
    )
    assert intake.next_step in (*first.after, first.id)
    intake.forward()
    assert intake.place.step == (first.after[0] if first.after else first.id)


def test_findings_that_do_not_go_together_are_named_with_their_steps(tmp_path: Path) -> None:
    shutil.copy(RETURNS / "tw-2025-024.json", tmp_path)
    intake = Intake.open(tmp_path / "tw-2025-024.json")
    assert intake.case.finding.conflict is not None
    assert [f for f, _ in intake.clashes] == list(intake.case.finding.conflict.findings)
    said = intake_words.live(intake)
    assert "Look at them again before anything is decided" in said
    # a shaft in a seized bearing does not turn; it is seen once crank and rods are out: common practice, no source
    assert "<b>Pump end bearing seized: heavy</b>, at step 17, Crank, bearings and rods out, laid in oil order" in said
    assert "<b>Crank turns freely</b>, at step 13, Turn the crank by hand" in said
    assert "None" not in said


def test_readings_that_cannot_all_be_true_are_named_with_the_step_they_are_measured_at(tmp_path: Path) -> None:
    """U-V open between two closed pairs, at the leads: the triangle inequality of resistances."""
    reading = '[[readings]]\nquantity = "winding_resistance"\nbetween = "{}"\nat = "leads"\nvalue = {}\nunit = "ohm"\n'
    pairs = "".join(reading.format(*x) for x in (("U-V", '"open"'), ("V-W", 0.82), ("W-U", 0.83)))
    (tmp_path / "A.toml").write_text(small_record("A") + pairs, encoding="utf-8")
    intake = Intake.open(tmp_path / "A.toml")
    assert [step.id if step else None for _, step in intake.clashes] == ["leads"] * 3
    said = intake_words.live(intake)
    assert "U-V is open although V-W and W-U are closed. Look at them again" in said
    assert "<b>Winding resistance U-V at leads: open</b>, at step" in said
    steps = intake.way.knowledge
    assert all(step_of_label(steps, f"{quantity} 1 ohm") for quantity in QUANTITIES)


def test_a_likely_finding_still_names_the_check_that_the_page_names(tmp_path: Path) -> None:
    shutil.copy(RETURNS / "tw-2026-001.toml", tmp_path)
    intake = Intake.open(tmp_path / "tw-2026-001.toml")
    assert intake.case.finding.status == "likely"
    full = judge(intake.case.record, knowledge=intake.way.knowledge, sheets=intake.sheets)
    assert intake.next_checks == full.finding.next_checks


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0.86", 0.86),
        ("0,86", 0.86),
        ("21400", 21400),
        (" 5 ", 5),
        ("1,234", "1,234"),  # parts thousands or not: only the writer knows
        ("1e999", "1e999"),
        ("nan", "nan"),
        ("", None),
        ("open", "open"),
        ("0", 0),
    ],
)
def test_numbers_as_people_type_them(text: str, value: object) -> None:
    assert typed(text, "readings", "value") == value
