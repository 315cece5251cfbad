"""The table of laws, what is told of a clash, and the records that must be left alone."""

from pathlib import Path

import pytest

from stripdown import vocabulary
from stripdown.limits import judge_readings
from stripdown.limits.together import RULES
from stripdown.limits.together.stated import ALONE
from stripdown.record import Record, read_all
from stripdown.record.schema import BY_MOTOR, QUANTITIES
from tests.limits.made import SHEETS, clashes, insulation, notices, reading, record, winding

ROOT = Path(__file__).parents[3]
PAIRS = ("U-V", "V-W", "W-U")


def test_every_law_is_named_once_with_reason_remedy_tolerance_and_source():
    assert len({r.id for r in RULES}) == len(RULES)
    for rule in RULES:
        assert all((rule.why, rule.fix, rule.tolerance, rule.source)), rule.id
        assert not rule.why.endswith(".")
        assert 0.0 < rule.rate < 0.01


def test_needs_are_words_that_a_record_can_hold():
    """A misspelt word would put a law to sleep."""
    conditions = {c for part in vocabulary.parts().values() for c in part} | {"missing", "wrong_part"}
    words = {*QUANTITIES, *conditions, *BY_MOTOR, "pump", "splash", "time", "new"}
    assert {w for rule in RULES for need in rule.needs for w in need} <= words
    assert set(ALONE) <= set(vocabulary.parts())


def test_the_manual_names_every_law():
    manual = (ROOT / "docs" / "limit-sheets.md").read_text(encoding="utf-8")
    assert not [rule.id for rule in RULES if f"`{rule.id}`" not in manual]


def test_a_clash_is_a_notice_that_names_its_entries():
    open_pair = [winding(p, o) for p, o in zip(PAIRS, ("open", 0.82, 0.83), strict=True)]
    (notice,) = [n for n in notices(*open_pair, motor="star", model="K4-150") if "," in n.entry]
    assert (notice.file, notice.entry) == ("t.json", "readings[1], readings[2], readings[3]")
    assert notice.what == (
        "no pair of a winding reads more than the other two pairs together: U-V is open although V-W and W-U are closed"
    )
    assert notice.fix.startswith("read all three again")
    assert notice.fix.endswith("; until then the record is in conflict")
    (told,) = [n for n in notices(reading("net_oil_pressure", -40, "psi")) if n.entry == "readings[1]"]
    assert "in conflict" not in told.fix


def test_the_impossible_stands_before_what_is_only_told():
    both = clashes(
        *[winding(p, o) for p, o in zip(PAIRS, ("open", 0.82, 0.83), strict=True)],
        insulation(0.4, "U-frame"),
        insulation(60),
        motor="delta",
    )
    assert [c.rule for c in both] == ["three_pairs", "joined_insulation"]
    soft_first = clashes(insulation(0.02, "U-frame"), insulation(60), reading("net_oil_pressure", -40, "psi"))
    assert [c.rate for c in soft_first] == [0.003, None]


def test_no_word_of_it_where_nothing_is_read():
    assert judge_readings(record(model="K4-150"), SHEETS)[2] == ()


@pytest.mark.parametrize("folder", ["tests/cases", "data/demo"])
def test_coherent_records_are_left_alone(folder):
    """The worked cases and the demo scenario, written before these laws: not one of them breaks a law."""
    known = [r for r in read_all([str(ROOT / folder)], passed_over=[]) if isinstance(r, Record)]
    assert len(known) >= 16
    told = {r.claim: [c.why for c in judge_readings(r, SHEETS)[2]] for r in known}
    assert not {claim: why for claim, why in told.items() if why}
