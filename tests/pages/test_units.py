"""Numbers as a page shows them; conversions by hand from the definitions of the units."""

from datetime import date

import pytest

from stripdown.pages.units import day, limits, measured, money, number
from stripdown.record.groups import groups, looked_at
from stripdown.record.model import Observation, Record, Unit
from stripdown.vocabulary import parts


@pytest.mark.parametrize(
    ("value", "unit", "u", "system", "text"),
    [
        (206.8427, "kPa", 7.0, "us", "30.0 ± 1.0 psi"),
        (206.8427, "kPa", 7.0, "si", "2.07 ± 0.07 bar"),
        (107.0, "degC", 2.4, "si", "107.0 ± 2.4 °C"),
        (100.0, "degC", 5.0, "us", "212 ± 9 °F"),
        (11.0, "K", 1.5, "us", "19.8 ± 2.7 °F difference"),
        (0.0254, "mm", 0.00254, "us", "1.00 ± 0.10 thou"),
        (13.558179, "N·m", 1.3558179, "us", "10.0 ± 1.0 lbf·ft"),
        (-1.2, "%", 0.9, "si", "−1.2 ± 0.9 %"),
        (620.0, "Mohm", 62.0, "si", "620 ± 62 Mohm"),
    ],
)
def test_value_uncertainty_unit(value: float, unit: str, u: float, system: str, text: str) -> None:
    assert measured(value, unit, system, uncertainty=u) == text  # type: ignore[arg-type]


def test_insulation_and_vacuum_have_units_of_their_own() -> None:
    assert measured(620e6, "ohm", "si", quantity="insulation_resistance") == "620 Mohm"
    assert measured(0.0666612, "kPa", "us", quantity="evacuation_vacuum") == "500 micron"  # 500 micron = 66.66 Pa


def test_inches_of_mercury_count_down_from_the_atmosphere() -> None:
    """24 inHg by hand: 101.325 - 24 * 3.386389 = 20.052 kPa; half an inch is 1.693 kPa (NIST SP 811)."""
    assert measured(20.0517, "kPa", "us", uncertainty=1.6932, quantity="vacuum_pull_down") == "24.0 ± 0.5 inHg"
    assert limits(None, 20.0517, "kPa", "us", "vacuum_pull_down") == "at least 24 inHg"
    assert limits(None, 20.0517, "kPa", "si", "vacuum_pull_down") == "at most 0.201 bar absolute"


def test_numbers() -> None:
    assert number(21400, 6) == "21\u00a0400"
    assert number(0.86000001) == "0.86"
    assert number(0) == "0"
    assert money(2140.4, "EUR") == "EUR 2\u00a0140"
    assert limits(None, 107.0, "degC", "us") == "at most 225 °F"
    assert limits(5e6, None, "ohm", "si", "insulation_resistance") == "at least 5 Mohm"
    assert limits(-2.0, 2.0, "%", "si") == "−2 to 2 %"


def test_a_date_cannot_be_misread() -> None:
    assert day(date(2026, 2, 3)) == "3 Feb 2026"
    assert day(None) is None


def test_every_part_belongs_to_one_main_group() -> None:
    listed = [p for g in groups() for p in g.parts]
    assert sorted(listed) == sorted(parts())


def test_unreadable_is_as_good_as_not_looked_at() -> None:
    seen = Observation(entry="observations[1]", part="piston", condition="worn", extent="unreadable")
    record = Record(claim="A", file="a.toml", folder=".", unit=Unit(serial="1", model="M"), observations=(seen,))
    assert not any(looked_at(record).values())
