"""An own cost table counts as it is written, or every fault of it is named; no key of the docs is missing here."""

from pathlib import Path

import pytest

from stripdown.reasoning.costs import SHIPPED, Costs, default_costs
from stripdown.record import RecordError

SHIPPED_TABLE = SHIPPED.read_text(encoding="utf-8")


def told(path: Path, text: str) -> list[str]:
    """`entry: what` of every fault of a table."""
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RecordError) as refused:
        Costs.load(path)
    assert all(f.file == str(path) and f.fix for f in refused.value.faults)
    return [": ".join(filter(None, (f.entry, f.what))) for f in refused.value.faults]


def test_an_own_table_counts(tmp_path: Path) -> None:
    own = tmp_path / "costs.toml"
    own.write_text(SHIPPED_TABLE.replace("new_unit = 2000", "new_unit = 1").replace('"EUR"', '"GBP"'), encoding="utf-8")
    costs = Costs.load(own)
    assert (costs.currency, costs.amounts["new_unit"]) == ("GBP", 1.0)
    assert costs.hours == default_costs().hours


@pytest.mark.parametrize(
    ("good", "bad", "says"),
    [
        ("new_unit = 2000", "", "new_unit: is missing"),
        ("new_unit = 2000", "new_unit = -1", "new_unit: is -1"),
        ("new_unit = 2000", "new_unit = nan", "new_unit: is nan"),
        ("new_unit = 2000", "new_unit = inf", "new_unit: is inf"),
        ("new_unit = 2000", 'new_unit = "2000"', 'new_unit: is "2000"'),
        ("new_unit = 2000", "new_unit = true", "new_unit: is true"),
        ("new_unit = 2000", "new_unit = 2000\nnew_unite = 1", "new_unite: is not known here"),
        ("valve_plate = 3", "", "hours.valve_plate: is missing"),
        ("valve_plate = 3", "valve_plate = 3\nvalve_plates = 3", "hours.valve_plates: is not known here"),
        ("[hours]", "[hour]", "hours: is missing"),
        ("sound_unit_scrapped = 2000", "", "error.sound_unit_scrapped: is missing"),
        ('currency = "EUR"', "currency = 5", "currency: is 5"),
        ('currency = "EUR"', 'currency = " "', 'currency: is " "'),
    ],
)
def test_every_fault_of_an_own_table_is_named(tmp_path: Path, good: str, bad: str, says: str) -> None:
    assert good in SHIPPED_TABLE
    text = SHIPPED_TABLE.replace(good, bad, 1).replace("bench_hour = 30", "bench_hour = -4")
    faults = told(tmp_path / "costs.toml", text)
    assert says in faults
    assert "bench_hour: is -4" in faults


@pytest.mark.parametrize("text", ["", "a = 1", 'format = 1\nclaim = "A"'])
def test_another_kind_of_table_is_told_in_one_line(tmp_path: Path, text: str) -> None:
    assert told(tmp_path / "costs.toml", text) == ["is no cost table: it has none of the amounts"]


def test_what_is_no_table_at_all_is_told(tmp_path: Path) -> None:
    assert told(tmp_path / "costs.toml", "= 1")[0].startswith("is not TOML")
    with pytest.raises(RecordError, match="cannot be read"):
        Costs.load(tmp_path / "nowhere.toml")
