"""Numbers as a page shows them; conversions by hand from the definitions of the units."""

from datetime import date

import pytest

from stripdown.pages.units import day, in_words, limits, measured, money, number
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


@pytest.mark.parametrize(
    ("said", "si", "us"),
    [
        ("Instrument accuracy not stated: 5 um assumed.", "", "Instrument accuracy not stated: 0.2 thou assumed."),
        ("below 25 um passes, above 50 um fails", "", "below 0.98 thou passes, above 2 thou fails"),
        ("0.1 to 1 mm is normal, not wear", "", "0.0039 to 0.039 in is normal, not wear"),
        ("62 mm journal in cast iron new", "", "2.4 in journal in cast iron new"),
        ("1 K and 1.5 psi assumed", "1 K and 0.1 bar assumed", "1.8 °F difference and 1.5 psi assumed"),
        ("At or below 7 to 9 psi it trips", "At or below 0.48 to 0.62 bar it trips", ""),
        ("less the band 138 to 172 degC", "less the band 138 to 172 °C", "less the band 280 to 342 °F"),
        ("copper to 25 degC", "copper to 25 °C", "copper to 77 °F"),
        ("Expected 280 to 342 degF", "Expected 138 to 172 °C", "Expected 280 to 342 °F"),
        ("20 to 24 inHg open, 0.5 psi/min", "20 to 24 inHg open, 3.4 kPa/min", ""),
        ("TM 5-4120-285-15, DIN 44081: 230 V, 140 W within 10 %", "", ""),
        ("limit sheet K4-150, issue 3", "", ""),
    ],
)
def test_numbers_in_a_sentence_follow_the_system(said: str, si: str, us: str) -> None:
    """By hand from 1 in = 25.4 mm, 1 psi = 6.894757 kPa, 9 °F = 5 K; '' = as it was."""
    assert (in_words(said, "si"), in_words(said, "us")) == (si or said, us or said)


def test_a_gap_held_against_the_mean_says_so() -> None:
    assert measured(0.62, "1", "us", uncertainty=0.05, quantity="rotor_air_gap") == "0.62 ± 0.05 of the mean gap"
    assert limits(0.8, None, "1", "si", "rotor_air_gap") == "at least 0.8 of the mean gap"


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
