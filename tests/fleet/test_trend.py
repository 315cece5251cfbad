"""Trends of the mix and of the failures: by hand, and on invented fleets in which what moved is known."""

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from stripdown.fleet import report
from stripdown.fleet.alike import Within, kinds
from stripdown.fleet.columns import table
from stripdown.fleet.rising import rise
from tests.fleet.made import line, population
from tests.fleet.simulate import mix, mix_trends, rate_trends


def test_a_change_within_each_kind_by_hand() -> None:
    """Two kinds of two returns, one step apart, each rising by 0.2: slope 0.2; variance by shuffling each pair is
    2 × 0.1² × 0.5² × 4 = 0.02, covariance 2 × 0.1 = 0.2, z = 0.2 / sqrt(0.02) = 1.41421."""
    found = Within(np.array([0, 0, 1, 1]), np.array([0.0, 1.0, 5.0, 6.0])).drift(np.array([0.1, 0.3, 0.7, 0.9]))
    assert found is not None
    assert (found.slope, found.z) == pytest.approx((0.2, 2**0.5))
    assert (found.returns, found.expected) == (4, pytest.approx(2.0))
    assert found.low is None  # of four returns nothing can be shut out
    assert found.high is None


def test_what_differs_between_kinds_only_is_no_trend() -> None:
    """The later kind has the greater share, and within each nothing moves."""
    within = Within(np.array([0, 0, 0, 1, 1, 1]), np.array([0.0, 1, 2, 5, 6, 7]))
    found = within.drift(np.array([0.1, 0.3, 0.1, 0.7, 0.9, 0.7]))
    assert found is not None
    assert found.z == pytest.approx(0.0, abs=1e-12)
    assert within.drift(np.array([0.1, 0.1, 0.1, 0.9, 0.9, 0.9])) is None


def test_the_interval_is_what_the_test_does_not_reject() -> None:
    """Taken of the share less an end of the interval times time, the score is just 1.96 either way."""
    d = mix(np.random.default_rng(3), 400)
    year = (d["failed"] - d["failed"].min()).dt.days.to_numpy() / 365.25
    within, p = Within(kinds(d), year), d["first.floodback"].to_numpy()
    found = within.drift(p)
    assert found is not None
    assert found.low is not None
    assert found.high is not None
    for end, z in ((found.low, 1.95996), (found.high, -1.95996)):
        again = within.drift(p - end * year)
        assert again is not None
        assert again.z == pytest.approx(z, abs=1e-4)


@pytest.mark.parametrize(
    "other",
    [{"model": "K6-220"}, {"duty": "low"}, {"opened_before": "site"}, {"replaces": "S-0"}, {"knowledge": "sha256:2"}],
)
def test_returns_that_start_from_other_shares_are_of_another_kind(other: dict[str, Any]) -> None:
    kind = kinds(table([line("A"), line("B"), line("C", **other)]))
    assert kind[0] == kind[1] != kind[2]


def test_run_hours_are_of_a_kind_by_the_bands_of_the_knowledge() -> None:
    """Bands end before 500, 5000, 20000 and 40000 h; none stated is a kind of its own."""
    hours = [0, 499, 500, 4999, 5000, 19999, 20000, 39999, 40000, 90000, None, None]
    lines = [line(str(i)) for i in range(len(hours))]
    for one, h in zip(lines, hours, strict=True):
        one["unit"] |= {} if h is None else {"run_hours": h}
    assert kinds(table(lines)).tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5]


def test_too_few_alike_are_counted_and_no_trend_is_told() -> None:
    """30 returns, each of a model of its own but two, a year apart."""
    lines = [line(f"A{i}", model=f"M{max(i, 1)}", age=100 + 365 * (i == 0)) for i in range(30)]
    answer = report(lines).as_json()
    assert answer["alike"] == 2
    assert answer["trend"] == []
    assert report([]).as_json()["alike"] == 0


_ONE_OR_OTHER = (("floodback", "liquid_slug"), ("liquid_slug", "floodback"))


