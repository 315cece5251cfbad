"""How numbers are written: expected by hand, from the rule that each docstring states."""

import pytest

from stripdown.numbers import count, decimals, fixed, number, percent, probability, share, share_places


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1267.4, 3, "1 267"),  # no exponent, whatever the digits
        (2202.58, 5, "2 202.6"),
        (8.7e-06, 2, "0.0000087"),
        (1234567.0, 4, "1 234 567"),
        (-0.0456, 2, "−0.046"),
        (0.0, 3, "0"),
        (float("inf"), 3, "inf"),
    ],
)
def test_significant_digits_without_an_exponent(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text.replace(" ", "\u00a0")


def test_groups_of_three_are_kept_apart_by_a_space_that_breaks_no_line() -> None:
    """ISO 80000-1, 7.3.2: groups of three, a small space between them."""
    assert count(6453) == "6\u00a0453"
    assert fixed(2202.584, 1) == "2\u00a0202.6"
    assert fixed(0.5, 2, plus=True) == "+0.50"
    assert count(999.4) == "999"
    assert [fixed(x, 2, plus=True) for x in (-0.004, 0.0, 0.004)] == ["0.00"] * 3


def test_a_number_too_small_for_its_column_is_not_told_as_nothing() -> None:
    told = [decimals(x, 2) for x in (None, 0.0, 0.004, 0.006, 1234.5)]
    assert told == ["–", "0.00", "under 0.01", "0.01", "1\u00a0234.50"]


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (8.7e-06, "under 0.0001"),
        (0.00021349, "0.000213"),
        (0.0123456, "0.0123"),
        (0.5, "0.5"),
        (0.99949, "0.9995"),
        (0.99995, "over 0.9999"),
        (1.0, "1"),
        (0.0, "0"),
    ],
)
def test_probabilities_are_told_to_a_ten_thousandth_of_their_ends(p: float, text: str) -> None:
    assert probability(p) == text


@pytest.mark.parametrize(
    ("p", "places", "text"),
    [
        (0.004, 0, "under 1 %"),
        (0.0004, 1, "under 0.1 %"),
        (0.996, 0, "over 99 %"),
        (0.996, 1, "99.6 %"),
        (0.9996, 1, "over 99.9 %"),
        (0.234, 0, "23 %"),
        (0.0, 0, "0 %"),
        (1.0, 1, "100 %"),
    ],
)
def test_percent_is_never_a_rounded_nothing_or_all(p: float, places: int, text: str) -> None:
    assert percent(p, places) == text


def test_an_interval_never_shows_two_equal_ends_where_they_differ() -> None:
    wide, narrow, none = (
        {"share": 0.2, "low": low, "high": high} for low, high in ((0.15, 0.26), (0.196, 0.204), (0.2, 0.2))
    )
    assert share(wide) == "20\u00a0% (15 to 26)"
    assert share(narrow) == "20.0\u00a0% (19.6 to 20.4)"
    assert share(none) == "20\u00a0% (20 to 20)"
    assert share_places([wide, narrow]) == 1
    assert share(wide, 1) == "20.0\u00a0% (15.0 to 26.0)"