def test_each_trend_has_its_size(tmp_path: Path) -> None:
    """Of 40 returns of one kind all of 2021 are floodback, all of 2022 liquid slug; the later ones fail faster."""
    lines = [
        line(
            f"A{i}", serial=f"S{i}", first={"floodback": 0.99, "liquid_slug": 0.01}, installed=date(2020, 1, i % 9 + 1)
        )
        for i in range(20)
    ] + [
        line(
            f"B{i}", serial=f"T{i}", first={"floodback": 0.01, "liquid_slug": 0.99}, installed=date(2021, 1, i % 9 + 1)
        )
        for i in range(20)
    ]
    rows = [f"U{i},K4-150,,,,2020-01-05," for i in range(80)] + [f"V{i},K4-150,,,,2021-01-05," for i in range(20)]
    rows += [f"{r['unit']['serial']},K4-150,,,,{r['history']['installed']}," for r in lines]
    answer = report(lines, population(tmp_path, rows), until=date(2023, 1, 1)).as_json()
    found = {t["what"].split()[0]: t for t in answer["trend"]}
    assert found["floodback"]["change"] == pytest.approx(-0.98)  # from 0.99 to 0.01 in two half-years
    assert found["floodback"]["high"] < -0.9
    assert found["liquid_slug"]["change"] == pytest.approx(0.98)
    assert found["floodback"]["returns"] == 40
    # 20 of 100 against 20 of 40, all at one age, the risk sets those: 12 months later 2.5 times the hazard
    assert found["failures"]["change"] == pytest.approx(2.5, rel=0.05)
    assert found["failures"]["low"] < 2.5 < found["failures"]["high"]
    assert found["failures"]["unit"] == "times a year"


def test_no_difference_in_start_is_no_look() -> None:
    one = np.array([[5.0, 3.0]])
    assert rise(np.array([0.0]), one, np.array([[1.0, 0.0]])) is None
    apart = np.array([[5.0, 0.0], [0.0, 3.0]])  # never at risk at one age
    assert rise(np.array([0.0, 1.0]), apart, np.array([[1.0, 0.0], [0.0, 1.0]])) is None


def test_all_failures_at_one_end_leave_the_factor_open() -> None:
    found = rise(np.array([0.0, 1.0]), np.array([[50.0], [50.0]]), np.array([[0.0], [9.0]]))
    assert found is not None
    assert found.factor is None
    assert found.high is None
    assert (found.low or 0) > 1


@pytest.mark.slow
def test_a_fleet_that_grows_older_raises_no_trend_and_a_planted_one_is_found() -> None:
    """Shares constant at every age, the start of the reasoning far from them and moving with run hours: of some 1500
    looks one in twenty has p < 0.05 (within three errors of looks that go together), of 80 fleets a few an alarm. The
    same fleets with a share of wear out that grows by 3 points a year: found in most, and rising."""
    quiet = mix_trends(80, 600)
    p = np.array([look["p"] for fleet in quiet for look in fleet.values()])
    assert 0.03 < (p < 0.05).mean() < 0.07
    assert sum(any(look["p_adjusted"] <= 0.05 for look in fleet.values()) for fleet in quiet) <= 10
    loud = [fleet["wear_out"] for fleet in mix_trends(20, 2500, rise=0.03)]
    assert sum(look["p_adjusted"] <= 0.05 and look["change"] > 0 for look in loud) >= 14


@pytest.mark.slow
def test_a_hazard_that_grows_with_the_years_is_measured() -> None:
    """Hazard times 1.2 each year: the interval holds it in 35 of 40 fleets at least (binomial(40, 0.95): fewer in one
    of 70), and where nothing grows it holds 1 as often."""
    for truth in (1.0, 1.2):
        looks = rate_trends(40, truth)
        assert sum(look["low"] <= truth <= look["high"] for look in looks) >= 35
        assert np.mean([look["change"] for look in looks]) == pytest.approx(truth, abs=0.06)


def test_the_table_says_what_the_kinds_hang_on() -> None:
    lines = [line("A"), line("B")]
    lines[0]["unit"] |= {"motor": "star", "cooling": "air", "oil_feed": "pump", "inverter": True}
    lines[1]["unit"] |= {"inverter": False}
    told: pd.DataFrame = table(lines)[["motor", "cooling", "oil_feed", "inverter"]].astype("str")
    assert told.to_numpy().tolist() == [["star", "air", "pump", "yes"], ["", "", "", "no"]]
